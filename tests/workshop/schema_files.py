"""Checking files against the schemas of a rule base, as an editor does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path, PurePosixPath

from jsonschema import Draft7Validator

from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import CASES_ENDING, OVERLAY_FILE
from diagnose.knowledge.yamltext import Node, read_file
from diagnose.model.assembly import Assembly
from diagnose.workshop.schemas import CASE, CASES, ENDING, OVERLAY, OWN, patterns, rule_files, schemas
from tests.workshop.schema_values import value_of

Validators = Mapping[str, Draft7Validator]


@cache
def assemblies_of(folder: Path, overlays: tuple[Path, ...] = ()) -> dict[str, Assembly]:
    return read_rule_base(folder, overlays).assemblies


@cache
def validators(folder: Path, *overlays: Path) -> Validators:
    """Kind of file -> what checks it."""
    made = schemas([folder, *overlays], assemblies_of(folder, overlays))
    return {name.removesuffix(ENDING): Draft7Validator(schema) for name, schema in made.items()}


def kinds_of(name: str, *, own: bool = False) -> list[str]:
    """The schemas that a file of a rule base or, with `own`, of an overlay has, by its name below the folder."""
    if name.endswith(CASES_ENDING):
        return [CASES]
    if own and name == OVERLAY_FILE:
        return [OVERLAY]
    return [(OWN if own else "") + kind.name for kind in rule_files(own=own) if _fits(patterns(kind), name)]


def _fits(wanted: list[str], name: str) -> bool:
    path = PurePosixPath(name)
    fits = any(path.match(pattern) for pattern in wanted if not pattern.startswith("!"))
    return fits and not any(path.match(pattern[1:]) for pattern in wanted if pattern.startswith("!"))


def marked(validator: Draft7Validator, node: Node) -> list[str]:
    """What an editor would mark: the way down to each place, and what is wrong there."""
    errors = validator.iter_errors(value_of(node))
    return [f"{', '.join(map(str, error.absolute_path))}: {error.message[:160]}" for error in errors]


def marked_in(folder: Path, known: Validators, *, own: bool = False) -> list[str]:
    """What an editor would mark in any file of a rule base or overlay."""
    found = []
    for path in sorted(folder.rglob("*.yaml")):
        name = path.relative_to(folder).as_posix()
        (kind,) = kinds_of(name, own=own)
        found += [f"{name}: {line}" for line in marked(known[kind], read_file(path))]
    return found


def marked_cases(files: Sequence[Path], known: Validators) -> list[str]:
    """What an editor would mark in case files."""
    return [f"{path.name}: {line}" for path in files for line in marked(known[CASE], read_file(path))]
