"""Damaged case files: read, written and read again, and worked through."""

from __future__ import annotations

import json
import random
import unicodedata
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import jsonschema

from diagnose.cases.beside import read_beside
from diagnose.cases.reading import read_case, read_type
from diagnose.cases.writing import blank_case, case_text
from diagnose.diagnosis.field_test import occasions
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.knowledge.quantities import KPA_PER_PSI
from diagnose.knowledge.yamltext import read_bytes
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer, Case
from diagnose.model.places import NOWHERE, Place
from diagnose.sheet.data import as_data, as_json
from diagnose.sheet.page import sheet
from diagnose.sheet.text import as_markdown, as_text
from tests.shipped import LIBRARY
from tests.stress.commands import command
from tests.stress.mutating import mutated
from tests.stress.trying import Input, Step

TESTS = Path(__file__).resolve().parents[1]
SMALL = TESTS / "knowledge" / "small_rules"
SCHEMA = json.loads((TESTS.parent / "docs" / "result.schema.json").read_text(encoding="utf-8"))
UNITS = {"psi": 1.0, "psid": 1.0, "PSI": 1.0, "kPa": KPA_PER_PSI, "bar": KPA_PER_PSI / 100}
NAME = "case.yaml"
# A case with all that a case may have.
WHOLE = """\
assembly: TWINB
title: at the mill
size: 1 1/2 in
profile: strict_town
notes: |
  wet
  and cold
gauge_accuracy: 0.2 psid
state: opened
parts: [flap_1]
tag: M-12
location: the wheel room
installed: 2019-05
tested_on: 2026-11-29
observations:
  bypass.port: drip
  first_reading: 1.2 psid
  meter: no
  flap_1.seat: gritty
  margin: -0.5 bar
record:
  found:
    - grit on the seat
    - >-
      and more of it
      below
  done: cleaned
  closed_on: 2026-11-30
  minutes: {cleaned: 25}
  parts_used: [seal]
  passed: "yes"
  final_test:
    first_reading: 9 kPa
"""
STDIN = "<standard input>"


class Loaded(NamedTuple):
    """A case and the type that it is of."""

    ready: Ready
    case: Case


class Cases:
    """Cases of the shipped types, and of the tiny ones, as they are and damaged."""

    def __init__(self) -> None:
        self.shipped = LIBRARY
        self.small = Library(SMALL, keep=False)
        self.types = self.shipped.all() | self.small.all()
        self.good = [text.encode() for text in self._good()]
        self.good += [path.read_bytes() for path in sorted((TESTS / "broken" / "cases").glob("*.yaml"))]
        self.commands = 500
        self.steps: tuple[Step, ...] = (
            Step("written and read again", 1, self.again),
            Step("worked through", 20, self.worked),
            Step("worked through otherwise", 60, self.otherwise),
        )

    def _good(self) -> Iterator[str]:
        order = random.Random(1)  # noqa: S311  nothing secret
        yield from [WHOLE] * 20
        for path in sorted((TESTS.parent / "examples").glob("*.yaml")):
            yield path.read_text(encoding="utf-8")
        for library in (self.shipped, self.small):
            assemblies = {name: ready.assembly for name, ready in library.all().items()}
            rows = read_beside(library.folder, assemblies)
            yield from (case_text(row.case) for row in rows)
            for assembly in assemblies.values():
                groups = [(row.title, row.observations) for row in occasions(assembly)]
                yield blank_case(assembly, groups, in_full=True)
                yield from (case_text(some_case(assembly, order, most)) for most in (3, 10, 30))

    def draw(self, order: random.Random) -> Input:
        return Input(NAME, mutated(order.choice(self.good), self.good, order))

    def load(self, one: Input) -> Loaded:
        node = read_bytes(one.data, NAME)
        ready = self.types[read_type(node, self.types)]
        return Loaded(ready, read_case(node, ready.assembly))

    def text_of(self, file: str, one: Input) -> bytes | None:
        return one.data if file == NAME else None

    def places(self, loaded: Loaded) -> Iterable[Place]:
        record = loaded.case.record
        return [answer.place for _, answer in (*loaded.case.answers, *record.final_test)]

    def command(self, one: Input) -> tuple[int, str] | None:
        """`find`, which knows the shipped types only; a case of a tiny type is refused there, and left out here."""
        if any(name.encode() in one.data for name in self.small.types()):
            return None
        return command(["find", "-"], one.data)

    def again(self, _: Input, loaded: Loaded, __: random.Random) -> Iterator[str]:
        """Whether it is the same case after it was written and read."""
        text = case_text(loaded.case)
        again = read_case(read_bytes(text.encode(), NAME), loaded.ready.assembly)
        if placeless(again) != placeless(loaded.case):
            yield f"{placeless(loaded.case)!r}\n{text}\n{placeless(again)!r}"

    def worked(self, _: Input, loaded: Loaded, order: random.Random) -> Iterator[str]:
        """Whether all that is made of it can be shown, and keeps to the schema."""
        yield from shows(loaded.ready, loaded.case, order)

    def otherwise(self, _: Input, loaded: Loaded, order: random.Random) -> Iterator[str]:
        """Whether the order of the answers and the units of the readings change nothing."""
        case = loaded.case
        answers = [(name, in_other_unit(answer, order)) for name, answer in case.answers]
        order.shuffle(answers)
        node = read_bytes(case_text(case._replace(answers=tuple(answers))).encode(), NAME)
        other = read_case(node, loaded.ready.assembly)
        one, two = (settled(as_data(Diagnosis(loaded.ready, row))) for row in (case, other))
        if one != two:
            yield f"{case.answers}\n{answers}\n" + "\n".join(key for key in one if one[key] != two[key])


