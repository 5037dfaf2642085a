"""What a consultation shows, as blocks: questions, what answers would do, states to go into, standings, lists."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.consulting.stepping import EnterState
from diagnose.consulting.talking import KEY_WORDS, Option
from diagnose.diagnosis.field_test import place_facts
from diagnose.diagnosis.looking import Weighed, telling
from diagnose.diagnosis.planning import states_at
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Ranked, is_raised
from diagnose.diagnosis.wording import NO_FAULT, clean, percent
from diagnose.diagnosis.worth_showing import shown_causes
from diagnose.knowledge.quantities import PRESSURE_UNITS, show_pressure
from diagnose.knowledge.words import expected
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer
from diagnose.model.work import Caution, Observation, State
from diagnose.plan.repairs import way_into
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph, Steps
from diagnose.sheet.explain import Explainer
from diagnose.sheet.page import stage_text
from diagnose.sheet.planning import tells_text

MOST_NAMED = 3

GOING_ON: tuple[Option, ...] = (
    ("go on", "go into this state"),
    ("stay", "stay, and ask what is left here"),
    ("plan", "ask no more, and see the plan"),
)


def state_of(assembly: Assembly, name: str) -> State:
    """A state of the assembly by its name."""
    return next(row for row in assembly.states if row.name == name)


def shown_unit(row: Observation, unit: str) -> str:
    """The unit to show a reading in: its own, unless another system of units was asked for."""
    return row.unit if unit == "psid" else unit


def question_page(assembly: Assembly, row: Observation, unit: str) -> Iterator[Block]:
    """A question, how to look, what it takes, and its possible answers."""
    yield Heading(row.question or row.title, 1)
    if row.state:
        yield Paragraph(row.how)
        yield Paragraph(f"{row.minutes:g} min; {state_of(assembly, row.state).text}.")
    if row.answers:
        yield numbered(row.answers)
        return
    low, high = (show_pressure(bound, shown_unit(row, unit)) for bound in (row.low, row.high))
    yield Paragraph(f"A reading with its unit ({', '.join(PRESSURE_UNITS)}), from {low} to {high}.")


def numbered(options: Sequence[Option]) -> Entries:
    """Options with their numbers, in the words that they stand for."""
    return Entries(tuple(Entry(str(number), meaning) for number, (_, meaning) in enumerate(options, 1)))


def cautions_page(assembly: Assembly, state: str, rows: Sequence[Caution], reached: str = "") -> Iterator[Block]:
    """Warnings to read before anything is done in a state, and how to get there from the state reached."""
    if rows:
        yield Heading("Cautions first")
        yield Paragraph(f"For this state: {state_of(assembly, state).text}.")
        yield Entries(tuple(Entry("!", row.text) for row in rows))
    steps = way_into(state, {row.name: row for row in assembly.states}, reached)
    if steps:
        yield Heading("Then, to get there" if rows else "To get there", 3)
        yield Steps(steps)


def entering_question(assembly: Assembly, step: EnterState) -> str:
    """What is to be decided before going deeper."""
    text = stage_text(assembly, step.stage.state, [step.stage.component])
    return f"Nothing more pays where you are. Next: {text}."


def entering_page(assembly: Assembly, step: EnterState, size: float) -> Iterator[Block]:
    """What lies deeper, and what it takes to get there at a nominal size in inches."""
    state = next(row for row in states_at(assembly, size) if row.name == step.stage.state)
    yield Heading(entering_question(assembly, step), 1)
    titles = "; ".join(row.observation.title for row in step.questions[:MOST_NAMED])
    more = len(step.questions) - MOST_NAMED
    if titles:
        there = f"Worth looking at there: {titles}" + (f"; and {more} more." if more > 0 else ".")
    elif _is_tested_in(assembly, state.name):
        there = "There the readings of the field test are taken."
    else:
        there = f"It is a step of the field test: {step.check.title}."
    yield Paragraph(f"Reaching it takes about {state.minutes:g} min from an assembly in service. {there}")


def _is_tested_in(assembly: Assembly, state: str) -> bool:
    return any(row.limit and row.state == state for row in assembly.observations)


def worth_page(result: Diagnosis, step: EnterState) -> Iterator[Block]:
    """What each question of a deeper state is expected to save."""
    if not step.questions:
        tested = _is_tested_in(result.assembly, step.stage.state)
        told = "The readings of the field test are taken there: no repair is judged without them."
        yield Paragraph(told if tested else f"{step.check.question} It is a step of the field test.")
        return
    yield Paragraph("What the questions there are expected to save, the way to them counted:")
    yield Entries(
        tuple(
            Entry(f"{row.saves or 0:.0f} min", row.observation.title, (tells_text(result, row),))
            for row in step.questions
        )
    )


def reason_line(result: Diagnosis, worth: Weighed) -> Iterator[Block]:
    """Why a question is asked, in a line."""
    yield Paragraph(f"{tells_text(result, worth)} Expected to save {worth.saves or 0:.0f} min.")


def standings_page(result: Diagnosis) -> Iterator[Block]:
    """How things stand: the answer, and the leading causes by the names that `w` takes."""
    yield Heading("Standings", 1)
    yield Paragraph(result.answer)
    rows = [_standing(row) for row in shown_causes(result)]
    rows.append(Entry(percent(result.nothing_wrong), NO_FAULT))
    rows.append(Entry(percent(result.unlisted), result.assembly.unlisted.text))
    rows += [_standing(row) for row in result.conditions if is_raised(row)][:MOST_NAMED]
    yield Entries(tuple(rows))
    shown = shown_causes(result)
    names = [row.cause.name for row in shown[1:] if row.cause.name in result.rivals]
    if names:
        yield Paragraph(f"Not ranked against the first, since within a factor of two of it: {', '.join(names)}.")


def _standing(row: Ranked) -> Entry:
    return Entry(percent(row.probability), f"{row.cause.name}: {row.cause.text}")


def why_page(result: Diagnosis, name: str, unit: str) -> list[Block]:
    """The page of `diagnose why`, for a cause, site condition, part or finding; "" means the leading cause.

    Raises:
        ValueError: nothing has that name, with the nearest that is.
    """
    explainer = Explainer(result, unit)
    if name in explainer.findings:
        return explainer.finding(name)
    row = explainable(result, name)
    if row is None:
        known = [row.cause.name for row in (*result.causes, *result.conditions)]
        known += [row.name for row in result.assembly.components]
        raise ValueError(f"no cause, part or finding is named '{clean(name)[:40]}'; {expected(name, known)}")
    return explainer.why(row)


def explainable(result: Diagnosis, name: str) -> Ranked | None:
    """A cause or condition by name, or the leading cause of a part, or of all."""
    rows = (*result.causes, *result.conditions)
    return next((row for row in rows if name in {row.cause.name, row.cause.component, ""}), None)


def answers_of(result: Diagnosis) -> list[Option]:
    """Every answer of the case: name -> title and what was said, for a numbered list."""
    titles = {row.name: row.title for row in result.assembly.observations}
    return [(name, f"{titles[name]}: {answer.written}") for name, answer in result.case.answers]


def not_counting(before: Diagnosis, after: Diagnosis) -> Iterator[Block]:
    """A word on answers that the last one set aside, but for what only decides which cautions apply."""
    earlier = {row.observation.name for row in before.set_aside} | {*place_facts(after.assembly)}
    titles = [row.observation.title for row in after.set_aside if row.observation.name not in earlier]
    if titles:
        yield Paragraph(f"Not counted as things stand, but kept: {', '.join(titles)}.")


def new_notes(before: Diagnosis, after: Diagnosis) -> Iterator[Block]:
    """What has to be known at once: conclusions that an answer brought and that are no evidence for a cause."""
    known = {row.finding.name for row in before.found if row.abnormal}
    says = [row.says for row in after.found if row.is_note and row.finding.name not in known]
    if says:
        yield Entries(tuple(Entry("!", text) for text in says))


def kept_line(row: Observation, answer: Answer) -> str:
    """What was taken down."""
    meaning = dict(row.answers).get(answer.written, answer.written)
    return f"Noted: {row.title}: {clean(meaning)}."


def help_page() -> Iterator[Block]:
    """What can be typed."""
    yield Heading("What you can type", 1)
    yield Paragraph(
        "The number of an answer; or its word, of which a beginning is enough when it fits one answer only; or a "
        "reading with its unit, as in 4.2 psid or 29 kPa. A single letter is always one of these:"
    )
    yield Entries(
        tuple(
            Entry(row.key, f"{f'({row.key} {row.takes}) ' if row.takes else ''}{row.does} ({', '.join(row.words)})")
            for row in KEY_WORDS
        )
    )


MOST_MOVED = 3
LEAST_MOVE = 0.02
SAMPLES = 4
STEP = 0.1

Chances = dict[str, float]


def outlook_page(result: Diagnosis, row: Observation, unit: str, worth: Weighed | None) -> Iterator[Block]:
    """What a question tells, by its `worth` where that is known, and what would follow from each answer."""
    outcomes = [(shown, _with(result, row, value)) for value, shown in trials(result, row, unit)]
    now = _chances(result)
    yield Heading("Why this is asked", 1)
    worth = worth or next((telling(result.looking, one) for one in result.questions if one.observation == row), None)
    moves = worth is not None and bool(worth.separates)
    told = tells_text(result, worth) if worth is not None and moves else "No answer by itself moves a part much."
    yield Paragraph(f"{told} A field test takes this reading." if row.limit else told)
    yield Entries(tuple(Entry("", f"{shown}:", _moves(now, _chances(after))) for shown, after in outcomes))


def trials(result: Diagnosis, row: Observation, unit: str) -> list[tuple[str | float, str]]:
    """The answers to try; of a reading some over its range, and one on each side of its limit (psi)."""
    if row.answers:
        return [*row.answers]
    limit = result.profile.amounts().get(row.limit)
    top = row.high if limit is None else min(row.high, 3 * limit)
    values = {round(row.low + (top - row.low) * place / SAMPLES, 1) for place in range(SAMPLES + 1)}
    values |= set() if limit is None else {limit, round(limit - STEP, 6)}
    return [
        (value, f"at {show_pressure(value, shown_unit(row, unit))}")
        for value in sorted(values)
        if row.low <= value <= row.high
    ]


def _with(result: Diagnosis, row: Observation, value: str | float) -> Diagnosis:
    answers = dict(result.case.answers) | {row.name: Answer(value, str(value))}
    return Diagnosis(result.ready, result.case._replace(answers=tuple(answers.items())))


def _chances(result: Diagnosis) -> Chances:
    rows = {row.cause.text: row.probability for row in (*result.causes, *result.conditions)}
    return rows | {NO_FAULT: result.nothing_wrong, result.assembly.unlisted.text: result.unlisted}


def _moves(now: Chances, after: Chances) -> tuple[str, ...]:
    moved = sorted(now, key=lambda name: (-abs(after[name] - now[name]), name))[:MOST_MOVED]
    told = [f"{name}: {percent(now[name])} -> {percent(after[name])}" for name in moved if _is_move(now, after, name)]
    return tuple(told) or ("hardly changes anything",)


def _is_move(now: Chances, after: Chances, name: str) -> bool:
    return abs(after[name] - now[name]) >= LEAST_MOVE
