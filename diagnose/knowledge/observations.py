"""Reading the `observations` of a rule file."""

from __future__ import annotations

from diagnose.knowledge.context import Context, local_name
from diagnose.knowledge.fields import Fields, as_text, complain, unknown
from diagnose.knowledge.premises import read_premises
from diagnose.knowledge.quantities import PRESSURE_UNITS, parse_pressure
from diagnose.knowledge.yamltext import Mapping, Node, Scalar
from diagnose.model.foreign import cut
from diagnose.model.premises import Gate
from diagnose.model.work import Observation

Rows = list[tuple[Observation, Fields]]


def declare_observations(file: Fields, context: Context) -> Rows:
    """Reads every observation and makes its name known; gates are read later, when all names are known."""
    rows: Rows = []
    for key, node in file.entries("observations"):
        name = local_name(key, "observations", context.problems)
        fields = Fields(node, f"observation '{name}'", context.problems)
        row = _observation(name, key, fields, context)
        if context.declare(name, key.place):
            rows.append((row, fields))
            if row.answers:
                context.vocabulary.answers[name] = tuple(answer for answer, _ in row.answers)
            else:
                context.vocabulary.readings.add(name)
    return rows


def read_gates(rows: Rows, context: Context) -> tuple[Gate, ...]:
    """The `asked when` and `void when` of the observations; also checks names that only now are known."""
    gates = []
    for row, fields in rows:
        for kind in ("asked when", "void when"):
            node = fields.get(kind)
            if node is not None:
                premise = read_premises(node, f"{fields.what}, {kind}", context)
                gates.append(Gate("asked when" if kind == "asked when" else "void when", premise, (row.name,)))
        for part in row.computed or ():
            if part not in context.vocabulary.readings:
                sentence = f"{fields.what}: there is no reading"
                unknown(context.problems, fields.at("computed"), sentence, part, context.vocabulary.readings)
        fields.done()
    return tuple(gates)


def _observation(name: str, key: Scalar, fields: Fields, context: Context) -> Observation:
    computed = fields.parsed("computed", _difference, None)
    answers = tuple(_answer(k, v, fields.what, context) for k, v in fields.entries("answers"))
    unit, low, high = _unit_and_range(fields, context)
    _one_form(fields)
    if isinstance(fields.get("answers"), Mapping) and len(answers) < 2:
        complain(context.problems, fields.at("answers"), f"{fields.what}: a question needs at least two answers")
    limit = fields.text("limit", "")
    if limit and limit not in context.vocabulary.limits:
        sentence = f"{fields.what}: no profile has a limit"
        unknown(context.problems, fields.at("limit"), sentence, limit, context.vocabulary.limits)
    asked = not fields.has("computed")
    return Observation(
        name=name,
        component="",
        title=fields.text("title"),
        question=fields.text("question", None if asked else ""),
        how=fields.text("how", None if asked else ""),
        answers=answers,
        unit="psid" if computed else unit,
        low=-high if computed else low,
        high=high,
        limit=limit,
        computed=computed,
        state=_state(fields, context, asked),
        minutes=fields.number("minutes", 0, 600, None if asked else 0.0),
        sources=context.sources(fields),
        place=key.place,
        only_in_service=fields.yes("only in service"),
        recorded=fields.text("on the record", ""),
    )


def _one_form(fields: Fields) -> None:
    forms = ("answers", "unit", "computed")
    if isinstance(fields.node, Mapping) and sum(map(fields.has, forms)) != 1:
        fields.miss(f"{fields.what}: exactly one of 'answers', 'unit' (a reading) and 'computed' is needed", *forms)


def _answer(key: Scalar, node: Node, what: str, context: Context) -> tuple[str, str]:
    return local_name(key, f"{what}, answers", context.problems), as_text(node, f"{what}, {key.text}", context.problems)


def _difference(text: str) -> tuple[str, str]:
    first, found, second = text.partition(" minus ")
    if not found:
        raise ValueError(f"expected 'READING minus READING', found '{cut(text)}'")
    return first.strip(), second.strip()


def _unit_and_range(fields: Fields, context: Context) -> tuple[str, float, float]:
    unit = fields.text("unit", "")
    if not unit:
        return "", 0.0, 1000.0
    if unit not in PRESSURE_UNITS:
        message = f"{fields.what}: unit '{cut(unit)}' is not read; write one of {', '.join(PRESSURE_UNITS)}"
        complain(context.problems, fields.at("unit"), message)
    if not fields.has("range"):
        fields.miss(f"{fields.what}: a reading needs a range, as in '0 psid to 15 psid'", "range")
    return (unit, *fields.parsed("range", _range, (0.0, 1000.0)))


def _range(text: str) -> tuple[float, float]:
    low, found, high = text.partition(" to ")
    if not found:
        raise ValueError(f"expected 'LOW to HIGH', as in '0 psid to 15 psid', found '{cut(text)}'")
    lowest, highest = parse_pressure(low), parse_pressure(high)
    if lowest >= highest:
        raise ValueError("the first pressure must be the smaller one")
    return lowest, highest


def _state(fields: Fields, context: Context, asked: bool) -> str:
    state = fields.text("state", None if asked else "")
    known = [row.name for row in context.settings.states]
    if state and state not in known:
        unknown(context.problems, fields.at("state"), f"{fields.what}: there is no state", state, known)
    return state
