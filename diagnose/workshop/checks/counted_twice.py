"""Evidence that would be counted twice."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from diagnose.engine.walking import names_in
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Finding, weighs_cause
from diagnose.model.places import Place
from diagnose.model.premises import Premise, Rule
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck

# A cause that brings about a finding more seldom than this is hardly raised by it, and not twice by two.
LEAST_CHANCE = 0.15

Speaking = tuple[Finding, Rule]


def _find(base: CheckedBase) -> Iterator[Doubt]:
    seen: set[frozenset[Place]] = set()
    for name, assembly in base.assemblies.items():
        causes = _Influence(assembly)
        for observed, rows in _by_observations(assembly).items():
            for (one, first), (two, second) in combinations(rows, 2):
                pair = frozenset((one.place, two.place))
                shared = causes.of(one) & causes.of(two) if one.name != two.name and pair not in seen else None
                if shared and base.type_of(name).can_hold([(first.premise, True), (second.premise, True)]):
                    seen.add(pair)
                    yield _doubt(one, two, observed, shared)


def _doubt(one: Finding, two: Finding, observed: frozenset[str], shared: set[str]) -> Doubt:
    one, two = sorted((one, two), key=lambda row: row.place)
    answers = " and ".join(f"'{name}'" for name in sorted(observed))
    first, *others = sorted(shared)
    more = f" and {len(others)} more" if others else ""
    message = (
        f"finding '{own_name(two.name)}' and finding '{own_name(one.name)}' follow from the same answer ({answers}) "
        f"and both bear on {first}{more}; the answer would be counted twice"
    )
    return Doubt(two.place, message, ((one.place, f"finding '{own_name(one.name)}' stands here"),))


def _by_observations(assembly: Assembly) -> dict[frozenset[str], list[Speaking]]:
    """The rules that conclude something abnormal of a finding that is evidence, by the observations they rest on."""
    rests = _Resting(assembly)
    telling = {row.name: row for row in assembly.findings if row.is_evidence}
    found: dict[frozenset[str], list[Speaking]] = {}
    for rule in assembly.rules:
        finding = telling.get(rule.finding)
        if finding is not None and rule.grade != finding.grades[0]:
            found.setdefault(rests.of(rule.premise), []).append((finding, rule))
    return found


class _Resting:
    """The observations that premises rest on in the end: through findings, and through computed readings."""

    def __init__(self, assembly: Assembly) -> None:
        self._observed = {row.name: frozenset(row.computed or (row.name,)) for row in assembly.observations}
        self._premises: dict[str, list[Premise]] = {}
        for rule in assembly.rules:
            self._premises.setdefault(rule.finding, []).append(rule.premise)

    def of(self, premise: Premise) -> frozenset[str]:
        return frozenset[str]().union(*map(self._of, names_in(premise)))

    def _of(self, name: str) -> frozenset[str]:
        if name not in self._observed:
            self._observed[name] = frozenset[str]().union(*map(self.of, self._premises.get(name, ())))
        return self._observed[name]


class _Influence:
    """The causes that a finding makes likelier, through failure modes or directly."""

    def __init__(self, assembly: Assembly) -> None:
        self._assembly = assembly
        self._causes: dict[str, dict[str, float]] = {row.name: {row.name: 1.0} for row in assembly.causes}
        for cause in assembly.causes:
            for mode, chance in cause.brings:
                self._causes.setdefault(mode, {})[cause.name] = chance
        self._known: dict[str, set[str]] = {}

    def of(self, finding: Finding) -> set[str]:
        if finding.name not in self._known:
            self._known[finding.name] = set(self._raised(finding)) | set(self._weighed(finding))
        return self._known[finding.name]

    def _raised(self, finding: Finding) -> Iterator[str]:
        for reason in finding.reasons:
            for name in reason.all_of:
                for cause, chance in self._causes.get(name, {}).items():
                    if chance * reason.at_least[0] > LEAST_CHANCE:
                        yield cause

    def _weighed(self, finding: Finding) -> Iterator[str]:
        for cause in self._assembly.causes if finding.weighs else ():
            if weighs_cause(finding, cause):
                yield cause.name


CHECK = RuleCheck(
    name="counted-twice",
    about="Two findings from the same answer that bear on the same cause.",
    means="""
Two findings follow from just the same observations, both can be there at once, and both make one cause
likelier. The ranking takes findings as independent once it is known which modes are present, so the one answer
counts double.

These are as they should be: grades of one finding; two findings of which an answer can raise only one, such as
worn and cut (what is neither counts against both, and since each is rare that is nearly the right factor);
findings that rest on the same answer, of which one needs another answer as well.
""",
    matters="""
The cause gets odds that nothing observed speaks for: two findings with a factor of 10 each make it 100 times
likelier where 10 was meant. The ranking looks surer than it is.
""",
    example=Example(
        "assemblies/rp.yaml",
        """\
findings:
  water_always_comes:
    title: water always comes
    says: Water never stops coming from the port.
    background: seldom
    reasons: {check_1.leaks: usually}
    source: estimate
rules:
  steady_is_always:
    premises: {relief_valve_discharge: continuous}
    finding: water_always_comes
    reason: A steady stream does not stop by itself.
    source: inference
""",
        "finding 'water_always_comes' and finding 'relief_discharge' follow from the same answer "
        "('relief_valve_discharge') and both bear on check_1.beaten_by_backpressure and 16 more; the answer would be "
        "counted twice",
    ),
    mend="""
Make one finding of the two and give it grades. Or let one of them be a step on the way, without `reasons`. Or
ask a second question that can be answered otherwise than the first.
""",
    find=_find,
)
