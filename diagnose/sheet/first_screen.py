"""The first screen: what is wrong, what to do now with its cautions, what to bring and what comes then; no more."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.answer import are_together
from diagnose.diagnosis.field_test import place_facts
from diagnose.diagnosis.looking import Weighed
from diagnose.diagnosis.result import Diagnosis, cautions_for
from diagnose.diagnosis.rows import is_raised
from diagnose.diagnosis.wording import (
    capital,
    clean,
    percent,
    plural,
    sentences,
    short_caution,
    why_not_counted,
    within,
)
from diagnose.diagnosis.worth_showing import LEAST_FOLDED, UNPROTECTED, is_sound, likely_parts, shown_causes
from diagnose.engine.walking import names_in
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.work import Caution
from diagnose.plan.repairs import Option, caution_names
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph
from diagnose.sheet.jobs import JobStep, cautions_of, jobs
from diagnose.sheet.planning import calls_for_work, next_sentence, tells_text

MOST_CAUTIONS = 3
MOST_PARTS = 4
MOST_THEN = 2
MOST_REASONS = 2
MOST_RIVALS = 2
MOST_NOTES = 2
MOST_LETTERS = 140
MOST_ALWAYS = 2
# With so many letters on the screen what may be instead gives way; what is there besides does not.
CROWDED = 1000
# A reason that makes the leading answer less than a third likelier is no reason for a first screen.
TELLING = 1.3
# What is come to less often than this has no line among what comes after.
SELDOM = 0.1
# A part that is needed this often is not given a chance beside its name.
NEARLY_ALWAYS = 0.9


# For those who type; a page leaves it out.
WAYS_ON = Paragraph("Work and all its cautions: --steps. Everything: --full. Ask: diagnose ask FILE")


class FirstScreen(NamedTuple):
    """What stands between head and foot: the step to do now with its cautions, what comes after it, and why."""

    now: tuple[Entry, ...]
    after: tuple[Entry, ...]
    facts: tuple[Entry, ...]


def first_screen(result: Diagnosis, unit: str = "psid") -> list[Block]:
    """The blocks of the screen."""
    rows = screen_rows(result, unit)
    return [*_head(result), Entries(rows.now + rows.after), Entries(rows.facts), *_foot(result)]


def screen_rows(result: Diagnosis, unit: str = "psid") -> FirstScreen:
    """The lines of the screen, for whatever shows them."""
    now, after = tuple(_now(result)), tuple(_notes(result))
    if calls_for_work(result):
        after += (*_bring(result), *_then(result))
    facts = (*_counted_out(result, unit), *_failed(result, unit), *_why(result))
    said = sum(len(row.text) for row in (*now, *after, *facts))
    return FirstScreen(now, after, facts + tuple(row for row in _also(result) if row.lead == "AND" or said < CROWDED))


def _head(result: Diagnosis) -> Iterator[Block]:
    case = result.case
    size = f" {case.size:g} in" if case.size else ""
    yield Heading(f"{case.type}{size}: {clean(case.title) or result.assembly.title}", 1)
    yield Paragraph(result.answer, strong=True)


def _notes(result: Diagnosis) -> Iterator[Entry]:
    """What has to be known at once, whatever the cause."""
    reasons = {reason for row in result.set_aside for reason in row.because}
    barring = _barring(result)
    rows = [row for row in result.found if row.abnormal and (row.is_note or row.finding.name in barring)]
    # What forbids to open anything comes first.
    rows = sorted((row for row in rows if row.says not in reasons), key=lambda row: row.finding.name not in barring)
    for row in rows[:MOST_NOTES]:
        yield Entry("NOTE", row.says)


def _barring(result: Diagnosis) -> set[str]:
    """The findings that keep everybody out of a state."""
    return {name for row in result.assembly.states if row.not_while for name in names_in(row.not_while)}


def _now(result: Diagnosis) -> Iterator[Entry]:
    """One check or one repair, and the cautions of that step alone."""
    if not result.case.answers:
        yield Entry(
            "DO NOW",
            "Answer what diagnose ask FILE asks, one question at a time, or take the field test and fill it in.",
        )
        return
    check = result.advice.check
    if check is not None:
        how = _first_sentences(check.observation.how)
        is_next_in_test = not check.saves and check.observation.name in result.rest_of_test
        on = "Go on with the field test. " if is_next_in_test else ""
        yield Entry("DO NOW", f"{on}{check.observation.question} {how}", (_check_minutes(result, check),))
        yield from _cautions(result, cautions_of(result, check.observation))
    elif result.plan.first and calls_for_work(result):
        options = result.plan.first
        yield Entry("DO NOW", " Then: ".join(_repair(option) for option in options), _in_state(result, options[0]))
        states = {row.name: row for row in result.assembly.states}
        names = {name for option in options for name in caution_names(option.repair, states)}
        yield from _cautions(result, names)
    else:
        yield Entry("DO NOW", next_sentence(result, result.advice, bool(result.plan.first)))
        yield from _cautions(result, set())


def _first_sentences(text: str) -> str:
    """As many whole sentences as fit into the room of a first screen, one at the least."""
    found, *others = text.split(". ")
    for sentence in others:
        if len(found) + len(sentence) > MOST_LETTERS:
            return f"{found}."
        found = f"{found}. {sentence}"
    return found


def _check_minutes(result: Diagnosis, check: Weighed) -> str:
    reaching = f", and {check.reaching:.0f} min to get there" if check.reaching else ""
    state = next((row.text for row in result.assembly.states if row.name == check.observation.state), "")
    return f"{check.observation.minutes:g} min{reaching}: {state}. {tells_text(result, check)}"


def _repair(option: Option) -> str:
    return f"{capital(option.repair.title)}, about {option.minutes:.0f} min. Chance of cure: {percent(option.chance)}."


def _in_state(result: Diagnosis, option: Option) -> tuple[str, ...]:
    states = [row.text for row in result.assembly.states if row.name in option.repair.states]
    return (f"{'; '.join(states)}.",) if states else ()


def _cautions(result: Diagnosis, names: set[str]) -> Iterator[Entry]:
    """Those of the step, danger to life first; what depends on the site and is not known shares one line.

    Danger to life is always told; what else does not fit here stands inside the numbered work.
    """
    if any(result.chaining.value_of(premise) for premise in result.assembly.no_protection):
        names = names | {UNPROTECTED}
    rows = sorted(cautions_for(result, names), key=lambda row: not row.caution.danger)
    unsure = [row.caution for row in rows if not row.known and row.caution.danger]
    known = [row.caution for row in rows if row.known]
    most = max(MOST_CAUTIONS - bool(unsure), sum(caution.danger for caution in known))
    yield from (Entry("!", short_caution(caution)) for caution in known[:most])
    yield from _unsure(unsure)


def _unsure(rows: Sequence[Caution]) -> Iterator[Entry]:
    """Warnings of which nobody has told whether they apply, in one line."""
    if rows:
        yield Entry("!", f"Is it so here? {' '.join(map(short_caution, rows))}")


def _bring(result: Diagnosis) -> Iterator[Entry]:
    rows = [row for row in result.plan.load.parts if row.bring][:MOST_PARTS]
    if rows:
        told = (row.part if row.chance >= NEARLY_ALWAYS else f"{row.part} ({percent(row.chance)})" for row in rows)
        yield Entry("BRING", sentences(told, ", ", "Also"))


def _then(result: Diagnosis) -> Iterator[Entry]:
    """What comes after, a line each."""
    titles = {row.name: row.title for row in result.assembly.repairs}
    done = {row.repair.name for row in result.plan.first} if result.advice.check is None else set()
    steps = [step for step in result.plan.order.steps if step.comes_to_it >= LEAST_FOLDED and step.attempt.cures]
    lead = "THEN"
    likely = [step for step in steps if step.attempt.name not in done and step.comes_to_it >= SELDOM]
    for step in likely[:MOST_THEN]:
        title = capital(titles[step.attempt.name])
        yield Entry(lead, f"{title} ({step.minutes - step.attempt.parts_minutes:.0f} min).")
        lead = ""
    if steps:
        yield Entry(lead, f"{re.split('[:.]', result.assembly.retest)[0]}.")


def _counted_out(result: Diagnosis, unit: str) -> Iterator[Entry]:
    by_reason: dict[str, list[str]] = {}
    place = place_facts(result.assembly)
    for row in [row for row in result.set_aside if row.observation.name not in place]:
        why = why_not_counted(row.gate, row.because, result.assembly, unit, dict(result.case.answers))
        by_reason.setdefault(why, []).append(row.observation.title)
    for why, titles in by_reason.items():
        yield Entry("VOID", f"{sentences([f'Not counted: {titles[0]}', *titles[1:]], ', ', 'Also')} {why}")


def _failed(result: Diagnosis, unit: str) -> Iterator[Entry]:
    for row in [row for row in result.verdicts if row.outcome == "fail" or row.near]:
        limit = f" ({row.limit.relation} {show_pressure(row.limit.amount, unit)})" if row.limit else ""
        near = ", within the gauge's accuracy of the limit" if row.near else ""
        yield Entry(row.outcome.upper(), f"{row.observation.title} {show_pressure(row.value, unit)}{limit}{near}")
    for row in result.verdicts:
        if row.is_unjudged:
            others = plural(len(row.failed_by), "other")
            reading = f"{row.observation.title} {show_pressure(row.value, unit)}"
            yield Entry(
                "NOTE", f"This profile states no limit for the {reading}, which {others} would fail: choose one."
            )


def _why(result: Diagnosis) -> Iterator[Entry]:
    subject = result.nothing_weights if is_sound(result) else likely_parts(result)[0].weights
    told = {reason for row in result.set_aside for reason in row.because}
    says = [result.says[row.finding] for row in subject if row.factor >= TELLING and row.finding in result.says]
    barring = _barring(result)
    rows = [row for row in result.found if row.abnormal and row.finding.is_evidence]
    seen = [row.says for row in rows if row.finding.name not in barring]
    says = [text for text in says or seen if text not in told]
    if says:
        yield Entry("WHY", " ".join(says[:MOST_REASONS]))


def _also(result: Diagnosis) -> Iterator[Entry]:
    """The next causes: those that must be there beside the first, by their probabilities, and those instead of it.

    What lies outside is held against the part, whose fault it may bring to light.
    """
    named = result.answered.names
    if not named:
        return
    rows = [row for row in shown_causes(result) if row.cause.name not in named][:MOST_RIVALS]
    likely = likely_parts(result)
    beside = [row for row in rows if are_together(result.causes[0].probability, row.probability)]
    instead = [row for row in rows if row not in beside]
    for row in [row for row in result.conditions if is_raised(row) and not is_sound(result)][:1]:
        (beside if are_together(likely[0].probability, row.probability) else instead).append(row)
    parts = {row.name for row in likely}
    for word, some in (("AND", beside), ("OR", instead)):
        texts = (within(row.cause.text, row.part) if parts == {row.cause.component} else row.cause.text for row in some)
        told = [f"{text} {percent(row.probability)}" for text, row in zip(texts, some, strict=True)]
        if told:
            yield Entry(word, sentences(told, "; ", word.capitalize()))


def _foot(result: Diagnosis) -> Iterator[Block]:
    yield WAYS_ON
    always = [row for row in result.assembly.cautions if row.always]
    told = [short_caution(row) for row in always[:MOST_ALWAYS]]
    laid = f" with own rules: {clean(result.ready.overlay)}" if result.ready.overlay else ""
    yield Paragraph(" ".join([*told, f"Judged by {result.profile.title}. Rule base {result.rule_base}{laid}."]))


def steps_page(result: Diagnosis) -> list[Block]:
    """The numbered work of the next look and of the repairs to begin with, each caution at the step where it bites."""
    blocks: list[Block] = [*_head(result)]
    work = jobs(result)
    if not work:
        blocks.append(Paragraph(next_sentence(result, result.advice, can_repair=False)))
    for job in work:
        blocks.append(Heading(f"{job.opening}: {job.title}" if job.opening else job.title))
        if job.about:
            blocks.append(Paragraph(job.about))
        rows = (row for number, step in enumerate(job.steps, 1) for row in _step(number, step))
        blocks.append(Entries(tuple(rows)))
        if job.parts:
            blocks.append(Paragraph(f"Parts: {', '.join(job.parts)}."))
        if job.retest:
            blocks.append(Paragraph(f"Retest: {job.retest}"))
    return blocks


def _step(number: int, step: JobStep) -> Iterator[Entry]:
    """A step with what is to be read before it; what depends on the place and is not known shares one line."""
    yield from (Entry("!", row.caution.text) for row in step.cautions if row.known)
    yield from _unsure([row.caution for row in step.cautions if not row.known])
    yield Entry(f"{number}.", step.text)
