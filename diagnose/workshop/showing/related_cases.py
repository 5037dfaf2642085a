"""The cases that bear on a named thing, and how."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import Runs
from diagnose.engine.chaining import Chaining
from diagnose.index.things import NamedGroup
from diagnose.model.places import Place
from diagnose.workshop.coverage.items import judged_by, standing

RUN = ("rule", "finding", "limit")
READS = {"below": "reads below it", "at": "reads exactly at it", "above": "reads above it"}


class RelatedCase(NamedTuple):
    """A case, and what it has to do with the thing."""

    how: str
    name: str
    place: Place


class _CaseAtHand(NamedTuple):
    """A case that is looked at: `things` has what is known of the thing in the case's type, by full name."""

    row: BesideCase
    ready: Ready
    things: dict[str, Any]
    chaining: Chaining | None


def cases_of(group: NamedGroup, types: Mapping[str, Ready], rows: Sequence[BesideCase]) -> Iterator[RelatedCase]:
    """Each case that names the thing, or in which it comes about; one line a case."""
    look = _BY_KIND.get(group.first.kind)
    runs = Runs(types)
    for row in rows if look is not None else ():
        mine = {thing.name: thing.row for thing in group.things if thing.type == row.case.type}
        if look is not None and mine:
            chaining = runs.run(row.case)[0] if group.first.kind in RUN else None
            said = list(dict.fromkeys(look(_CaseAtHand(row, types[row.case.type], mine, chaining))))
            if said:
                yield RelatedCase("; ".join(said), row.name, row.place)


Said = Iterator[str]


def _rule(look: _CaseAtHand) -> Said:
    expected = look.row.expected
    for name in look.things:
        if name in expected.fires:
            yield "expects it true"
        if name in expected.does_not_fire:
            yield "expects it not true"
        elif name not in expected.fires and look.chaining and look.chaining.rules[name]:
            yield "makes it true"


def _finding(look: _CaseAtHand) -> Said:
    expected = look.row.expected
    for name, row in look.things.items():
        named = [f"expects {grade}" for other, grade in expected.finds if other == name]
        named += [f"rules out {grade}" for other, grade in expected.does_not_find if other == name]
        named += ["leaves it open"] if name in expected.leaves_open else []
        yield from named
        possible = look.chaining.possible(name) if look.chaining else ()
        if not named and len(possible) == 1 and possible[0] > 0:
            yield f"comes to {row.grades[possible[0]]}"


def _observation(look: _CaseAtHand) -> Said:
    answers = dict(look.row.case.answers)
    for name in look.things:
        if name in answers:
            yield f"gives {answers[name].written}"
        if name in look.row.expected.void:
            yield "expects its answer not to count"


def _ranked(look: _CaseAtHand) -> Said:
    expected = look.row.expected
    for name in look.things:
        if name == expected.first:
            yield "expects it first"
        if name in expected.order:
            yield f"expects it in place {expected.order.index(name) + 1}"
        if name in expected.not_first:
            yield "expects it not first"


def _repair(look: _CaseAtHand) -> Said:
    wanted = {look.row.expected.first, *look.row.expected.order}
    for row in look.things.values():
        yield from (f"expects what it cures: {name}" for name, _ in row.cures if name in wanted)


def _limit(look: _CaseAtHand) -> Said:
    profile = look.ready.assembly.profile(look.row.case.profile)
    amounts = profile.amounts()
    for observation, name in sorted(judged_by(look.ready.assembly)):
        reading = look.chaining.counting.get(observation) if look.chaining else None
        if name in look.things and name in amounts and isinstance(reading, float):
            yield f"{observation} {READS[standing(reading, amounts[name])]} in {profile.name}"


def _profile(look: _CaseAtHand) -> Said:
    if look.row.case.profile in look.things:
        yield "is judged by it"


def _source(look: _CaseAtHand) -> Said:
    if look.row.source in look.things:
        yield f'checks "{look.row.states}"' if look.row.states else "cites it"


def _type(_: _CaseAtHand) -> Said:
    yield "is of the type"


_BY_KIND: dict[str, Callable[[_CaseAtHand], Said]] = {
    "rule": _rule,
    "finding": _finding,
    "observation": _observation,
    "cause": _ranked,
    "condition": _ranked,
    "component": _ranked,
    "repair": _repair,
    "limit": _limit,
    "profile": _profile,
    "source": _source,
    "type": _type,
}