def some_case(assembly: Assembly, order: random.Random, most: int) -> Case:
    """A case with so many answers, or as many as there are observations."""
    rows = order.sample(assembly.observations, min(most, len(assembly.observations)))
    answers = []
    for row in rows:
        if row.answers:
            text = order.choice(row.answers)[0]
            answers.append((row.name, Answer(text, text)))
        else:
            psi = min(max(round(order.uniform(row.low, row.high), 1), row.low), row.high)
            answers.append((row.name, Answer(psi, f"{psi:g} {row.unit if row.unit in ('psi', 'psid') else 'psi'}")))
    profile = order.choice(assembly.profiles).name
    return Case(assembly.type, "drawn by lot", order.choice((0.0, 0.75, 2.0)), profile, "", None, tuple(answers))


def placeless(case: Case) -> Case:
    """The case without the places of its answers."""
    final = _placeless(case.record.final_test)
    return case._replace(answers=_placeless(case.answers), record=case.record._replace(final_test=final))


def _placeless(rows: tuple[tuple[str, Answer], ...]) -> tuple[tuple[str, Answer], ...]:
    return tuple((name, answer._replace(place=NOWHERE)) for name, answer in rows)


def in_other_unit(answer: Answer, order: random.Random) -> Answer:
    """A reading written in another unit, to more digits than are kept; other answers as they are."""
    if isinstance(answer.value, str):
        return answer
    unit = order.choice(sorted(UNITS))
    return answer._replace(written=f"{answer.value * UNITS[unit]:.9f} {unit}")


def settled(data: dict[str, Any]) -> dict[str, Any]:
    """A result without what repeats the case."""
    return {key: value for key, value in data.items() if key != "case"}


def shows(ready: Ready, case: Case, order: random.Random) -> Iterator[str]:
    """What is wrong with the text, the Markdown and the JSON of a case worked through."""
    result = Diagnosis(ready, case)
    blocks = sheet(result, order.choice(("psid", "kPa", "bar")))
    for text in (as_text(blocks, order.choice((60, 80))), as_markdown(blocks)):
        yield from (f"not to be shown: {line!a}" for line in text.splitlines() if steers(line))
    data = json.loads(as_json(result))
    validator = jsonschema.validators.validator_for(SCHEMA)(SCHEMA)
    yield from (f"schema: {error.json_path}: {error.message[:200]}" for error in validator.iter_errors(data))
    yield from (f"{name} = {chance}" for name, chance in chances(data) if not 0 <= chance <= 1)


def steers(line: str) -> bool:
    """Whether a control character or half a character stands in it, or one that turns the direction of writing."""
    kinds = {unicodedata.category(one) for one in line} & {"Cc", "Cs"}
    return bool(kinds) or any(unicodedata.bidirectional(one) in TURNING for one in line)


def chances(data: Any, key: str = "") -> Iterator[tuple[str, float]]:
    """Every probability of a result with its key."""
    if isinstance(data, dict):
        for name, value in data.items():
            yield from chances(value, name)
    elif isinstance(data, list):
        for value in data:
            yield from chances(value, key)
    elif isinstance(data, int | float) and (key in CHANCES or key.startswith("chance")):
        yield key, data


TURNING = ("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI")
CHANCES = ("probability", "nothing_wrong", "unlisted", "prior_left_out", "base_rate")
