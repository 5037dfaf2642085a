"""The names that an editor can offer in a rule base: those of lists, and those that each kind of file uses."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.cases.names import NOT_DETERMINED, NOTHING_WRONG, UNLISTED
from diagnose.knowledge.fields import MARKS
from diagnose.knowledge.piece import own_name
from diagnose.knowledge.rulebase import read_nodes
from diagnose.knowledge.shipped import overlay_files
from diagnose.knowledge.yamltext import Node, entries_of, flat, read_rules_file, value_of
from diagnose.model.assembly import Assembly
from diagnose.model.causes import PLAIN_GRADES, Finding
from diagnose.model.places import Place

Texts = Mapping[str, str]
Lists = Mapping[str, Texts]
PLACES = ("assemblies", "parts", "site")  # folders whose files use names of their own
_MARKS_MEAN = (
    "Known to the trade, without a publication.",
    "It follows from other statements.",
    "Nobody has looked it up.",
    "A number of one's own.",
)


class Offered(NamedTuple):
    """What one kind of file may name: each list with its names and what they mean.

    `values` has the answers or grades of each observation and finding, none for a reading; `about` what each is.
    """

    lists: Lists
    values: Mapping[str, Texts]
    about: Texts


def offered(folders: Sequence[Path], assemblies: Mapping[str, Assembly]) -> dict[str, Offered]:
    """What the files below each of PLACES may name, and ("") all other rule files.

    `folders` are the rule base and its overlays, from which `assemblies` were read.

    Raises:
        ProblemsFoundError: a file of theirs is not YAML.
    """
    rows = tuple(assemblies.values())
    lists = {**_settled(folders), "type": {row.type: row.title for row in rows}, "limit": _limits(rows)}
    return {"": Offered(lists, {}, {})} | {place: _named(rows, place, lists) for place in PLACES}


def of_type(assembly: Assembly) -> Lists:
    """What a case of this type may name."""
    standing = {row.name: row.text for row in assembly.causes} | {row.name: row.title for row in assembly.components}
    repairs = {row.name: row.title for row in assembly.repairs}
    return {
        "finding": {row.name: row.title for row in assembly.findings},
        "rule": {row.name: row.reason for row in assembly.rules},
        "observation": {row.name: row.title for row in assembly.observations},
        "state": {row.name: row.text for row in assembly.states},
        "repair": repairs,
        "repair or nothing": repairs | {"nothing": "No repair is named."},
        "check or nothing": {row.name: row.title for row in assembly.observations} | {"nothing": "No check pays."},
        "found": standing | {NOT_DETERMINED: "Nobody found out.", NOTHING_WRONG: "Nothing was wrong."},
        "standing": standing | {NOTHING_WRONG: "No cause is likelier.", UNLISTED: assembly.unlisted.text},
    }


def grades_of(finding: Finding) -> dict[str, str]:
    """Each grade with what it says."""
    return dict(zip(finding.grades, finding.says, strict=True))


def _settled(folders: Sequence[Path]) -> dict[str, Texts]:
    """The lists that stand in files of the whole rule base."""
    files = [read_nodes(folders[0])]
    for own in folders[1:]:
        files.append({path.relative_to(own).as_posix(): read_rules_file(path) for path in overlay_files(own)})
    titles = [
        (flat(value_of(node, "part")), flat(value_of(node, "title"))) for nodes in files for node in nodes.values()
    ]
    marks = dict(zip(MARKS, _MARKS_MEAN, strict=True))
    return {
        "probability word": dict(_entries(files, "scales.yaml", "words")),
        "kind of cause": dict(_entries(files, "scales.yaml", "cause kinds")),
        "state": dict(_entries(files, "states.yaml", "states", "text")),
        "caution": dict(_entries(files, "cautions.yaml", "cautions", "text")),
        "source": dict(_entries(files, "sources.yaml", "sources", "title")) | marks,
        "part": {name: title for name, title in titles if name},
    }


def _entries(files: Iterable[Mapping[str, Node]], file: str, section: str, key: str = "") -> Iterator[tuple[str, str]]:
    for nodes in files:
        for name, value in entries_of(nodes.get(file), section):
            yield name.text, flat(value_of(value, key) if key else value)


def _limits(rows: Iterable[Assembly]) -> dict[str, str]:
    found: dict[str, dict[str, str]] = {}
    for row in rows:
        for profile in row.profiles:
            for limit in profile.limits:
                found.setdefault(limit.name, {})[profile.name] = f"{limit.relation} {limit.written}"
    return {name: "; ".join(f"{profile}: {text}" for profile, text in sorted(by.items())) for name, by in found.items()}


def _named(rows: Sequence[Assembly], place: str, lists: Lists) -> Offered:
    """What the files of one folder name, as it is called there; the first type to have a name describes it."""

    def here(written: Place) -> bool:
        return place == "assemblies" or Path(written.file).parent.name == place

    def called(name: str) -> str:
        return own_name(name) if place == "parts" else name

    backward = rows[::-1]
    observations = {called(o.name): o for row in backward for o in row.observations[::-1] if here(o.place)}
    findings = {called(f.name): f for row in backward for f in row.findings[::-1] if here(f.place)}
    modes = {called(m.name): m.text for row in backward for m in row.modes[::-1] if here(m.place)}
    causes = {called(c.name): c.text for row in backward for c in row.causes[::-1] if here(c.place)}
    components = {c.name: c.title for row in rows for c in row.components}
    return Offered(
        {
            **lists,
            "component": components,
            "reading": {name: row.title for name, row in observations.items() if not row.answers},
            "conclusion": dict(_conclusions(findings)),
            "failure mode": modes,
            "cause": {own_name(name): text for name, text in causes.items()},
            "reason": modes | causes,
            "reason or pair": modes | causes,
        },
        {name: dict(row.answers) for name, row in observations.items()}
        | {name: grades_of(row) for name, row in findings.items()},
        {name: row.question or row.title for name, row in observations.items()}
        | {n: row.title for n, row in findings.items()},
    )


def _conclusions(findings: Mapping[str, Finding]) -> Iterator[tuple[str, str]]:
    for name, row in findings.items():
        if row.grades == PLAIN_GRADES:
            yield name, row.says[-1]
        else:
            yield from ((f"{name} is {grade}", says) for grade, says in list(grades_of(row).items())[1:])
