"""Equal evidence is weighed once: what answers come to for the rules, and what that makes of an assembly."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from itertools import groupby
from typing import NamedTuple

from diagnose.diagnosis.outcomes import Outcomes, evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import is_raised
from diagnose.diagnosis.runs import Runs
from diagnose.diagnosis.shared import Shared
from diagnose.diagnosis.verdicts import Verdict, verdicts
from diagnose.diagnosis.worth_showing import is_sound
from diagnose.engine.chaining import Chaining
from diagnose.engine.values import bound_value, measured
from diagnose.engine.walking import leaves, names_in
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer, Case
from diagnose.model.premises import Measured
from diagnose.plan.repairs import size_factor

Answers = tuple[tuple[str, str | float], ...]


class Evidence(NamedTuple):
    """What a report shows. Two with the same `key` no rule can tell apart, nor any plan where `factors` are the same.

    `factors` say what the minutes of work are times at its size, and those of closing what shuts the line.
    """

    key: str
    factors: str
    type: str
    profile: str
    size: float
    answers: Answers


class JudgedReading(NamedTuple):
    """A reading that counts and that a limit judges, of which it is made up if it is a difference; psi.

    `relation` is how it has to stand to the limit: "at least" or "above".
    """

    name: str
    title: str
    of: tuple[str, ...]
    limit: float
    relation: str
    fails: bool

    def value(self, answers: Mapping[str, str | float]) -> float:
        """What it reads in psi."""
        first, *rest = (float(answers[name]) for name in self.of)
        return round(first - sum(rest), 6)


class WeighedEvidence(NamedTuple):
    """What the rules make of evidence. Chances are probabilities; a cause outside the assembly has no `part`.

    `shows` says what is abnormal besides readings that a limit judges.

    `check`, `minutes` (the way to its state included), `repair` and `parts` (with the chance that each is needed) are
    only worked out where something has to be done.
    """

    readings: tuple[JudgedReading, ...] = ()
    no_protection: bool = False
    sound: bool = True
    part: str = ""
    part_chance: float = 0.0
    cause: str = ""
    cause_chance: float = 0.0
    ties: int = 0
    shows: tuple[str, ...] = ()
    set_aside: tuple[str, ...] = ()
    accuracy: float = 0.0
    planned: bool = False
    check: str = ""
    minutes: float = 0.0
    repair: str = ""
    parts: tuple[tuple[str, float], ...] = ()

    @property
    def fails(self) -> bool:
        """Whether a reading fails its limit, or a fault is more likely than not."""
        return not self.sound or any(row.fails for row in self.readings)


class Stretches:
    """For one type and profile: on which side of each bound of the rules a reading lies, which is all that they ask."""

    def __init__(self, ready: Ready, profile: str) -> None:
        assembly = ready.assembly
        limits = assembly.profile(profile).amounts()
        judged = {row.name: (row.relation, row.amount) for row in assembly.profile(profile).limits}
        chaining = Chaining(ready.steps, limits, assembly.computed)
        outcomes = Outcomes(ready, chaining, {})
        asked = {row.name: {judged[row.limit]} for row in assembly.observations if row.limit in judged}
        for premise in assembly.premises:
            for leaf in leaves(premise):
                bound = bound_value(leaf.bound, limits) if isinstance(leaf, Measured) else None
                if isinstance(leaf, Measured) and bound is not None:
                    asked.setdefault(leaf.observation, set()).add((leaf.relation, bound))
        self._asked = {name: sorted(found) for name, found in asked.items()}
        self._computed = chaining.computed
        # What a reading that is missing may turn out to be when it is asked for.
        self._may_be = {row.name: outcomes.values(row) for row in assembly.observations if not row.answers}
        self._place = lru_cache(maxsize=20_000)(self._place_of)

    def key(self, answers: Answers) -> tuple[tuple[str, object], ...]:
        """The same for two sets of answers that no rule can tell apart, now or after one answer more."""
        found: list[tuple[str, object]] = []
        values = {name: value for name, value in answers if isinstance(value, float)}
        for name, value in answers:
            found.append((name, self._place(name, value) if isinstance(value, float) else value))
        for name, (first, second) in self._computed.items():
            if name in values:
                continue
            if first in values and second in values:
                values[name] = round(values[first] - values[second], 6)
                found.append((name, self._place(name, values[name])))
            elif first in values or second in values:
                found.append((name, self._to_come(name, first, second, values)))
        return tuple(found)

    def _to_come(self, name: str, first: str, second: str, values: Mapping[str, float]) -> object:
        """What a difference would be for each reading that may be taken next."""
        known, other, sign = (first, second, 1) if first in values else (second, first, -1)
        if other in self._computed:
            return values[known]
        numbers = (value for value in self._may_be[other] if isinstance(value, float))
        return tuple(self._place(name, round(sign * (values[known] - value), 6)) for value in numbers)

    def _place_of(self, name: str, value: float) -> int:
        """What holds of a reading of all that is asked of it, as bits."""
        return sum(
            1 << place for place, (how, bound) in enumerate(self._asked.get(name, ())) if measured(value, how, bound)
        )


class Weigher:
    """Weighs evidence of any type of a rule base."""

    def __init__(self, types: Mapping[str, Ready]) -> None:
        self.types = types
        self._runs = Runs(types)
        self._stretches: dict[tuple[str, str], Stretches] = {}
        self._shown: dict[str, str] = {}
        self._shared = {name: Shared() for name in types}

    def evidence(self, kind: str, profile: str, size: float, answers: Answers) -> Evidence:
        """What a report shows."""
        ready = self.types[kind]
        if (kind, profile) not in self._stretches:
            self._stretches[kind, profile] = Stretches(ready, profile)
        key = repr((kind, profile, *self._stretches[kind, profile].key(answers)))
        if key not in self._shown:
            chaining, _ = self._runs.run(case_of(kind, profile, size, answers))
            shown = repr(sorted(evidence_of(ready, chaining).items()))
            self._shown[key] = hashlib.sha256(shown.encode()).hexdigest()
        # What shows the same stands together and shares what is kept.
        key = f"{kind} {self._shown[key]} {key}"
        tables = ready.assembly.size_minutes, ready.assembly.turning_minutes
        factors = " ".join(f"{size_factor(size, table):g}" for table in tables)
        return Evidence(key, factors, kind, profile, size, answers)

    def weighed(self, rows: Iterable[tuple[Evidence, bool]]) -> Iterator[WeighedEvidence]:
        """What the rules make of evidence; what differs in size alone, if it comes together, is weighed together.

        With True a plan is made also where nothing speaks for a fault: the report itself says that the test failed.
        """
        for _, group in groupby(rows, lambda row: row[0].key):
            result: Diagnosis | None = None
            for evidence, wanted in group:
                if result is None:
                    case = case_of(evidence.type, evidence.profile, evidence.size, evidence.answers)
                    judged, quiet = self._judged(case)
                    if not quiet or wanted:
                        result = Diagnosis(self.types[evidence.type], case, self._shared[evidence.type])
                else:
                    result = result.in_state("", size=evidence.size)
                yield told(judged, result, wanted) if result is not None else judged

    def _judged(self, case: Case) -> tuple[WeighedEvidence, bool]:
        """What the limits say, and whether nothing abnormal shows: the causes then are what they are beforehand."""
        assembly = self.types[case.type].assembly
        chaining, shut = self._runs.run(case)
        titles = {row.name: row.title for row in assembly.observations}
        judged = WeighedEvidence(
            readings=tuple(filter(None, map(_reading, verdicts(assembly, case, chaining, shut)))),
            no_protection=any(chaining.value_of(premise) for premise in assembly.no_protection),
            set_aside=tuple(titles[name] for name in sorted(shut)),
            accuracy=assembly.gauge_accuracy.amount,
        )
        shown = evidence_of(self.types[case.type], chaining)
        abnormal = {name: possible[0] for name, possible in shown.items() if 0 not in possible}
        return judged._replace(shows=_shows(assembly, abnormal)), not judged.fails and not abnormal


def _shows(assembly: Assembly, abnormal: Mapping[str, int]) -> tuple[str, ...]:
    """What abnormal findings say that a failure mode or a condition brings about, but for those made of readings."""
    judged = {row.name for row in assembly.observations if row.limit}
    asks = {rule.finding: names_in(rule.premise) for rule in assembly.rules}
    rows = [row for row in assembly.findings if row.name in abnormal and row.reasons]
    return tuple(row.says[abnormal[row.name]] for row in rows if judged.isdisjoint(asks.get(row.name, ())))


def case_of(kind: str, profile: str, size: float, answers: Answers) -> Case:
    """A case in which no more is known."""
    given = tuple((name, Answer(value, str(value))) for name, value in answers)
    return Case(kind, "", size, profile, "", None, given)


def _reading(row: Verdict) -> JudgedReading | None:
    """The reading of a verdict; None where it does not count or nothing judges it."""
    observation, limit = row.observation, row.limit
    if limit is None or row.outcome == "not counted":
        return None
    of = observation.computed or (observation.name,)
    return JudgedReading(observation.name, observation.title, of, limit.amount, limit.relation, row.outcome == "fail")


def told(judged: WeighedEvidence, result: Diagnosis, wanted: bool) -> WeighedEvidence:
    """What is shown of a report."""
    leading, cause, sound = result.parts[0], result.causes[0], is_sound(result)
    if not sound:
        found = judged._replace(
            sound=False,
            part=leading.title,
            part_chance=leading.probability,
            cause=cause.cause.text,
            cause_chance=cause.probability,
            ties=len(result.rivals),
        )
    else:
        outside = next((row for row in result.conditions if is_raised(row)), None)
        found = judged._replace(cause=outside.cause.text, cause_chance=outside.probability) if outside else judged
    return _planned(found, result) if found.fails or found.no_protection or wanted else found


def _planned(found: WeighedEvidence, result: Diagnosis) -> WeighedEvidence:
    check, options = result.advice.check, (*result.plan.first, *result.plan.then)
    return found._replace(
        planned=True,
        check=check.observation.title if check else "",
        minutes=check.observation.minutes + check.reaching if check else 0.0,
        repair=options[0].repair.title if options else "",
        parts=tuple((row.part, row.chance) for row in result.plan.load.parts if row.bring),
    )
