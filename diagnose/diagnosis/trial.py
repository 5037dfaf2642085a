"""Trying the cases that stand beside the rules: what came out otherwise than expected."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import NamedTuple

from diagnose.belief.posterior import Standing, weigh
from diagnose.cases.beside import BesideCase
from diagnose.cases.names import NOTHING, NOTHING_WRONG, UNLISTED
from diagnose.diagnosis.outcomes import evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.runs import chained
from diagnose.engine.chaining import Chaining
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.model.premises import Gate

IN_WORDS = {True: "true", False: "false", None: "unknown"}


class Difference(NamedTuple):
    """An expectation that is not met: what stands under `key`, and where; what was expected, and what came.

    `rivals`: in a ranking, what should stand higher and what stands higher.
    """

    key: str
    name: str
    place: Place
    subject: str
    expected: str
    got: str
    rivals: tuple[str, str] | None = None

    @property
    def sentence(self) -> str:
        """`port_drips: expected steady, got spitting`."""
        return f"{self.subject}: expected {self.expected}, got {self.got}"


def differences(ready: Ready, row: BesideCase) -> list[str]:
    """One sentence for each expectation that is not met; none if the case comes out as it should."""
    chaining, shut = chained(ready, row.case)
    return [difference.sentence for difference in unmet(ready, row, chaining, shut)]


def unmet(ready: Ready, row: BesideCase, chaining: Chaining, shut: Mapping[str, Gate]) -> list[Difference]:
    """The expectations that are not met. `chaining` and `shut` are what `chained` gives for the case."""
    found = [*_findings(chaining, row), *_rules(chaining, row), *_void(chaining, shut, row)]
    if ranks(row):
        standing = weigh(ready.network, evidence_of(ready, chaining))
        found += _ranking(ready.assembly, standing, row)
    return [*found, *_work(ready, row)]


def ranks(row: BesideCase) -> bool:
    """Whether the case expects anything of the ranking."""
    return bool(row.expected.first or row.expected.order or row.expected.not_first)


def _work(ready: Ready, row: BesideCase) -> Iterator[Difference]:
    """What is expected of the work that is advised."""
    expected = row.expected
    if not (expected.first_repair or expected.next_check or expected.must_not_open):
        return
    result = Diagnosis(ready, row.case)
    check = result.advice.check
    options = [option.repair for option in (*result.plan.first, *result.plan.then)]
    repair, looked = options[0].name if options else NOTHING, check.observation.name if check else NOTHING
    for key, name, got in (
        ("first repair", expected.first_repair, repair),
        ("next check", expected.next_check, looked),
    ):
        if name not in ("", got):
            yield Difference(key, name, expected.place(key, name), key, name, got)
    for state in expected.must_not_open:
        into = [option.name for option in options if state in option.states]
        into += [looked] if check and check.observation.state == state else []
        if into:
            place = expected.place("must not open", state)
            yield Difference("must not open", state, place, state, "not to be gone into", ", ".join(into))


def _findings(chaining: Chaining, row: BesideCase) -> Iterator[Difference]:
    for finding, grade in row.expected.finds:
        place = tuple(chaining.grades[finding]).index(grade)
        if chaining.possible(finding) != (place,):
            yield _finding(chaining, row, "finds", finding, grade)
    for finding, grade in row.expected.does_not_find:
        place = tuple(chaining.grades[finding]).index(grade)
        if place in chaining.possible(finding):
            yield _finding(chaining, row, "does not find", finding, f"{grade} to be ruled out")
    for finding in row.expected.leaves_open:
        if len(chaining.possible(finding)) == 1:
            yield _finding(chaining, row, "leaves open", finding, "no grade to be settled")


def _finding(chaining: Chaining, row: BesideCase, key: str, finding: str, expected: str) -> Difference:
    names = tuple(chaining.grades[finding])
    got = " or ".join(names[place] for place in chaining.possible(finding)) or "no grade"
    return Difference(key, finding, row.expected.place(key, finding), finding, expected, got)


def _rules(chaining: Chaining, row: BesideCase) -> Iterator[Difference]:
    for key, rules in (("fires", row.expected.fires), ("does not fire", row.expected.does_not_fire)):
        wanted = "true premises" if key == "fires" else "premises that are not true"
        for rule in rules:
            value = chaining.rules[rule]
            if (value is True) is not (key == "fires"):
                place = row.expected.place(key, rule)
                yield Difference(key, rule, place, f"rule {rule}", wanted, IN_WORDS[value])


def _void(chaining: Chaining, shut: Mapping[str, Gate], row: BesideCase) -> Iterator[Difference]:
    for name in row.expected.void:
        if name not in shut:
            got = "no answer at all" if chaining.kept(name) is None else "an answer that counts"
            place = row.expected.place("void", name)
            yield Difference("void", name, place, name, "an answer that does not count", got)


def chances(standing: Standing) -> dict[str, float]:
    """Every cause and component, "nothing wrong" and "unlisted", with its probability."""
    singled_out = {NOTHING_WRONG: standing.nothing_wrong, UNLISTED: standing.unlisted}
    return standing.causes | standing.components | singled_out


def _ranking(assembly: Assembly, standing: Standing, row: BesideCase) -> Iterator[Difference]:
    chance, at = chances(standing), row.expected.place
    for name in filter(None, [row.expected.first]):
        best, *_ = ranked(assembly, name, standing)
        if best != name:
            expected, got = f"{name} ({chance[name]:.3f})", f"{best} ({chance[best]:.3f})"
            yield Difference("first", name, at("first", name), "first", expected, got, (name, best))
    for better, worse in pairwise(row.expected.order):
        if chance[better] <= chance[worse]:
            got = f"{better} ({chance[better]:.4f}), {worse} ({chance[worse]:.4f})"
            expected = f"{better} above {worse}"
            yield Difference("order", better, at("order", better), "order", expected, got, (better, worse))
    for name in row.expected.not_first:
        best, *others = ranked(assembly, name, standing)
        if best == name:
            expected, got = f"another than {name} in the lead", f"{name} ({chance[name]:.3f})"
            rivals = (others[0], name) if others else None
            yield Difference("not first", name, at("not first", name), "not first", expected, got, rivals)


def ranked(assembly: Assembly, name: str, standing: Standing) -> list[str]:
    """What `name` competes with, itself included, the most probable first.

    Site conditions compete with each other alone: they can be there whatever the assembly is like. Causes compete with
    causes of all components, components with components, and both with "nothing wrong" and "unlisted".
    """
    outside = {cause.name for cause in assembly.causes if not cause.component}
    singled_out = {NOTHING_WRONG: standing.nothing_wrong, UNLISTED: standing.unlisted}
    if name in outside:
        rivals = {rival: chance for rival, chance in standing.causes.items() if rival in outside}
    elif name in standing.causes:
        rivals = {rival: chance for rival, chance in standing.causes.items() if rival not in outside} | singled_out
    else:
        rivals = standing.components | singled_out
    return sorted(rivals, key=lambda rival: (rivals[rival], rival), reverse=True)
