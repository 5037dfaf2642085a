"""The steps of a lesson that an answer makes: what the class guesses, what it means, and how the standings move."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import pairwise, zip_longest
from typing import NamedTuple

from diagnose.diagnosis.answer import LIKELY
from diagnose.diagnosis.growing import SoFar, settled
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.verdicts import Verdict
from diagnose.diagnosis.wording import capital, cited, in_words, percent, value_text
from diagnose.diagnosis.worth_showing import LEAST_CAUSE, LEAST_DECIBANS, LEAST_UNLISTED
from diagnose.drawing.node_text import verdict_text
from diagnose.engine.justify import Judged, Reasons
from diagnose.engine.walking import names_in
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Finding
from diagnose.model.premises import Answered, Gate, Measured
from diagnose.model.work import Observation

SETTLES_NOTHING = "By itself it settles nothing yet."
DOES_NOT_COUNT = "It does not count, whatever it says."
MOST_LOOKS, MOST_MEANINGS = 5, 4
# Of more answers those that move most are asked about, and the others told together.
MOST_ASKED = 7
# Parts whose chances differ by less than this are equally right.
NEARLY = 0.02


class Guess(NamedTuple):
    """What is asked, what the class may choose from, and the places of what is right, in the order of `choices`."""

    asked: str
    choices: tuple[str, ...]
    right: tuple[int, ...]

    @property
    def told(self) -> str:
        """What is right, in a line."""
        return " / ".join(self.choices[place].rstrip(".") for place in self.right) + "."


def look_guess(before: SoFar, row: Observation) -> Guess:
    """What to look at next: right is what the case goes on with, and what tells most without taking a part apart."""
    assembly = before.result.assembly
    taken_apart = {state.name for state in assembly.states if state.takes_apart}
    telling = [one.observation for one in before.result.questions]
    telling.sort(key=lambda one: one.state in taken_apart)
    others = [one for one in telling if one.name != row.name][: MOST_LOOKS - 1]
    chosen = {one.name for one in (row, *others)}
    rows = [one for one in assembly.observations if one.name in chosen]
    right = {row.name, *(one.name for one in telling[:1])}
    return _guess("What would you look at next?", [(capital(one.title), one.name in right) for one in rows])


def meaning_guess(row: Observation, says: Collection[str], main: str, result: Diagnosis) -> Guess:
    """What the answer means; `says` are the sentences that it settles, `main` the foremost of them, "" for none."""
    others = [text for text in _could_mean(row, result.assembly) if text not in says and text != main]
    right = main or (DOES_NOT_COUNT if row.name in result.shut else SETTLES_NOTHING)
    shown = sorted({main, *others[: MOST_MEANINGS - 1]} - {"", SETTLES_NOTHING, DOES_NOT_COUNT})
    return _guess(
        "What does the answer mean?", [(text, text == right) for text in (*shown, SETTLES_NOTHING, DOES_NOT_COUNT)]
    )


def part_guess(shown: Mapping[str, str], after: SoFar) -> Guess:
    """Which part now: right are the likeliest, each that is more likely faulty than not, and parts tied with the first.

    What lies outside the assembly takes nothing from its parts: there both may be so.
    """
    standing = after.result.standing
    chances = {name: standing.chance(name) for name in shown}
    inside = {name: chances[name] for name in shown if name in standing.components or name in {NOTHING, UNLISTED}}
    first = max(inside, key=lambda name: inside[name], default="")
    least = min(inside[first] - NEARLY, LIKELY) if first else LIKELY
    tied = next((row.tied_with for row in after.result.parts if row.name == first), ())
    rows = [
        (capital(title), name in tied or chances[name] >= (least if name in inside else LIKELY))
        for name, title in shown.items()
    ]
    return _guess("Which part now?", rows)


def _guess(asked: str, rows: list[tuple[str, bool]]) -> Guess:
    return Guess(asked, tuple(text for text, _ in rows), tuple(place for place, (_, right) in enumerate(rows) if right))


def _could_mean(row: Observation, assembly: Assembly) -> Iterator[str]:
    """The sentences of the evidence that rests on the observation itself."""
    resting = {rule.finding for rule in assembly.rules if row.name in names_in(rule.premise)}
    for one in assembly.findings:
        if one.name in resting and one.is_evidence:
            yield from reversed(one.says)


# Said before the reason that would have held, where the rules do not say why the opposite does.
OPPOSITE = "If it were otherwise:"
MOST_TAKEN_FOR = 2


class Meaning(NamedTuple):
    """A finding that an answer settled, each with its sentences of why, and what it is easily taken for.

    `disputed` is where people of the trade disagree about it.
    """

    says: str
    abnormal: bool
    reasons: tuple[str, ...]
    confused_with: tuple[str, ...] = ()
    disputed: tuple[str, ...] = ()


class AnswerStep(NamedTuple):
    """One answer. `taken_back` are answers that count no longer, or again, `withdrawn` findings that are open again.

    `then` are the answers after it that are told together.
    """

    number: int
    row: Observation
    state: str
    look: Guess
    meaning: Guess
    part: Guess
    answer: str
    verdict: str
    failed: bool
    means: tuple[Meaning, ...]
    withdrawn: tuple[str, ...]
    taken_back: tuple[str, ...]
    bars: tuple[Bar, ...]
    causes: tuple[Bar, ...]
    confused_with: tuple[str, ...]
    then: tuple[AnswerStep, ...] = ()

    @property
    def last(self) -> int:
        """The number of the last answer that is known once it is told, and what is told with it."""
        return self.number + len(self.then)


def answer_steps(result: Diagnosis, stages: Sequence[SoFar], unit: str) -> tuple[AnswerStep, ...]:
    """A step for each answer of the case that is asked about, with those that follow; pressures in `unit`."""
    found = [
        _step(number, before, after, titles_shown(result, stages, number), unit)
        for number, (before, after) in enumerate(pairwise(stages), 1)
    ]
    return tuple(_gathered(found))


def _gathered(steps: Sequence[AnswerStep]) -> Iterator[AnswerStep]:
    """The first step and those that move most, each with the steps after it that are not asked about."""
    moving = sorted(steps[1:], key=lambda step: -max(abs(bar.after - bar.before) for bar in step.bars))
    asked = [*steps[:1], *sorted(moving[: MOST_ASKED - 1], key=lambda step: step.number)]
    for step, end in zip_longest(asked, (step.number - 1 for step in asked[1:])):
        yield step._replace(then=tuple(steps[step.number : end]))


def _step(number: int, before: SoFar, after: SoFar, shown: Mapping[str, str], unit: str) -> AnswerStep:
    row, result = after.answered, after.result
    assert row is not None  # noqa: S101  only the first stage has none, and it is nowhere the later one
    verdict = next((one for one in result.verdicts if one.observation.name == row.name), None)
    states = {state.name: state.text for state in result.assembly.states}
    was, now = settled(before), settled(after)
    rows = _newly_settled(result, was, now)
    means = tuple(_meaning(finding, place, result) for finding, place in rows)
    main = next((finding.says[place] for finding, place in rows if finding.is_evidence), means[0].says if means else "")
    return AnswerStep(
        number=number,
        row=row,
        state=states.get(row.state, ""),
        look=look_guess(before, row),
        meaning=meaning_guess(row, {one.says for one in means}, main, result),
        part=part_guess(shown, after),
        answer=capital(value_text(row, result.chaining.kept(row.name), unit)),
        verdict=_judged(verdict, result, unit),
        failed=verdict is not None and verdict.outcome == "fail",
        means=means,
        withdrawn=tuple(
            one.says[was[one.name]] for one in result.assembly.findings if one.name in was and one.name not in now
        ),
        taken_back=tuple(_taken_back(before, after, unit)),
        bars=standings(shown, before, after),
        causes=tuple(likeliest_causes(before, after)),
        confused_with=_taken_for(result, means),
    )


def _judged(verdict: Verdict | None, result: Diagnosis, unit: str) -> str:
    if verdict is None or verdict.limit is None:
        return ""
    said = verdict_text(verdict, unit)
    return f"{capital(said)} {cited(verdict.limit.sources, result.assembly)}" if said else ""


def _newly_settled(result: Diagnosis, was: Mapping[str, int], now: Mapping[str, int]) -> list[tuple[Finding, int]]:
    """The findings newly settled, each with its grade counted from 0: what is abnormal first, then what weighs.

    Advice that is not called for, and was not before, teaches nothing here.
    """
    findings = (row for row in result.assembly.findings if row.name in now)
    rows = [(row, now[row.name]) for row in findings if was.get(row.name) != now[row.name]]
    told = [(row, place) for row, place in rows if place or row.is_evidence or was.get(row.name)]
    return sorted(told, key=lambda item: (item[1] == 0, not item[0].is_evidence))


def _meaning(row: Finding, place: int, result: Diagnosis) -> Meaning:
    """A finding with the reasons of the rules that fired, else with what its being false rules out, and why."""
    reasons = Reasons(result.chaining, result.assembly.rules)
    judged = reasons.why(row.name, row.grades[place])
    rules = [used.rule for used in judged.rules]
    told = [f"{rule.reason} {cited(rule.sources, result.assembly)}" for rule in rules]
    if not told and row.reason_otherwise:
        told = [f"{row.reason_otherwise} [inference]"]
    elif not told:
        against = [rule.rule.reason for other in judged.others for rule in reasons.why(*other).rules]
        told = [f"{OPPOSITE} {one}" for one in against[:1]]
    confused = tuple(capital(rule.confused_with) for rule in rules if rule.confused_with)
    disputed = tuple(rule.disputed for rule in rules if rule.disputed)
    return Meaning(row.says[place], place > 0, tuple(told), confused, disputed)


def _taken_for(result: Diagnosis, means: Sequence[Meaning]) -> tuple[str, ...]:
    """What the findings are easily taken for: those of this answer, else those that speak for the leading part."""
    here = [text for one in means for text in one.confused_with]
    if not here and result.parts:
        speaking = {row.finding for row in result.parts[0].weights if row.decibans >= LEAST_DECIBANS}
        rules = [rule for row in result.found if row.abnormal and row.finding.name in speaking for rule in row.rules]
        here = [capital(rule.confused_with) for rule in rules if rule.confused_with]
    return tuple(dict.fromkeys(here))[:MOST_TAKEN_FOR]


def _taken_back(before: SoFar, after: SoFar, unit: str) -> Iterator[str]:
    """A sentence for each answer that ceases to count or counts again; what is worked out from readings is none."""
    for row in after.result.assembly.observations:
        if row.computed:
            continue
        if row.name in after.result.shut and row.name not in before.result.shut:
            because = _because(after.result.shut[row.name], after.result, unit)
            yield f"{capital(row.title)} does not count: {because}"
        elif row.name in before.result.shut and row.name not in after.result.shut:
            yield f"{capital(row.title)} counts now."


def _because(gate: Gate, result: Diagnosis, unit: str) -> str:
    if gate.kind == "asked when":
        return f"it only counts when {in_words(gate.premise, result.assembly, unit)}."
    judged = Reasons(result.chaining, result.assembly.rules).judge(gate.premise, gate.observations)
    return " ".join(dict.fromkeys(_grounds(judged, result, unit)))


def _grounds(judged: Judged, result: Diagnosis, unit: str) -> Iterator[str]:
    """What makes a premise true, a sentence each."""
    findings = {row.name: row for row in result.assembly.findings}
    for lower in judged.leads_to:
        row = findings[lower.finding]
        yield row.says[row.grades.index(lower.grade)]
    for part in judged.parts:
        yield from _grounds(part, result, unit)
    premise = judged.premise
    if isinstance(premise, Answered) and (given := str(result.chaining.kept(premise.observation))) in premise.answers:
        premise = premise._replace(answers=(given,))
    if isinstance(premise, (Answered, Measured)):
        yield f"{capital(in_words(premise, result.assembly, unit))}."


USUAL_PARTS, MOST_PARTS, MOST_CAUSES = 4, 6, 3
LEAST_PART, LEAST_OUTSIDE = 0.05, 0.3
# What a standing calls these.
NOTHING, UNLISTED = "nothing wrong", "unlisted"


class Bar(NamedTuple):
    """A probability before and after an answer."""

    title: str
    before: float
    after: float

    @property
    def moves(self) -> bool:
        """Whether one can read the difference in whole per cent."""
        return percent(self.before) != percent(self.after)


def titles_shown(result: Diagnosis, stages: Sequence[SoFar], so_far: int) -> dict[str, str]:
    """What has a bar after so many answers, with its title.

    Parts stand in the order of the assembly and are the same in every step, so that neither tells what comes. What
    lies outside them is added once it has become likely.
    """
    first = stages[0].result.standing.components
    most = {name: max(stage.result.standing.chance(name) for stage in stages) for name in first}
    usual = sorted(first, key=lambda name: -first[name])[:USUAL_PARTS]
    telling = sorted((name for name in most if most[name] >= LEAST_PART), key=lambda name: -most[name])[:MOST_PARTS]
    parts = {row.name: row.title for row in result.assembly.components if row.name in {*usual, *telling}}
    others = {row.name: row.text for row in result.assembly.causes if not row.component}
    others[UNLISTED] = result.assembly.unlisted.text
    likely = {name: title for name, title in others.items() if _was_likely(name, stages[: so_far + 1])}
    return {**parts, NOTHING: "nothing wrong in the assembly", **likely}


def _was_likely(name: str, stages: Sequence[SoFar]) -> bool:
    least = LEAST_UNLISTED if name == UNLISTED else LEAST_OUTSIDE
    return any(stage.result.standing.chance(name) >= least for stage in stages)


def standings(shown: Mapping[str, str], before: SoFar, after: SoFar) -> tuple[Bar, ...]:
    """The bars of two stages; `shown` has the title of each part or cause."""
    return tuple(
        Bar(title, before.result.standing.chance(name), after.result.standing.chance(name))
        for name, title in shown.items()
    )


def moved(bars: Sequence[Bar]) -> str:
    """The two largest moves in a sentence."""
    rows = sorted((bar for bar in bars if bar.moves), key=lambda bar: -abs(bar.after - bar.before))
    if not rows:
        return "The standings hardly move."
    told = "; ".join(f"{bar.title} from {percent(bar.before)} to {percent(bar.after)}" for bar in rows[:2])
    return f"{capital(told)}."


def likeliest_causes(before: SoFar, after: SoFar) -> Iterator[Bar]:
    """The likeliest causes in the assembly once the answer is known."""
    rows = [row for row in after.result.assembly.causes if row.component]
    rows.sort(key=lambda row: (-after.result.standing.causes[row.name], row.name))
    for row in rows[:MOST_CAUSES]:
        if after.result.standing.causes[row.name] >= LEAST_CAUSE:
            yield Bar(row.text, before.result.standing.causes[row.name], after.result.standing.causes[row.name])
