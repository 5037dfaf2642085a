"""What the cases exercise of the rule base, counted as it is written: one component's case serves its whole kind."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import Runs
from diagnose.engine.chaining import Chaining
from diagnose.engine.values import SAME_WITHIN
from diagnose.engine.walking import leaves
from diagnose.knowledge.piece import own_name, prefix_of
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.model.premises import Holds, Measured
from diagnose.workshop.coverage.items import ItemKey, Leaf, answer_key, premise_key, written_items

KINDS = ("rule", "premise", "answer", "limit", "grade", "cause", "repair")


class CoverageItem(NamedTuple):
    """Something written in the rule base, with the number of cases that exercise each of its sides.

    A rule's and a premise's sides are "true" and "false"; a limit's "below", "at" and "above"; the others have one.
    """

    kind: str
    name: str
    place: Place
    what: str
    sides: tuple[tuple[str, int], ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """The sides that no case exercises."""
        return tuple(side for side, cases in self.sides if not cases)

    @property
    def met(self) -> int:
        """How many of its sides some case exercises."""
        return sum(bool(cases) for _, cases in self.sides)


class Total(NamedTuple):
    """Sides exercised, of so many."""

    met: int
    sides: int

    @property
    def share(self) -> float:
        """From 0 to 1; 1 where there is nothing to exercise."""
        return self.met / self.sides if self.sides else 1.0


class FileCoverage(NamedTuple):
    """The items of one file, in the order in which they are written."""

    file: str
    items: tuple[CoverageItem, ...]

    @property
    def total(self) -> Total:
        """Over all kinds."""
        return total(self.items)


class Coverage(NamedTuple):
    """All files, the worst covered first, and how many cases were run."""

    cases: int
    files: tuple[FileCoverage, ...]

    def items(self) -> Iterable[CoverageItem]:
        """Of all files."""
        return (item for file in self.files for item in file.items)

    def by_kind(self) -> dict[str, Total]:
        """Kind -> total, in the order of KINDS."""
        items = list(self.items())
        return {kind: total(item for item in items if item.kind == kind) for kind in KINDS}


def total(items: Iterable[CoverageItem]) -> Total:
    """The sides of items added up."""
    rows = list(items)
    return Total(sum(item.met for item in rows), sum(len(item.sides) for item in rows))


def coverage(types: Mapping[str, Ready], rows: Iterable[BesideCase]) -> Coverage:
    """Runs the cases and counts."""
    counts: dict[tuple[ItemKey, str], int] = {}
    runs, cases = Runs(types), 0
    for row in rows:
        cases += 1
        ready = types[row.case.type]
        for met in sides_met(ready, row, runs.run(row.case)[0]):
            counts[met] = counts.get(met, 0) + 1
    files: dict[str, list[CoverageItem]] = {}
    for key, what, sides in written_items(types.values()):
        counted = tuple((side, counts.get((key, side), 0)) for side in sides)
        files.setdefault(key.place.file, []).append(CoverageItem(key.kind, key.name, key.place, what, counted))
    ordered = [FileCoverage(file, tuple(sorted(items, key=_order))) for file, items in files.items()]
    return Coverage(cases, tuple(sorted(ordered, key=lambda one: (one.total.share, one.file))))


def _order(item: CoverageItem) -> tuple[Place, int, str]:
    return item.place, KINDS.index(item.kind), item.name


def sides_met(ready: Ready, row: BesideCase, chaining: Chaining) -> set[tuple[ItemKey, str]]:
    """The sides of items that the case exercises, each once."""
    assembly = ready.assembly
    return {
        *_rules(assembly, chaining),
        *_gates(assembly, chaining),
        *_answers(assembly, row),
        *_limits(assembly, row, chaining),
        *_grades(assembly, chaining),
        *_causes(assembly, row),
    }


def _rules(assembly: Assembly, chaining: Chaining) -> Iterator[tuple[ItemKey, str]]:
    for rule in assembly.rules:
        value = chaining.rules[rule.name]
        if value is not None:
            yield ItemKey("rule", own_name(rule.name), rule.place), _truth(value)
        yield from _premises(leaves(rule.premise), own_name(rule.name), rule.place, prefix_of(rule.name), chaining)


def _gates(assembly: Assembly, chaining: Chaining) -> Iterator[tuple[ItemKey, str]]:
    places = {row.name: row.place for row in assembly.observations}
    for gate in assembly.gates:
        for name in gate.observations:
            where = f"{own_name(name)}, {gate.kind}"
            yield from _premises(leaves(gate.premise), where, places[name], prefix_of(name), chaining)


def _premises(
    found: Iterator[Leaf], where: str, place: Place, prefix: str, chaining: Chaining
) -> Iterator[tuple[ItemKey, str]]:
    for leaf in found:
        if not isinstance(leaf, Holds) and leaf.observation not in chaining.counting:
            continue  # unknown, whatever it is compared with
        value = chaining.value_of(leaf)
        if value is not None:
            yield premise_key(where, place, leaf, prefix), _truth(value)


def _truth(value: bool) -> str:
    return "true" if value else "false"


def _answers(assembly: Assembly, row: BesideCase) -> Iterator[tuple[ItemKey, str]]:
    rows = {observation.name: observation for observation in assembly.observations}
    for name, answer in row.case.answers:
        word = answer.value if isinstance(answer.value, str) else ""
        yield answer_key(name, rows[name].place, word), "given"


def _limits(assembly: Assembly, row: BesideCase, chaining: Chaining) -> Iterator[tuple[ItemKey, str]]:
    """Readings that count, against the limits that they are judged by or that a premise compares them with."""
    profile = next(one for one in assembly.profiles if one.name == row.case.profile)
    limits = {limit.name: limit for limit in profile.limits}
    for observation, name in judged_by(assembly):
        reading = chaining.counting.get(observation)
        if isinstance(reading, float) and name in limits:
            limit = limits[name]
            yield ItemKey("limit", name, limit.place), standing(reading, limit.amount)


def judged_by(assembly: Assembly) -> set[tuple[str, str]]:
    """Readings with the limits that alone are a bound for them."""
    found = {(row.name, row.limit) for row in assembly.observations if row.limit}
    for premise in [row.premise for row in assembly.rules] + [row.premise for row in assembly.gates]:
        for leaf in leaves(premise):
            if isinstance(leaf, Measured) and len(leaf.bound.limits) == 1 and not leaf.bound.amount:
                found.add((leaf.observation, leaf.bound.limits[0]))
    return found


def standing(reading: float, limit: float) -> str:
    """Where a reading stands to a limit, both in psi, equal as the rules take them for equal."""
    apart = round(reading - limit, SAME_WITHIN)
    return "at" if apart == 0 else "below" if apart < 0 else "above"


def _grades(assembly: Assembly, chaining: Chaining) -> Iterator[tuple[ItemKey, str]]:
    for finding in assembly.findings:
        possible = chaining.possible(finding.name)
        if len(possible) == 1:
            yield ItemKey("grade", f"{own_name(finding.name)} is {finding.grades[possible[0]]}", finding.place), "held"


def _causes(assembly: Assembly, row: BesideCase) -> Iterator[tuple[ItemKey, str]]:
    """Causes that the case expects in the lead or in an order, and the repairs that cure them."""
    wanted = {row.expected.first, *row.expected.order}
    for cause in assembly.causes:
        if cause.name in wanted:
            yield ItemKey("cause", own_name(cause.name), cause.place), "expected"
    for repair in assembly.repairs:
        if any(name in wanted for name, _ in repair.cures):
            yield ItemKey("repair", own_name(repair.name), repair.place), "expected"
