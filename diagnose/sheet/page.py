"""A diagnosis laid out as a sheet, read from the top: answer, causes, readings, why, what is unknown, what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.diagnosis.outcomes import OpenQuestion
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found, Weight, is_raised
from diagnose.diagnosis.verdicts import Verdict
from diagnose.diagnosis.wording import NO_FAULT, capital, cited, clean, percent, times, value_text, why_not_counted
from diagnose.diagnosis.worth_showing import (
    LEAST_CAUSE,
    LEAST_DECIBANS,
    LEAST_MODE,
    is_sound,
    likely_parts,
    shown_causes,
)
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.assembly import Assembly
from diagnose.plan.parts import SECOND_TRIP
from diagnose.plan.repairs import Option
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph, Steps
from diagnose.sheet.jobs import AFTER_A_REPAIR, IN_ONE_GO, Job, jobs
from diagnose.sheet.planning import check_blocks, next_sentence, order_blocks, parts_blocks

MOST_EXPLAINED = 3
MOST_TOGETHER = 4
MOST_QUESTIONS = 5
MOST_LOOKS = 3
LETTERS = "ABC"


def sheet(result: Diagnosis, unit: str = "psid") -> list[Block]:
    """The blocks of the sheet; pressures in `unit`."""
    return [
        *_head(result),
        *_set_aside(result, unit),
        *_causes(result),
        *_readings(result, unit),
        *_why(result),
        *_questions(result),
        *_to_do(result),
        *_foot(result),
    ]


def _head(result: Diagnosis) -> Iterator[Block]:
    case = result.case
    yield Heading(clean(case.title) or f"{case.type}: {result.assembly.title}", 1)
    size = f", {case.size:g} in" if case.size else ""
    yield Paragraph(f"{case.type}{size}. Judged by: {result.profile.title} ({result.profile.name}).")
    if result.ready.overlay:
        yield Paragraph(f"Own rules are laid over the shipped ones: {clean(result.ready.overlay)}.")
    if case.state:
        yield Paragraph(f"State, as the case says: {stage_text(result.assembly, case.state, case.parts)}.")
    if case.notes:
        yield Paragraph(f"Notes: {clean(case.notes)}")
    yield Heading("Answer")
    yield Paragraph(result.answer, strong=True)
    yield Paragraph(_first_step(result))
    yield from _notes(result)


def stage_text(assembly: Assembly, state: str, parts: Sequence[str] = ()) -> str:
    """A state in words, with the parts that it is about."""
    titles = [row.title for row in assembly.components if row.name in parts]
    text = next(row.text for row in assembly.states if row.name == state)
    return f"{', '.join(titles)}: {text}" if titles else text


def _notes(result: Diagnosis) -> Iterator[Block]:
    """What the rules conclude besides: findings that are no evidence for a cause but have to be known."""
    notes = [row for row in result.found if row.is_note]
    if notes:
        yield Heading("Note", 3)
        yield Entries(tuple(Entry("*", row.says, _reasons(row, result)) for row in notes))


def _reasons(row: Found, result: Diagnosis) -> tuple[str, ...]:
    """The reason of the first rule that concluded a finding, and whatever is disputed in any."""
    reasons = tuple(f"{rule.reason} {cited(rule.sources, result.assembly)}" for rule in row.rules[:1])
    return reasons + tuple(f"Disputed: {rule.disputed}" for rule in row.rules if rule.disputed)


def _first_step(result: Diagnosis) -> str:
    told = next_sentence(result, result.advice, bool(result.plan.first))
    if is_sound(result) or not result.plan.first:
        return f"{told} Nothing calls for opening the assembly yet. Read the cautions before touching anything."
    named = "; then ".join(
        f"{row.repair.title} (cures {percent(row.chance)}, about {row.minutes:.0f} min)" for row in result.plan.first
    )
    start = "First" if result.advice.check is None else "If nothing more is asked, first"
    return f"{told} {start}: {named}. Read the cautions before touching anything."


def _set_aside(result: Diagnosis, unit: str) -> Iterator[Block]:
    rows = []
    for row in result.set_aside:
        shown = value_text(row.observation, result.chaining.kept(row.observation.name), unit)
        why = why_not_counted(row.gate, row.because, result.assembly, unit, dict(result.case.answers))
        rows.append(Entry("", f"{row.observation.title}: {shown}", (why,)))
    if rows:
        yield Heading("Not counted")
        yield Paragraph("These answers tell nothing as things stand; mend what spoils them and take them again.")
        yield Entries(tuple(rows))


def _causes(result: Diagnosis) -> Iterator[Block]:
    yield Heading("Likely causes")
    shown = shown_causes(result)
    rows = [Entry(percent(row.probability), row.cause.text) for row in shown]
    rows.append(Entry(percent(result.nothing_wrong), NO_FAULT))
    rows.append(Entry(percent(result.unlisted), result.assembly.unlisted.text))
    yield Entries(tuple(rows))
    tied = [row.cause.text for row in shown if row.cause.name in result.rivals]
    if tied:
        yield Paragraph(
            f"Within a factor of two of the first, and the base rates are no better than that, so take them as tied "
            f"with it: {'; '.join(tied)}."
        )
    yield Heading("By part, and how it fails", 3)
    parts = [row for row in result.parts if row.probability >= LEAST_CAUSE][:5] or list(result.parts[:1])
    modes = [[f"{text} {percent(chance)}" for _, text, chance in row.modes if chance >= LEAST_MODE] for row in parts]
    rows = [Entry(percent(row.probability), row.title, tuple(own)) for row, own in zip(parts, modes, strict=True)]
    yield Entries(tuple(rows))
    around = [row for row in result.conditions if is_raised(row)]
    if around:
        yield Heading("Outside the assembly", 3)
        yield Entries(tuple(Entry(percent(row.probability), row.cause.text) for row in around[:5]))
    yield Heading("Taken together", 3)
    together = [row for row in result.combinations[:MOST_TOGETHER] if row[1] >= LEAST_CAUSE]
    rows = [Entry(percent(chance), _joint(names, result)) for names, chance in together or result.combinations[:1]]
    yield Entries(tuple(rows))


def _joint(names: tuple[str, ...], result: Diagnosis) -> str:
    texts = {row.cause.name: row.cause.text for row in (*result.causes, *result.conditions)}
    if not names:
        return "no cause at all: nothing wrong, and nothing outside"
    only = "only " if len(names) == 1 else ""
    return only + " and ".join(texts.get(name, result.assembly.unlisted.text) for name in names)


def _readings(result: Diagnosis, unit: str) -> Iterator[Block]:
    if result.verdicts:
        yield Heading("Readings")
        yield Entries(tuple(_reading(row, result, unit) for row in result.verdicts))


_OUTCOMES = {"pass": "pass", "fail": "FAIL", "no limit": "--", "not counted": "void"}


def _reading(row: Verdict, result: Diagnosis, unit: str) -> Entry:
    details = []
    if row.limit is not None:
        source = cited(row.limit.sources, result.assembly)
        details.append(f"limit: {row.limit.relation} {show_pressure(row.limit.amount, unit)} {source}")
    elif row.observation.limit:
        details.append("the chosen profile states no limit for it")
    if row.near and row.fails is not None:
        details.append(
            f"within the gauge's accuracy of the limit: {percent(row.fails)} chance that the true value fails it "
            "(JCGM 106:2012)"
        )
    if row.elsewhere:
        details.append(f"judged otherwise by: {', '.join(row.elsewhere)}")
    return Entry(_OUTCOMES[row.outcome], f"{row.observation.title}: {show_pressure(row.value, unit)}", tuple(details))


def _explained(result: Diagnosis) -> list[tuple[str, tuple[Weight, ...]]]:
    """What the section "Why" is about: the leading parts and causes, or "nothing wrong" with what is likely outside."""
    causes = [(row.cause.text, row.weights) for row in shown_causes(result) or result.causes[:1]]
    if not is_sound(result):
        parts = [(f"a fault of {row.called}", row.weights) for row in likely_parts(result)[:2]]
        return [*parts, *causes][:MOST_EXPLAINED]
    raised = [(row.cause.text, row.weights) for row in result.conditions if is_raised(row)]
    return [(NO_FAULT, result.nothing_weights), *raised[:1], *causes[:1]]


def _why(result: Diagnosis) -> Iterator[Block]:
    explained = _explained(result)
    found = {row.finding.name: row for row in result.found}
    order = [weight.finding for weight in explained[0][1] if weight.finding in found]
    if not order:
        return
    yield Heading("Why")
    keys = "; ".join(f"{letter} = {text}" for letter, (text, _) in zip(LETTERS, explained, strict=False))
    yield Paragraph(f"How each finding changed the odds of {keys}.")
    rows = [entry for name in order if (entry := _finding(found[name], explained, result))]
    yield Entries(tuple(rows))
    if len(rows) < len(order):
        yield Paragraph(f"{len(order) - len(rows)} more findings hardly change these odds.")


def _finding(row: Found, explained: list[tuple[str, tuple[Weight, ...]]], result: Diagnosis) -> Entry | None:
    """A finding with its factors and the reason behind it; None where it hardly counts."""
    factors = []
    for letter, (_, weights) in zip(LETTERS, explained, strict=False):
        weight = next((w for w in weights if w.finding == row.finding.name), None)
        if weight is not None and abs(weight.decibans) >= LEAST_DECIBANS:
            factors.append(f"{letter} {times(weight.factor)} ({weight.decibans:+.0f} db)")
    if not factors:
        return None
    return Entry("", row.says, (", ".join(factors), *_reasons(row, result)))


def _questions(result: Diagnosis) -> Iterator[Block]:
    if not result.questions:
        return
    yield Heading("Not known yet, and would tell most")
    for state in result.assembly.states:
        leading = result.questions[:MOST_QUESTIONS]
        rows = [_question(row) for row in leading if row.observation.state == state.name]
        if rows:
            yield Heading(capital(state.text), 3)
            yield Entries(tuple(rows))


def _question(row: OpenQuestion) -> Entry:
    answers = ", ".join(name for name, _ in row.observation.answers) or f"a reading in {row.observation.unit}"
    details = (f"{row.observation.how} {row.observation.minutes:g} min.", f"{row.observation.name}: {answers}")
    return Entry("?", row.observation.question, details)


def _to_do(result: Diagnosis) -> Iterator[Block]:
    yield Heading("What to do")
    yield Heading("Cautions first", 3)
    yield Entries(tuple(Entry("!", caution.text) for caution in result.cautions))
    yield from check_blocks(result, result.advice, bool(result.plan.first))
    if not result.plan.first:
        yield Paragraph("No repair is likely enough to name. Observe more before anything is opened.")
        return
    yield from order_blocks(result, result.plan)
    yield from parts_blocks(result.plan.load, SECOND_TRIP)
    for option, job in zip(result.plan.first, jobs(result, looking=False), strict=True):
        yield from _repair(option, job, result)


def _repair(option: Option, job: Job, result: Diagnosis) -> Iterator[Block]:
    repair = option.repair
    yield Heading(f"{job.opening if job.opening in {AFTER_A_REPAIR, IN_ONE_GO} else 'First'}: {repair.title}", 3)
    yield Paragraph(f"Cures it with a chance of {percent(option.chance)}; about {option.minutes:.0f} min.")
    states = [state for state in result.assembly.states if state.name in repair.states]
    if states:
        yield Paragraph(f"State of the assembly: {'; '.join(state.text for state in states)}.")
    reached = {state.name for state in states if state.minutes > 0}
    looks = [
        row.observation.question
        for row in result.questions
        if row.observation.component == repair.component and row.observation.state in reached
    ]
    if looks:
        yield Paragraph(
            f"Once there, look before anything is replaced: {' '.join(looks[:MOST_LOOKS])} Write the answers into the "
            "case and ask again: they may change what to do."
        )
    yield Steps(tuple(step.text for step in job.steps))
    if repair.parts:
        yield Paragraph(f"Parts: {', '.join(repair.parts)}.")
    if job.retest:
        yield Paragraph(f"Retest: {job.retest}")


def _own_records(result: Diagnosis) -> str:
    """From how many repairs of one's own the base rates of the parts in question come; "" where none do."""
    learned = {row.key: row.repairs for row in result.assembly.sources if row.repairs}
    titles = {row.name: row.title for row in result.assembly.components}
    causes = [row.cause for row in shown_causes(result) if learned.keys() & set(row.cause.sources)]
    if not causes:
        return ""
    named = ", ".join(dict.fromkeys(titles[cause.component] for cause in causes))
    number = max(learned[key] for cause in causes for key in cause.sources if key in learned)
    return f" Those of {named} come from {number:.0f} repairs of your own."


def _foot(result: Diagnosis) -> Iterator[Block]:
    laid = f" with the overlay {clean(result.ready.overlay)}" if result.ready.overlay else ""
    yield Heading("About these numbers")
    yield Paragraph(
        "The probabilities follow exactly from the rule base; its base rates are mostly estimates, good to a factor of "
        f"two at best.{_own_records(result)} At most three causes at once are weighed. "
        f"Rule base {result.rule_base}{laid}. {result.profile.explains}"
    )
