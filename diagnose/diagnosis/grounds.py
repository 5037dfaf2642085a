"""The grounds of a conclusion, line by line: from a finding down to observations, limits and sources."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diagnose.diagnosis.wording import bound_in_words, cited, in_words
from diagnose.engine.chaining import Chaining
from diagnose.engine.justify import Judged, JudgedRule, Reasons
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.assembly import Assembly
from diagnose.model.premises import All, Answered, AnyOf, Gate, Holds, Measured, Not, Rule
from diagnose.model.work import Profile

Rows = Iterator[tuple[int, str]]
VALUES = {True: "so", False: "not so", None: "unknown"}


class Grounds:
    """Lays out the justifications of one chaining; each line has its depth, from 0. Pressures in `unit`.

    `shut` has the gate that set aside each answer that does not count.
    """

    def __init__(
        self, assembly: Assembly, profile: Profile, chaining: Chaining, shut: Mapping[str, Gate], unit: str = "psid"
    ) -> None:
        self.assembly, self.chaining, self.shut, self.unit = assembly, chaining, shut, unit
        self.reasons = Reasons(chaining, assembly.rules)
        self.findings = {row.name: row for row in assembly.findings}
        self.titles = {row.name: row.title for row in assembly.observations}
        self.limits = {row.name: row for row in profile.limits}

    def finding(self, name: str, grade: str, depth: int = 0, seen: set[tuple[str, str]] | None = None) -> Rows:
        """Why a finding has a grade, has it not, or may have it; what is in `seen` is not laid out again."""
        seen = set() if seen is None else seen
        step = self.reasons.why(name, grade)
        row = self.findings[name]
        says = row.says[row.grades.index(grade)]
        yield depth, says if step.value is True else f"{VALUES[step.value]}: {says}"
        if (name, grade) in seen:
            return
        seen.add((name, grade))
        for judged in step.rules:
            yield from self._rule(judged, depth + 1, seen)
        for other in step.others:
            yield from self.finding(other.finding, other.grade, depth + 1, seen)

    def rule(self, rule: Rule) -> Rows:
        """What makes the premises of a rule true, false or unknown."""
        yield from self._rule(JudgedRule(rule, self.reasons.judge(rule.premise)), 0, set())

    def gate(self, gate: Gate) -> Rows:
        """Whether the condition of a gate holds, and what makes it so."""
        judged = self.reasons.judge(gate.premise, gate.observations)
        yield 0, f"{gate.kind} {in_words(gate.premise, self.assembly, self.unit)}: {VALUES[judged.value]}"
        yield from self._premise(judged, 1, set())

    def _rule(self, judged: JudgedRule, depth: int, seen: set[tuple[str, str]]) -> Rows:
        yield depth, f"rule {judged.rule.name}: {judged.rule.reason} {cited(judged.rule.sources, self.assembly)}"
        if judged.rule.disputed:
            yield depth + 1, f"Disputed: {judged.rule.disputed}"
        yield from self._premise(judged.premise, depth + 1, seen)

    def _premise(self, judged: Judged, depth: int, seen: set[tuple[str, str]]) -> Rows:
        match judged.premise:
            case Answered() | Measured():
                yield depth, self._observed(judged)
            case Holds():
                for lower in judged.leads_to:
                    yield from self.finding(lower.finding, lower.grade, depth, seen)
            case Not():
                yield depth, f"{VALUES[judged.value]} is that not:"
                for part in judged.parts:
                    yield from self._premise(part, depth + 1, seen)
            case All() | AnyOf():
                for part in judged.parts:
                    yield from self._premise(part, depth, seen)

    def _observed(self, judged: Judged) -> str:
        premise = judged.premise
        if isinstance(premise, Answered):
            title = self.titles[premise.observation]
            wanted = " or ".join(premise.answers)
            if judged.answer is None:
                return self._unanswered(premise.observation, f"needed: {wanted}")
            return f"observed: {title}: {judged.answer}" + ("" if judged.value else f", which is not {wanted}")
        assert isinstance(premise, Measured)  # noqa: S101  the caller tells the two apart
        title = self.titles[premise.observation]
        bound = bound_in_words(premise.bound, self.unit)
        cites = " ".join(self._limit(name) for name in premise.bound.limits)
        if judged.bound is None:
            return f"{title}: the chosen profile states no such limit ({bound})"
        if not isinstance(judged.answer, float):
            return f"{self._unanswered(premise.observation, f'needed: {premise.relation} {bound}')} {cites}".rstrip()
        shown = show_pressure(judged.answer, self.unit)
        verb = "is" if judged.value else "is not"
        limit = f" = {show_pressure(judged.bound, self.unit)}" if premise.bound.limits else ""
        return f"observed: {title} {shown} {verb} {premise.relation} {bound}{limit} {cites}".rstrip()

    def _unanswered(self, name: str, needed: str) -> str:
        gate = self.shut.get(name)
        if gate is None:
            return f"{self.titles[name]}: not observed ({name}; {needed})"
        wanted = in_words(gate.premise, self.assembly, self.unit)
        condition = f"it only counts when {wanted}" if gate.kind == "asked when" else f"it does not count when {wanted}"
        return f"{self.titles[name]}: observed, but set aside: {condition} ({name}; {needed})"

    def _limit(self, name: str) -> str:
        limit = self.limits.get(name)
        return f"{cited(limit.sources, self.assembly)}, checked {limit.checked}" if limit else ""
