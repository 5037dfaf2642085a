"""What the cases exercise of the rule base, counted as it is written: one component's case serves its whole kind.

The report of it, and its data, which docs/coverage.schema.json describes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from typing import Any, NamedTuple

from diagnose import __version__
from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import Runs
from diagnose.engine.chaining import Chaining
from diagnose.engine.values import SAME_WITHIN
from diagnose.engine.walking import leaves
from diagnose.knowledge.piece import own_name, prefix_of
from diagnose.knowledge.words import one_of
from diagnose.model.assembly import Assembly
from diagnose.model.foreign import clean
from diagnose.model.places import Place
from diagnose.model.premises import Answered, Holds, Measured, Premise
from diagnose.sheet.blocks import Block, KeptLines, Paragraph

TRUTH = ("true", "false")
STANDING = ("below", "at", "above")


class RunCase(NamedTuple):
    """A case that was run: `led` are the names that it expects in the lead or in an order."""

    answers: Mapping[str, str | float]
    profile: str
    led: set[str]
    chaining: Chaining


Side = Callable[[RunCase], str | None]


class ItemKey(NamedTuple):
    """What an item is known by: the same for every component and type that it is written out for."""

    kind: str
    name: str
    place: Place


class ExercisedItem(NamedTuple):
    """An item as one type has it: what it says, the sides that it has, and the one that a case exercises, or None."""

    key: ItemKey
    what: str
    sides: tuple[str, ...]
    met: Side


def exercised_items(assembly: Assembly) -> Iterator[ExercisedItem]:
    """Every item; those of parts once for each component."""
    yield from _rules(assembly)
    yield from _conditions(assembly)
    yield from _answers(assembly)
    yield from _limits(assembly)
    for finding in assembly.findings:
        for at, (grade, says) in enumerate(zip(finding.grades, finding.says, strict=True)):
            key = ItemKey("grade", f"{own_name(finding.name)} is {grade}", finding.place)
            yield ExercisedItem(key, says, ("held",), partial(_held, finding.name, at))
    for cause in assembly.causes:
        key = ItemKey("cause", own_name(cause.name), cause.place)
        yield ExercisedItem(key, cause.text, ("expected",), partial(_expected, {cause.name}))
    for repair in assembly.repairs:
        key = ItemKey("repair", own_name(repair.name), repair.place)
        yield ExercisedItem(key, repair.title, ("expected",), partial(_expected, {name for name, _ in repair.cures}))


def _held(name: str, at: int, ran: RunCase) -> str | None:
    return "held" if tuple(ran.chaining.possible(name)) == (at,) else None


def _expected(names: set[str], ran: RunCase) -> str | None:
    return None if names.isdisjoint(ran.led) else "expected"


def _rules(assembly: Assembly) -> Iterator[ExercisedItem]:
    for rule in assembly.rules:
        key = ItemKey("rule", own_name(rule.name), rule.place)
        yield ExercisedItem(key, rule.reason, TRUTH, partial(_fired, rule.name))
        yield from _premises(rule.premise, key.name, rule.place, prefix_of(rule.name), rule.reason)


def _fired(name: str, ran: RunCase) -> str | None:
    return _truth(ran.chaining.rules[name])


def _truth(value: bool | None) -> str | None:
    return None if value is None else TRUTH[not value]


def _conditions(assembly: Assembly) -> Iterator[ExercisedItem]:
    """What says which answers count and which cautions are given."""
    places = {row.name: row.place for row in assembly.observations}
    for gate in assembly.gates:
        for name in gate.observations:
            where, what = f"{own_name(name)}, {gate.kind}", f"{gate.kind} of {own_name(name)}"
            yield from _premises(gate.premise, where, places[name], prefix_of(name), what)
    for row in assembly.cautions:
        if row.said_when is not None:
            yield from _premises(row.said_when, f"{row.name}, said when", row.place, "", f"caution {row.name}")


def _premises(premise: Premise, where: str, place: Place, prefix: str, what: str) -> Iterator[ExercisedItem]:
    """Its simple premises; `prefix` is what its file leaves out of names."""
    for leaf in dict.fromkeys(leaves(premise)):
        key = ItemKey("premise", f"{where}: {as_written(leaf, prefix)}", place)
        yield ExercisedItem(key, what, TRUTH, partial(_holds, leaf))


def _holds(leaf: Answered | Measured | Holds, ran: RunCase) -> str | None:
    """Without an answer that counts a premise is unknown, whatever the answer is compared with."""
    known = isinstance(leaf, Holds) or leaf.observation in ran.chaining.counting
    return _truth(ran.chaining.value_of(leaf)) if known else None


def as_written(leaf: Answered | Measured | Holds, prefix: str) -> str:
    """A simple premise as a rule file has it: `port: [drip, stream]`, `gauge: {below: limit lowest plus 0.2 psid}`."""
    match leaf:
        case Answered(name, values) | Holds(name, values):
            shown = values[0] if len(values) == 1 else f"[{', '.join(values)}]"
            return f"{name.removeprefix(prefix)}: {shown}"
        case Measured(name, relation, bound):
            terms = [f"limit {limit}" for limit in bound.limits]
            if bound.amount or not terms:
                terms.append(f"{bound.amount:g} psid")
            return f"{name.removeprefix(prefix)}: {{{relation}: {' plus '.join(terms)}}}"


def _answers(assembly: Assembly) -> Iterator[ExercisedItem]:
    for row in assembly.observations:
        name = own_name(row.name)
        for answer, text in row.answers or [("", row.title)]:
            key = ItemKey("answer", f"{name}: {answer}" if answer else name, row.place)
            yield ExercisedItem(key, text, ("given",), partial(_given, row.name, answer))


def _given(name: str, answer: str, ran: RunCase) -> str | None:
    """A reading has no answers to tell apart."""
    return "given" if (ran.answers.get(name) == answer if answer else name in ran.answers) else None


def _limits(assembly: Assembly) -> Iterator[ExercisedItem]:
    """Limits, with the readings that count and are judged by them or compared with them alone."""
    readings: dict[str, list[str]] = {}
    for observation, name in sorted(judged_by(assembly)):
        readings.setdefault(name, []).append(observation)
    for profile in assembly.profiles:
        for limit in profile.limits:
            key, what = ItemKey("limit", limit.name, limit.place), f"{profile.name}: {limit.relation} {limit.written}"
            for observation in readings.get(limit.name, [""]):
                yield ExercisedItem(key, what, STANDING, partial(_stands, observation, profile.name, limit.amount))


def _stands(observation: str, profile: str, amount: float, ran: RunCase) -> str | None:
    reading = ran.chaining.counting.get(observation) if ran.profile == profile else None
    return standing(reading, amount) if isinstance(reading, float) else None


def judged_by(assembly: Assembly) -> set[tuple[str, str]]:
    """Readings with the limits that alone are a bound for them."""
    found = {(row.name, row.limit) for row in assembly.observations if row.limit}
    compared = (leaf for premise in assembly.premises for leaf in leaves(premise))
    return found | {
        (leaf.observation, leaf.bound.limits[0])
        for leaf in compared
        if isinstance(leaf, Measured) and len(leaf.bound.limits) == 1 and not leaf.bound.amount
    }


def standing(reading: float, limit: float) -> str:
    """Where a reading stands to a limit, both in psi, equal as the rules take them for equal."""
    apart = round(reading - limit, SAME_WITHIN)
    return "at" if apart == 0 else "below" if apart < 0 else "above"


KINDS = ("rule", "premise", "answer", "limit", "grade", "cause", "repair")
FIGURES = 6
READS = {"below": "below", "at": "exactly at", "above": "above"}
# What is missing where no case exercises a side.
MISSING = {
    ("rule", "true"): "no case makes it true",
    ("rule", "false"): "no case makes it false",
    ("premise", "true"): "no case makes it true",
    ("premise", "false"): "no case makes it false",
    ("answer", "given"): "no case gives it",
    ("grade", "held"): "no case comes to it",
    ("cause", "expected"): "no case expects it to lead",
    ("repair", "expected"): "no case expects to lead what it cures",
}


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


class CoveredItems(NamedTuple):
    """What is written in one file, or of one kind, in that order."""

    name: str
    items: tuple[CoverageItem, ...]

    @property
    def met(self) -> int:
        """How many of the sides some case exercises."""
        return sum(item.met for item in self.items)

    @property
    def sides(self) -> int:
        """How many sides there are."""
        return sum(len(item.sides) for item in self.items)

    @property
    def share(self) -> float:
        """From 0 to 1; 1 where there is nothing to exercise."""
        return self.met / self.sides if self.sides else 1.0


class Coverage(NamedTuple):
    """All files, the worst covered first, and how many cases were run."""

    cases: int
    files: tuple[CoveredItems, ...]

    @property
    def whole(self) -> CoveredItems:
        """Of all files."""
        return CoveredItems("all", tuple(item for file in self.files for item in file.items))

    def by_kind(self) -> dict[str, CoveredItems]:
        """In the order of KINDS."""
        items = self.whole.items
        return {kind: CoveredItems(kind, tuple(item for item in items if item.kind == kind)) for kind in KINDS}


def coverage(types: Mapping[str, Ready], rows: Iterable[BesideCase]) -> Coverage:
    """Runs the cases and counts."""
    written = {name: list(exercised_items(ready.assembly)) for name, ready in types.items()}
    counts: Counter[tuple[ItemKey, str]] = Counter()
    runs, cases = Runs(types), 0
    for row in rows:
        cases += 1
        answers = {name: answer.value for name, answer in row.case.answers}
        led = {row.expected.first, *row.expected.order}
        ran = RunCase(answers, row.case.profile, led, runs.run(row.case)[0])
        met = ((item.key, item.met(ran)) for item in written[row.case.type])
        counts.update({(key, side) for key, side in met if side})
    files: dict[str, list[CoverageItem]] = {}
    for item in {item.key: item for items in reversed(written.values()) for item in reversed(items)}.values():
        counted = tuple((side, counts[item.key, side]) for side in item.sides)
        files.setdefault(item.key.place.file, []).append(CoverageItem(*item.key, item.what, counted))
    for items in files.values():
        items.sort(key=lambda item: (item.place, KINDS.index(item.kind), item.name))
    ordered = (CoveredItems(file, tuple(items)) for file, items in files.items())
    return Coverage(cases, tuple(sorted(ordered, key=lambda one: (one.share, one.name))))


def coverage_page(coverage: Coverage) -> Iterator[Block]:
    """Totals by kind; then each file, the worst first, with a line for each thing of which a side is missing."""
    told = "Of what is written, they exercise (a side is true or false, below, at or above):"
    yield Paragraph(f"{coverage.cases} cases. {told}")
    kinds = {**coverage.by_kind(), "all": coverage.whole}
    yield KeptLines(tuple(f"{kind:<8} {_figures(part)}" for kind, part in kinds.items()), inset=True)
    for file in coverage.files:
        lines = [f"{clean(file.name)}: {_figures(file).strip()}"]
        for item in filter(lambda item: item.missing, file.items):
            profile = f" ({item.what})" if item.kind == "limit" else ""
            lines.append(clean(f"  {item.place}: {item.kind} {item.name}: {_sentence(item)}{profile}"))
        yield KeptLines(("", *lines))


def _figures(part: CoveredItems) -> str:
    return f"{part.met:>5} of {part.sides:<5} {part.share * 100:5.1f} %"


def _sentence(item: CoverageItem) -> str:
    if item.kind == "limit":
        return f"no case reads {one_of([READS[side] for side in item.missing])} it"
    if len(item.missing) == 2:
        return "no case makes it true or false: it is never settled"
    return MISSING[item.kind, item.missing[0]]


def coverage_data(coverage: Coverage, version: str) -> dict[str, Any]:
    """Plain dictionaries and lists."""
    return {
        "made_by": {"version": __version__, "rule_base": version},
        "cases": coverage.cases,
        "total": _total(coverage.whole),
        "kinds": {kind: _total(part) for kind, part in coverage.by_kind().items()},
        "files": [
            {"file": file.name, "total": _total(file), "items": [_item(item) for item in file.items]}
            for file in coverage.files
        ],
    }


def _total(part: CoveredItems) -> dict[str, Any]:
    return {"exercised": part.met, "sides": part.sides, "share": round(part.share, FIGURES)}


def _item(item: CoverageItem) -> dict[str, Any]:
    return {
        "kind": item.kind,
        "name": item.name,
        "line": item.place.line,
        "column": item.place.column,
        "text": item.what,
        "sides": dict(item.sides),
        "missing": list(item.missing),
    }
