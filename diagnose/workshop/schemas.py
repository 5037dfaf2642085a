"""JSON Schemas of rule files and case files, made from the tables of keys and the names of a rule base.

An editor that reads them completes keys and names, shows what they mean, and marks most mistakes while one types. In
case files, which observations, answers and findings there are depends on the type that a case names.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from os.path import relpath
from pathlib import Path, PurePosixPath
from typing import Any

from diagnose.cases.reading import case_format
from diagnose.knowledge.files import content_of, write_output
from diagnose.knowledge.format import CHANGED, FileKind, Key, rule_format
from diagnose.knowledge.quantities import show_pressure
from diagnose.knowledge.shipped import CASES_ENDING, OVERLAY_FILE
from diagnose.model.assembly import Assembly
from diagnose.model.places import if_allowed, refused
from diagnose.model.work import Observation
from diagnose.workshop.schema_drafter import (
    LISTED_HERE,
    TEXT,
    Drafter,
    Schema,
    choice,
    either,
    mapping,
    several,
    shaped,
)
from diagnose.workshop.schema_names import PLACES, Lists, Offered, Texts, grades_of, of_type, offered

PRESSURE = shaped("pressure")


def case_schema(types: Mapping[str, Assembly], offered: Offered) -> Schema:
    """A case file. Any observation or answer that its type does not have is a mistake."""
    drafter = _drafter(types, offered)
    case = drafter.mapping_of(drafter.family["case"])
    case["allOf"] = [_if_type(name, _observed(drafter, row)) for name, row in types.items()]
    return {**case, "definitions": drafter.definitions}


def cases_schema(types: Mapping[str, Assembly], offered: Offered) -> Schema:
    """The cases beside the rules. Names are offered, not judged: rules and cases are written together."""
    drafter = _drafter(types, offered)
    cases = drafter.mapping_of(drafter.family["cases"])
    inner = drafter.definitions["case-beside-the-rules"]
    all_empty: Schema = {"minProperties": 1, "additionalProperties": {"enum": [[], {}]}}
    drafter.definitions["expect"] |= {"minProperties": 1, "not": all_empty}
    inner["allOf"] = [_if_type(name, _expecting(drafter, row)) for name, row in types.items()]
    return {**cases, "definitions": drafter.definitions}


def _drafter(types: Mapping[str, Assembly], offered: Offered) -> Drafter:
    profiles: Texts = {profile.name: profile.title for row in types.values() for profile in row.profiles}
    lists: Mapping[str, Texts] = {**offered.lists, "profile": profiles}
    return Drafter(Offered(lists, {}, {}), case_format().sections)


def _if_type(name: str, then: Schema) -> Schema:
    return {"if": {"required": ["assembly"], "properties": {"assembly": {"const": name}}}, "then": {"properties": then}}


def _observed(drafter: Drafter, assembly: Assembly) -> Schema:
    answers = drafter.defined(f"observations of {assembly.type}", lambda: _answers(drafter, assembly, closed=True))
    lists = of_type(assembly)

    def one(of: str) -> Schema:
        return drafter.defined(f"{of} of {assembly.type}", lambda: either(choice(lists[of]), TEXT))

    told = {"found": several(one("found")), "done": several(one("repair")), "final_test": answers}
    return {"observations": answers, "record": {"properties": told, "doNotSuggest": True}}


def _expecting(drafter: Drafter, assembly: Assembly) -> Schema:
    lists = of_type(assembly)
    answers = drafter.defined(f"observations of {assembly.type}", lambda: _answers(drafter, assembly, closed=False))
    return {
        "observations": answers,
        "expect": drafter.defined(f"expectations of {assembly.type}", lambda: _expectations(drafter, lists, assembly)),
    }


def _answers(drafter: Drafter, assembly: Assembly, *, closed: bool) -> Schema:
    rows = {
        row.name: _shared(drafter, f"answer to {row.name}", assembly, _answer(row, closed))
        for row in assembly.observations
    }
    schema: Schema = {"type": ["object", "null"], "properties": rows, "additionalProperties": not closed and TEXT}
    if closed:
        schema["errorMessage"] = f"{assembly.type} has no such observation.{LISTED_HERE}"
    return schema


def _answer(row: Observation, closed: bool) -> Schema:
    about = f"{row.question or row.title} {row.how}".strip()
    if row.answers:
        words = choice(dict(row.answers))
        return {"description": about, **(words if closed else either(words, TEXT))}
    low, high = (show_pressure(bound, row.unit) for bound in (row.low, row.high))
    schema = {"description": f"{about} A pressure with its unit, {low} to {high}.", **PRESSURE}
    return schema | ({"doNotSuggest": True} if row.computed else {})


def _shared(drafter: Drafter, name: str, assembly: Assembly, schema: Schema) -> Schema:
    """A reference to the schema: one definition for all types that have it alike."""
    first = drafter.defined(name, lambda: schema)
    alike = drafter.resolved(first) == schema
    return first if alike else drafter.defined(f"{name} of {assembly.type}", lambda: schema)


def _expectations(drafter: Drafter, lists: Lists, assembly: Assembly) -> Schema:
    grades = {
        row.name: _shared(
            drafter,
            f"grade of {row.name}",
            assembly,
            {"description": row.title, **either(choice(grades_of(row)), TEXT)},
        )
        for row in assembly.findings
    }
    results = drafter.defined(f"results of {assembly.type}", lambda: mapping(TEXT, properties=grades))

    def one(of: str) -> Schema:
        return drafter.defined(f"{of} of {assembly.type}", lambda: either({"enum": list(lists[of])}, TEXT))

    made: dict[str, Callable[[str], Schema]] = {
        "results": lambda _: results,
        "name": one,
        "names": lambda of: several(one(of)),
    }
    kinds = {name: key.kind for name, key in drafter.family["expect"].keys.items() if key.kind.word in made}
    return {"properties": {name: made[kind.word](kind.of) for name, kind in kinds.items()}}


DRAFT = "http://json-schema.org/draft-07/schema#"
NOT_CHANGED = "limits"  # what an authority asks is not an overlay's to change


NO_CASES = f"!*{CASES_ENDING}"
CASES, CASE, OVERLAY, VERSION = "cases", "case", "overlay", "version"
OWN = "own-"
ENDING = ".schema.json"


def schemas(folders: Sequence[Path], types: Mapping[str, Assembly]) -> dict[str, Schema]:
    """File name -> schema, for a rule base and its overlays (`folders`) from which `types` were read.

    Where there are overlays, there are schemas for their files too, whose names start with OWN: in those files no key
    must be there, and there may be `changed`.

    Raises:
        ProblemsFoundError: a file of the folders is not YAML.
    """
    types = dict(sorted(types.items()))
    names = offered(folders, types)
    made = {row.name: _file(row, names[_place(row)]) for row in rule_files()}
    made |= {CASES: cases_schema(types, names[""]), CASE: case_schema(types, names[""])}
    if folders[1:]:
        made |= {OWN + row.name: _own_file(row, names[_place(row)]) for row in rule_files(own=True)}
        made[OVERLAY] = _file(rule_format().files[OVERLAY], names[""])
    return {file_name(name): {"$schema": DRAFT, **schema} for name, schema in sorted(made.items())}


def file_name(kind: str) -> str:
    """The name of a schema file."""
    return f"{kind}{ENDING}"


def as_text(schema: Schema) -> str:
    """A schema as it stands in its file: a line for each key of the file and for each definition."""
    lines = [f"{json.dumps(key)}: {_in_lines(key, value)}" for key, value in schema.items()]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _in_lines(key: str, value: object) -> str:
    if key in {"properties", "definitions"} and isinstance(value, dict) and value:
        lines = [f" {json.dumps(name)}: {json.dumps(row, ensure_ascii=False)}" for name, row in value.items()]
        return "{\n" + ",\n".join(lines) + "\n}"
    return json.dumps(value, ensure_ascii=False)


def rule_files(*, own: bool = False) -> list[FileKind]:
    """The kinds of files that a rule base has; those of an overlay with `own`, which has no version."""
    without = {OVERLAY, VERSION} if own else {OVERLAY}
    return [row for row in rule_format().files.values() if row.name not in without]


def patterns(kind: FileKind) -> list[str]:
    """Which files of a rule base these are. A pattern that starts with "!" takes files out."""
    others = (row.at for row in rule_files() if row.at != kind.at and PurePosixPath(row.at).match(kind.at))
    return [kind.at, *([NO_CASES] if _place(kind) else []), *(f"!{other}" for other in others)]


def _place(kind: FileKind) -> str:
    folder = kind.at.rpartition("/")[0]
    return folder if folder in PLACES else ""


def _file(kind: FileKind, names: Offered) -> Schema:
    sections = rule_format().sections
    drafter = Drafter(names, sections)
    return {**drafter.mapping_of(sections[kind.holds]), "definitions": drafter.definitions}


def _own_file(kind: FileKind, names: Offered) -> Schema:
    sections = rule_format().sections
    drafter, section = Drafter(names, sections), sections[kind.holds]
    # A file that only adds to a shipped one: no key has to be there, and a section may hold nothing yet.
    keys = section.keys.items()
    added = {name: key._replace(kind=key.kind._replace(least=0), optional=True) for name, key in keys}
    schema = drafter.mapping_of(section._replace(keys=added))
    schema["properties"][CHANGED] = {
        "description": "What the shipped rule base has and this overlay gives another value: only what differs.",
        "type": "object",
        "additionalProperties": False,
        "properties": {name: _changed(key, drafter) for name, key in section.keys.items() if name != NOT_CHANGED},
    }
    return {**schema, "definitions": drafter.definitions}


def _changed(key: Key, drafter: Drafter) -> Schema:
    kind = key.kind
    if kind.word == "things":
        return {"description": key.about, **drafter.things(kind, drafter.changed(drafter.family[kind.section]), 0)}
    if kind.word == "thing":
        return {"description": key.about, "allOf": [drafter.changed(drafter.family[kind.section])]}
    return drafter.key(key)


# Where case files are looked for; one that lies elsewhere has its schema named in its first line.
CASE_FILES = ("cases/*.yaml", "examples/*.yaml", "case.yaml", "*.case.yaml")


def first_line(schema: Path) -> str:
    """The comment that names the schema of a file, as the first line of that file, to editors that read it."""
    return f"# yaml-language-server: $schema={schema.resolve().as_posix()}"


def write_schemas(folder: Path, made: Mapping[str, dict[str, Any]], settings: tuple[Path, str] | None = None) -> None:
    """Writes the schemas into a folder, and `settings`, a file and its text, if it is not there.

    Raises:
        ProblemsFoundError: the settings exist and say something else, or something cannot be written.
    """
    texts = {folder / name: as_text(schema) for name, schema in made.items()}
    if settings is not None:
        path, text = settings
        if path.exists() and content_of(path).decode("utf-8", errors="replace") != text:
            message = "holds other settings; nothing was written. Name a new file, and take over its lines"
            raise refused(path, message)
        texts[path] = text
    for path, text in texts.items():
        with if_allowed(path, "written"):
            path.parent.mkdir(parents=True, exist_ok=True)
        write_output(path, text.encode())


def settings_text(settings: Path, schemas: Path, folders: Sequence[Path]) -> str:
    """The settings that map files to schemas, for a settings file in a folder of the workspace's root.

    `folders` are the rule base and its overlays; files of those that lie outside the workspace are not mapped.
    """
    root = settings.resolve().parent.parent
    mapped = {
        relpath((schemas / file_name(name)).resolve(), root).replace("\\", "/"): files
        for name, files in _files(root, [folder.resolve() for folder in folders])
        if files
    }
    return json.dumps({"yaml.schemas": mapped, "yaml.yamlVersion": "1.2"}, indent=2, ensure_ascii=False) + "\n"


def _files(root: Path, folders: Sequence[Path]) -> Iterator[tuple[str, list[str]]]:
    """Each schema with the patterns of its files."""
    inside = [folder.is_relative_to(root) for folder in folders]
    for kind in rule_files():
        yield kind.name, _below(root, folders[0], patterns(kind)) if inside[0] else []
    for own in folders[1:]:
        if own.is_relative_to(root):
            yield from ((OWN + kind.name, _below(root, own, patterns(kind))) for kind in rule_files(own=True))
            yield OVERLAY, _below(root, own, [OVERLAY_FILE])
    yield CASES, [f"*{CASES_ENDING}"] if any(inside) else []
    yield CASE, list(CASE_FILES)


def _below(root: Path, folder: Path, patterns: Sequence[str]) -> list[str]:
    start = folder.relative_to(root).as_posix()
    return [_joined(start, pattern) for pattern in patterns]


def _joined(start: str, pattern: str) -> str:
    if pattern.startswith("!*") or start == ".":
        return pattern
    return f"!{start}/{pattern[1:]}" if pattern.startswith("!") else f"{start}/{pattern}"
