"""What the columns of a file of test reports hold: by a mapping file, or by our own names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.fields import Fields, NoNames, Problems, as_entries, as_text, complain, unknown
from diagnose.knowledge.format import Format, read_format
from diagnose.knowledge.words import VERY_LIKE, expected, nearest, one_of
from diagnose.knowledge.yamltext import Node, Scalar, kind_of, read_file
from diagnose.model.assembly import Assembly
from diagnose.model.foreign import cut
from diagnose.model.places import Place, ProblemsFoundError

# What a column may hold besides an observation.
FIELDS = ("tag", "tested_on", "location", "type", "size", "profile", "unit", "result", "hazard", "void", "text")
WORDS = {"result": ("passed", "failed"), "hazard": ("no", "yes"), "void": ("no", "yes")}
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}

# Observation -> type -> its answers, none for a reading.
Known = Mapping[str, Mapping[str, tuple[str, ...]]]
# A code -> what it stands for: pairs of what a column may hold ("" for the column's own) and a word.
Codes = Mapping[str, tuple[tuple[str, str], ...]]


class ReportColumns(NamedTuple):
    """What a mapping file says; without one `holds` is empty, and columns go by our own names."""

    holds: tuple[tuple[str, tuple[str, ...]], ...] = ()
    codes: tuple[tuple[str, Codes], ...] = ()
    unit: str = ""
    size_unit: str = "in"
    day_first: bool | None = None
    profile: str = ""
    separator: str = ""
    encoding: str = ""
    file: str = ""


class HeldColumn(NamedTuple):
    """A column of the file: its place from 0, its name, what it holds (the first that a type has counts), its codes."""

    at: int
    name: str
    holds: tuple[str, ...]
    codes: Codes


@cache
def mapping_format() -> Format:
    """The format of mapping files."""
    return read_format(Path(__file__).with_name("triage_format.yaml"))


def plain_name(text: str) -> str:
    """A name of ours however it is written, in capitals or with blanks between its words."""
    return "_".join(text.strip().casefold().replace("_", " ").split())


def observations_of(types: Iterable[Assembly]) -> dict[str, dict[str, tuple[str, ...]]]:
    """Observation -> type -> its answers, none for a reading; without what is computed."""
    found: dict[str, dict[str, tuple[str, ...]]] = {}
    for assembly in types:
        for row in assembly.observations:
            if not row.computed:
                found.setdefault(row.name, {})[assembly.type] = tuple(name for name, _ in row.answers)
    return found


def read_columns(file: Path, types: Sequence[Assembly]) -> ReportColumns:
    """A mapping file.

    Raises:
        ProblemsFoundError: with every problem of the file.
    """
    problems: Problems = []
    fields = Fields(read_file(file), "mapping", mapping_format().sections["mapping"], NoNames(problems))
    known = observations_of(types)
    holds = tuple((key.text, names) for key, names in fields["columns"])
    targets = {target for _, names in holds for target in names}
    for key, names in fields["columns"]:
        for name in names:
            if name not in FIELDS and name not in known:
                near = nearest(name, [*FIELDS, *known], VERY_LIKE)
                advice = f"did you mean '{near}'?" if near else f"expected an observation, {one_of(FIELDS)}"
                complain(problems, key.place, f"columns, {cut(key.text)}: nothing is called '{cut(name)}'; {advice}")
    _held_twice(holds, fields.at("columns"), problems)
    if "type" not in targets and fields.has("columns") and not problems:
        complain(problems, fields.at("columns"), "columns: no column holds the type")
    codes = tuple((key.text, _codes(key, node, dict(holds), known, problems)) for key, node in fields["codes"])
    profiles = {row.name for assembly in types for row in assembly.profiles}
    if fields["profile"] and fields["profile"] not in profiles:
        unknown(problems, fields.at("profile"), "there is no profile", fields["profile"], sorted(profiles))
    if problems:
        raise ProblemsFoundError(problems)
    return ReportColumns(
        holds=holds,
        codes=codes,
        unit=fields["unit"],
        size_unit=fields["size unit"] or "in",
        day_first={"day first": True, "month first": False}.get(fields["dates"]),
        profile=fields["profile"],
        separator=SEPARATORS.get(fields["separator"], ""),
        encoding=fields["encoding"],
        file=str(file),
    )


def _held_twice(holds: Iterable[tuple[str, tuple[str, ...]]], place: Place, problems: Problems) -> None:
    homes: dict[str, str] = {}
    for column, names in holds:
        for name in names:
            if name in homes and name != "text":
                complain(problems, place, f"columns: '{cut(homes[name])}' and '{cut(column)}' both hold {name}")
            homes.setdefault(name, column)


def _codes(column: Scalar, node: Node, holds: Mapping[str, tuple[str, ...]], known: Known, problems: Problems) -> Codes:
    own = holds.get(column.text)
    if own is None:
        unknown(problems, column.place, "codes: no column is read that is called", column.text, holds)
        return {}
    found: dict[str, tuple[tuple[str, str], ...]] = {}
    for code, meaning in as_entries(node, f"codes, {cut(column.text)}", problems):
        what = f"codes, {cut(column.text)}, {cut(code.text)}"
        if kind_of(meaning) == "nothing":
            pairs: list[tuple[str, Node]] = []
        elif isinstance(meaning, Scalar):
            pairs = [("", meaning)]
        else:
            pairs = [(name.text, value) for name, value in as_entries(meaning, what, problems)]
        found[plain_name(code.text)] = tuple((name, as_text(value, what, problems)) for name, value in pairs)
        for (name, word), (_, value) in zip(found[plain_name(code.text)], pairs, strict=True):
            wrong = _wrong(name, word, own, known) if word else ""
            if wrong:
                complain(problems, value.place, f"{what}: {wrong}")
    return found


def _wrong(name: str, word: str, own: Sequence[str], known: Known) -> str:
    """What is wrong with a code's meaning: a word for the column's own, or for what has this name; "" for nothing."""
    if name and name not in known and name not in WORDS:
        return f"there is no observation '{cut(name)}'; {expected(name, [*WORDS, *known])}"
    targets = [name] if name else own
    words = {word for target in targets for some in known.get(target, {}).values() for word in some}
    words |= {word for target in targets for word in WORDS.get(target, ())}
    return f"not an answer: '{cut(word)}'; {expected(word, words)}" if words and word not in words else ""


def columns_in(
    header: Sequence[str], columns: ReportColumns, known: Iterable[str], file: str
) -> tuple[HeldColumn, ...]:
    """The columns of a file that are read, by its first row.

    Raises:
        ProblemsFoundError: a column that the mapping names is not there, or stands there twice; none holds the type.
    """
    problems: Problems = []
    names = [" ".join(cell.split()) for cell in header]
    if not columns.holds:
        ours = {*FIELDS, *known}
        meant = [name if name in ours else plain_name(name) for name in names]
        found = [HeldColumn(at, names[at], (name,), {}) for at, name in enumerate(meant) if name in ours]
    else:
        codes, found = dict(columns.codes), []
        for name, holds in columns.holds:
            places = [at for at, one in enumerate(names) if one.casefold() == " ".join(name.split()).casefold()]
            if not places:
                unknown(problems, Place(file, 1, 1), "the first row has no column", name, [*filter(None, names)])
            elif len(places) > 1:
                complain(problems, Place(file, 1, places[1] + 1), f"a second column is called '{cut(name)}'")
            else:
                found.append(HeldColumn(places[0], name, holds, codes.get(name, {})))
    for held in found if not columns.holds else ():
        if sum(held.holds == other.holds for other in found) > 1 and held.holds != ("text",):
            complain(problems, Place(file, 1, held.at + 1), f"two columns hold {held.holds[0]}")
    if not problems and not any("type" in held.holds for held in found):
        message = "no column holds the type; name it 'type', or say with --columns what the columns hold"
        complain(problems, Place(file, 1, 1), message)
    if problems:
        raise ProblemsFoundError(problems)
    return tuple(found)
