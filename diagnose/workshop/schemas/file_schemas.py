"""JSON Schemas of rule files and case files, made from the tables of keys and the names of a rule base.

An editor that reads them completes keys and names, shows what they mean, and marks most mistakes while one types.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.keys import assemblies, kinds, parts, settings
from diagnose.knowledge.keys.kinds import Key, Section
from diagnose.knowledge.laying import CHANGED
from diagnose.knowledge.shipped import CASES_ENDING, OVERLAY_FILE, VERSION_FILE
from diagnose.model.assembly import Assembly
from diagnose.workshop.schemas.case_schemas import case_schema, cases_schema
from diagnose.workshop.schemas.drafter import Drafter, Schema
from diagnose.workshop.schemas.offered import Offered, offered

DRAFT = "http://json-schema.org/draft-07/schema#"
NOT_CHANGED = "limits"  # what an authority asks is not an overlay's to change


class FileKind(NamedTuple):
    """Files of a rule base that have the same keys: which they are, below its folder, and whose names they use.

    A pattern that starts with "!" takes files out.
    """

    name: str
    section: Section
    files: tuple[str, ...]
    place: str = ""


NO_CASES = f"!*{CASES_ENDING}"
RULE_FILES = (
    FileKind("assembly", assemblies.ASSEMBLY, ("assemblies/*.yaml", NO_CASES), "assemblies"),
    FileKind("part", parts.PART, ("parts/*.yaml", NO_CASES), "parts"),
    FileKind("site", parts.SITE, ("site/*.yaml", NO_CASES), "site"),
    FileKind("limits", settings.PROFILE, ("limits/*.yaml", "!limits/gauge.yaml")),
    FileKind("gauge", settings.GAUGE, ("limits/gauge.yaml",)),
    FileKind("scales", settings.SCALES, ("scales.yaml",)),
    FileKind("states", settings.STATES, ("states.yaml",)),
    FileKind("cautions", settings.CAUTIONS, ("cautions.yaml",)),
    FileKind("sources", settings.SOURCES, ("sources.yaml",)),
    FileKind("retired", settings.RETIRED, ("retired.yaml",)),
    FileKind("version", settings.EDITION, (VERSION_FILE,)),
)
# What an overlay may have too; a version is the rule base's own.
OWN_FILES = tuple(kind for kind in RULE_FILES if kind.name != "version")
OVERLAY = FileKind("overlay", settings.OVERLAY, (OVERLAY_FILE,))
CASES, CASE = "cases", "case"
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
    made = {kind.name: _file(kind, names[kind.place]) for kind in RULE_FILES}
    made |= {CASES: cases_schema(types, names[""]), CASE: case_schema(types, names[""])}
    if folders[1:]:
        made |= {OWN + kind.name: _own_file(kind, names[kind.place]) for kind in OWN_FILES}
        made[OVERLAY.name] = _file(OVERLAY, names[""])
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


def _file(kind: FileKind, names: Offered) -> Schema:
    drafter = Drafter(names)
    return {**drafter.mapping_of(kind.section), "definitions": drafter.definitions}


def _own_file(kind: FileKind, names: Offered) -> Schema:
    drafter = Drafter(names)
    schema = drafter.mapping_of(kind.section._replace(keys=tuple(_addable(kind.section))))
    schema["properties"][CHANGED] = {
        "description": "What the shipped rule base has and this overlay gives another value: only what differs.",
        "type": "object",
        "additionalProperties": False,
        "properties": {key.name: _changed(key, drafter) for key in kind.section.keys if key.name != NOT_CHANGED},
    }
    return {**schema, "definitions": drafter.definitions}


def _addable(section: Section) -> Iterator[Key]:
    """The keys of a file that only adds to a shipped one: none has to be there, and a section may hold nothing yet."""
    for key in section.keys:
        kind = key.kind
        if isinstance(kind, kinds.Table | kinds.Things):
            kind = kind._replace(least=0)
        yield key._replace(kind=kind, needed="never")


def _changed(key: Key, drafter: Drafter) -> Schema:
    kind = key.kind
    if isinstance(kind, kinds.Things):
        return {"description": key.about, **drafter.things(kind, drafter.changed(kind.section), 0)}
    if isinstance(kind, kinds.Thing):
        return {"description": key.about, "allOf": [drafter.changed(kind.section)]}
    return drafter.key(key)
