"""Schemas against the loader on files that were damaged in one place.

What a schema marks, the loader refuses; and where the loader finds a key unknown or missing, the schema marks it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.cases.beside import read_beside
from diagnose.knowledge.quantities import PRESSURE_UNITS, parse_pressure, parse_size
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shapes import SHAPES
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence, read_file
from diagnose.model.places import NOWHERE, ProblemsFoundError
from tests.knowledge.reading import copied
from tests.knowledge.writing import yaml_of
from tests.workshop.schema_files import kinds_of, marked, validators
from tests.workshop.schema_values import value_of

EVERY = 23  # of the damages, one in so many is tried
DRAWN = """\
drawn:
  along the flow: [flap_1, flap_2]
  readings:
    first_reading: {at: flap_1, says: holds}
"""
NOTHING = Scalar("", NOWHERE)
INSTEAD: tuple[Node, ...] = (
    NOTHING,
    Scalar("nonsense", NOWHERE),
    Scalar("-3", NOWHERE),
    Mapping((), NOWHERE),
    Sequence((), NOWHERE),
    Mapping(((Scalar("nonsense", NOWHERE), Scalar("nonsense", NOWHERE)),), NOWHERE),
)
# Without any grade nothing more can be said of the finding.
NOT_TRIED = ("says, {} instead",)
# The loader takes these, which say nothing: a list of sources without any, and a question without answers.
TAKEN_BY_THE_LOADER = ("source", "answers")


class Damage(NamedTuple):
    """A file with one thing done to it."""

    file: str
    told: str
    node: Node


def damages(node: Node) -> Iterator[tuple[str, Node]]:
    """The node with one thing done to it anywhere, each with words for it."""
    yield from ((f"{value_of(other)!r} instead", other) for other in INSTEAD)
    if isinstance(node, Sequence):
        for at, item in enumerate(node.items):
            for told, other in damages(item):
                if other == NOTHING:  # a list in one line cannot show an item that is nothing
                    continue
                yield f"{at}, {told}", Sequence((*node.items[:at], other, *node.items[at + 1 :]), node.place)
    elif isinstance(node, Mapping):
        extra = (Scalar("nonsense", NOWHERE), Scalar("nonsense", NOWHERE))
        yield "one more", Mapping((*node.entries, extra), node.place)
        for at, (key, value) in enumerate(node.entries):
            rest = node.entries[:at], node.entries[at + 1 :]
            yield f"without {key.text}", Mapping((*rest[0], *rest[1]), node.place)
            for told, other in damages(value):
                yield f"{key.text}, {told}", Mapping((*rest[0], (key, other), *rest[1]), node.place)


@pytest.fixture(scope="module")
def base(small_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tiny rule base, with a picture."""
    folder = copied(small_folder, tmp_path_factory.mktemp("base") / "rules")
    flap, twin = folder / "parts/flap.yaml", folder / "assemblies/twin.yaml"
    assert "symbol:" in flap.read_text(encoding="utf-8")
    twin.write_text(twin.read_text(encoding="utf-8").partition("drawn:")[0] + DRAWN, encoding="utf-8")
    return folder


def refused(folder: Path) -> str:
    try:
        read_beside(folder, read_rule_base(folder).assemblies)
    except ProblemsFoundError as error:
        return str(error)
    return ""


def test_schemas_and_loader_agree_on_damaged_files(base: Path, tmp_path: Path) -> None:
    known, folder = validators(base), copied(base, tmp_path / "rules")
    rows = [
        Damage(path.relative_to(base).as_posix(), told, node)
        for path in sorted(base.rglob("*.yaml"))
        for told, node in damages(read_file(path))
        if not told.endswith(NOT_TRIED)
    ]
    false_alarms, passed_over = [], []
    for row in rows[::EVERY]:
        (kind,) = kinds_of(row.file)
        whole = (folder / row.file).read_bytes()
        (folder / row.file).write_text(yaml_of(row.node), encoding="utf-8")
        told, seen = refused(folder), marked(known[kind], row.node)
        (folder / row.file).write_bytes(whole)
        if seen and not told and not any(f"{key}, " in row.told for key in TAKEN_BY_THE_LOADER):
            false_alarms.append((row.file, row.told, seen))
        if not seen and any(words in told for words in ("no such key", "is missing", "expected a ", "expected text")):
            passed_over.append((row.file, row.told, told))
    assert len(rows[::EVERY]) > 150
    assert false_alarms == []
    assert passed_over == []


quantities = st.one_of(
    st.from_regex(r"[ \t]*[+-]?[0-9]{1,7}(\.[0-9]{1,10})?[ \t]*(psi|PSID|Kpa|bar|mbar|in|)[ \t]*", fullmatch=True),
    st.from_regex(r"([0-9]{1,4}[ -])?[0-9]{1,3}/[0-9]{1,3} ?(in|inch|\"|mm|cm)", fullmatch=True),
    st.from_regex(r"[0-9]{1,5}(\.[0-9]{1,4})?[ \t]*(in|inch|\"|mm|IN)", fullmatch=True),
)


def reads(parse: Callable[[str], float], text: str) -> bool:
    try:
        parse(text)
    except ValueError:
        return False
    return True


def fits(shape: str, text: str) -> bool:
    return re.search(SHAPES[shape].pattern, text) is not None


@given(quantities)
def test_the_shape_of_a_pressure_is_what_is_read_as_one(text: str) -> None:
    assert fits("pressure", text) == reads(parse_pressure, text)


@given(st.sampled_from(PRESSURE_UNITS), st.integers(0, 2**5))
def test_units_are_read_in_small_and_capital_letters(unit: str, capitals: int) -> None:
    mixed = "".join(c.upper() if capitals >> at & 1 else c.lower() for at, c in enumerate(unit))
    assert fits("pressure", f"4 {mixed}")
    assert reads(parse_pressure, f"4 {mixed}")


@given(quantities)
def test_whatever_is_read_as_a_size_has_the_shape_of_one(text: str) -> None:
    """Only how large it may be is not in the shape."""
    assert fits("size", text) or not reads(parse_size, text)
    if fits("size", text) and not reads(parse_size, text):
        with pytest.raises(ValueError, match="is not the size of an assembly"):
            parse_size(text)


@pytest.mark.parametrize(
    ("shape", "good", "bad"),
    [
        ("range", ["0 psid to 15 psid", "-1 bar to 2 bar"], ["0 to 15 psid", "0 psid - 15 psid", "0 psid"]),
        ("bound", ["limit first", "limit a plus 0.2 psid", "1 psi plus limit a plus limit b"], ["limit", "2", "x"]),
        ("difference", ["one minus other"], ["one - other", " minus other"]),
        ("month", ["2026-11"], ["2026-13", "2026-1", "November"]),
        ("own name", ["own_rules", "a1"], ["Own", "1a", "a-b", ""]),
    ],
)
def test_shapes_fit_what_they_are_for(shape: str, good: list[str], bad: list[str]) -> None:
    assert all(fits(shape, text) for text in good)
    assert not any(fits(shape, text) for text in bad)
