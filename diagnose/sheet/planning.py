"""The plan on a sheet: the next check or the word to begin, repairs in their order, parts to bring."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.looking import NOTHING, Advice, Hurry, Weighed, behind_its_cover
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import is_raised
from diagnose.diagnosis.wording import MOST_WORDS, NO_FAULT, capital, clean, percent, within
from diagnose.diagnosis.work import Work
from diagnose.diagnosis.worth_showing import LEAST_CAUSE, LEAST_FOLDED, is_sound
from diagnose.plan.order import Step
from diagnose.plan.parts import Load
from diagnose.plan.repairs import Plan
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph

MOST_CURED = 3
MOST_STEPS = 8
MOST_OTHERS = 3
# Below it a condition outside the assembly is named, and nobody is sent to mend it.
LEAST_CALL = 0.2
START = "Start repairing: nothing left to ask pays for its minutes."


def calls_for_work(result: Diagnosis) -> bool:
    """Whether there is something to mend, in the assembly or outside it."""
    outside = (row for row in result.conditions if is_raised(row) and row.probability >= LEAST_CALL)
    return not is_sound(result) or any(outside)


def next_sentence(result: Diagnosis, advice: Advice, can_repair: bool) -> str:
    """What to do now: the check that saves most, or to begin repairing."""
    if advice.check is None:
        if not calls_for_work(result):
            return "Nothing that was seen calls for a repair. Whether the assembly works, only a full field test tells."
        if not can_repair:
            return "Nothing left to ask pays for its minutes, and no repair is likely enough to name."
        if not any(row.repair.component for row in result.plan.first):
            return "Nothing left to ask pays for its minutes. Mend what lies outside the assembly, and test again."
        return START
    told = f"Next check, before any repair: {check_text(result, advice.check)}"
    there = behind_its_cover(result.assembly, advice.check, advice.weighed)
    most = max((row.saves or 0.0 for row in there), default=0.0)
    if most > (advice.check.saves or 0.0) + 1:
        told += f" It comes first, since a part is looked at as it lies; a look after it saves up to {most:.0f} min."
    return told


def check_text(result: Diagnosis, row: Weighed) -> str:
    """A check with its reason, its minutes and the state it needs."""
    observation = row.observation
    state = next((state.text for state in result.assembly.states if state.name == observation.state), "")
    minutes = f"{observation.minutes:g} min"
    if row.reaching:
        minutes += f" and {row.reaching:g} min to get there"
    saved = f" It is expected to save {row.saves:.0f} min." if row.saves else ""
    return f"{observation.question} {minutes}, {state}. {tells_text(result, row)}{saved}"


def tells_text(result: Diagnosis, row: Weighed) -> str:
    """What a check tells: `It separates the first flap from the second flap.` Of two long names only the first."""
    titles = {part.name: part.called for part in result.assembly.components}
    here = next((part for part in result.assembly.components if part.name == row.observation.component), None)
    titles |= {
        cause.name: f'"{within(cause.text, here.title) if here and cause.component == here.name else cause.text}"'
        for cause in result.assembly.causes
    }
    titles |= {NOTHING: NO_FAULT}
    named = [titles.get(name, result.assembly.unlisted.text) for name in row.separates]
    also = "It shows whether the readings count." if row.takes_back else ""
    told = f"It separates {named[0]} from {named[1]}." if len(named) > 1 else ""
    if named and not 0 < len(told.split()) <= MOST_WORDS:
        told = f"It tells most about {named[0]}."
    if not named and not also:
        told = "It changes which repair comes first."
    return " ".join(filter(None, (told, also)))


def plan_page(result: Diagnosis, work: Work) -> list[Block]:
    """The page of `diagnose plan`: the answer, what to do, cautions first."""
    cautions = Entries(tuple(Entry("!", row.text) for row in work.cautions))
    first = Heading("Cautions first"), cautions
    return [*_plan_head(result, work), *first, *_checks(result, work), *_repairs(result, work)]


def _plan_head(result: Diagnosis, work: Work) -> Iterator[Block]:
    case = result.case
    yield Heading(clean(case.title) or f"{case.type}: {result.assembly.title}", 1)
    yield Paragraph(result.answer, strong=True)
    terms = list(_terms(work, result))
    if terms:
        yield Paragraph(f"Planned {'; '.join(terms)}.")


def _terms(work: Work, result: Diagnosis) -> Iterator[str]:
    wishes, texts = work.wishes, {state.name: state.text for state in result.assembly.states}
    if work.minutes is not None:
        yield f"for {work.minutes:g} min at the clock"
    if wishes.have is not None:
        yield f"with no parts but {', '.join(sorted(wishes.have))}" if wishes.have else "without any parts"
    if wishes.state:
        yield f"from this state on: {texts[wishes.state]}"
    for name in sorted(wishes.closed):
        yield f"without going into this state or a deeper one: {texts[name]}"


def _checks(result: Diagnosis, work: Work) -> Iterator[Block]:
    yield Heading("What to check, what to repair")
    if work.advice is not None:
        yield from check_blocks(result, work.advice, bool(work.plan.first))
    elif work.hurry is not None:
        yield from _check_in_a_hurry(result, work.hurry)


def _check_in_a_hurry(result: Diagnosis, hurry: Hurry) -> Iterator[Block]:
    yield Heading("Next check", 3)
    if hurry.check is None:
        yield Paragraph("Within this time no check raises the chance to pass: repair at once.")
    else:
        gain = f"It raises the chance to pass in this time by {percent(hurry.gains)}."
        yield Paragraph(f"Next check, before any repair: {check_text(result, hurry.check)} {gain}")
        yield Paragraph(hurry.check.observation.how)


def _repairs(result: Diagnosis, work: Work) -> Iterator[Block]:
    if not work.plan.order.steps:
        yield Paragraph("On these terms no repair can be made, or none pays.")
    yield from order_blocks(result, work.plan)
    if work.hurry is not None and work.plan.order.steps:
        timed = work.hurry.timed
        told = f"All of it takes at most {timed.minutes:.0f} min and passes with a chance of {percent(timed.passes)}."
        yield Paragraph(told)
    if work.wishes.have is None:
        yield from parts_blocks(work.plan.load, work.wishes.second_trip)
    yield Paragraph("What each repair takes, step by step, stands on the sheet of the case (`diagnose find`).")


def check_blocks(result: Diagnosis, advice: Advice, can_repair: bool) -> Iterator[Block]:
    """The next check, or the word to begin, and the checks that come close."""
    yield Heading("Next check", 3)
    yield Paragraph(next_sentence(result, advice, can_repair))
    if advice.check is not None:
        yield Paragraph(advice.check.observation.how)
    others = [row for row in advice.weighed if row.saves and row.saves > 1 and row != advice.check]
    if others:
        yield Paragraph("Others that pay for their minutes:")
        yield Entries(tuple(Entry(f"{row.saves:.0f} min", row.observation.question) for row in others[:MOST_OTHERS]))


def order_blocks(result: Diagnosis, plan: Plan) -> Iterator[Block]:
    """Repairs in their order, each with its minutes, what it cures, and the chance that the test has passed by then."""
    steps = [step for step in plan.order.steps if step.comes_to_it >= LEAST_FOLDED][:MOST_STEPS]
    if not steps:
        return
    yield Heading("Repairs in this order, with the chance that the field test passes after each", 3)
    yield Entries(tuple(_step(number, step, result) for number, step in enumerate(steps, 1)))
    yield Paragraph(expected_sentence(result, plan))


def _step(number: int, step: Step, result: Diagnosis) -> Entry:
    if not step.attempt.cures:
        return Entry(percent(step.passes), f"{number}. Take the field test again, {_minutes(step)}.")
    title = next(row.title for row in result.assembly.repairs if row.name == step.attempt.name)
    details = [_cured(step, result)]
    if number > 1:
        details.append(f"It comes to this with a chance of {percent(step.comes_to_it)}.")
    return Entry(percent(step.passes), f"{number}. {capital(title)}, {_minutes(step)}.", tuple(details))


def _minutes(step: Step) -> str:
    told = f"{step.minutes - step.attempt.parts_minutes:.0f} min"
    return f"{told} with the retest" if step.retest else f"{told}, in one go with the next"


def _cured(step: Step, result: Diagnosis) -> str:
    chances = dict(step.attempt.cures)
    rows = [row for row in (*result.causes, *result.conditions) if row.cause.name in chances]
    rows.sort(key=lambda row: -row.probability * chances[row.cause.name])
    likely = [row for row in rows if row.probability >= LEAST_CAUSE][:MOST_CURED] or rows[:1]
    named = ", ".join(f"{row.cause.text} ({percent(chances[row.cause.name])})" for row in likely)
    return f"Cures: {named}."


def expected_sentence(result: Diagnosis, plan: Plan) -> str:
    """Minutes to expect until the test passes, and the chance that nothing of it helps."""
    retest = result.assembly.plan_minutes.retest
    told = (
        f"Expect about {plan.clock_minutes:.0f} min on average until it passes, {retest:g} min for each retest included"
    )
    told += f"; parts count as another {plan.parts_minutes:.0f} min." if plan.parts_minutes >= 1 else "."
    left = 1 - plan.order.passes()
    return f"{told} With a chance of {percent(left)} none of this is enough."


def parts_blocks(load: Load, below: float) -> Iterator[Block]:
    """Parts to bring and to leave, each with the chance that it is needed."""
    rows = [row for row in load.parts if row.chance >= LEAST_CAUSE or row.bring]
    if not rows:
        return
    yield Heading("Parts, with the chance that each is needed", 3)
    yield Entries(
        tuple(Entry(percent(row.chance), f"{row.part}: {'bring' if row.bring else 'can be left'}") for row in rows)
    )
    yield Paragraph(
        f"With those to bring the chance of a second trip is {percent(load.second_trip)}, below {percent(below)}. "
        "A part that does the work of others can stand in for them."
    )
