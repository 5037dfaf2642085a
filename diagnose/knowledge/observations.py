"""Reading the `observations` of a rule file."""

from __future__ import annotations

from typing import Literal

from diagnose.knowledge.context import Context
from diagnose.knowledge.fields import Fields, unknown
from diagnose.knowledge.premises import read_premises
from diagnose.knowledge.yamltext import Scalar
from diagnose.model.premises import Gate
from diagnose.model.work import Observation

Rows = list[tuple[Observation, Fields]]
GATES: tuple[Literal["asked when", "void when"], ...] = ("asked when", "void when")


def declare_observations(file: Fields, context: Context) -> Rows:
    """Reads every observation and makes its name known; gates are read later, when all names are known."""
    rows: Rows = []
    for key, fields in file.things("observations"):
        row = _observation(key, fields)
        if context.declare(row.name, key.place):
            rows.append((row, fields))
            if row.answers:
                context.vocabulary.answers[row.name] = tuple(answer for answer, _ in row.answers)
            else:
                context.vocabulary.readings.add(row.name)
    return rows


def read_gates(rows: Rows, context: Context) -> tuple[Gate, ...]:
    """The `asked when` and `void when` of the observations; also checks names that only now are known."""
    gates = []
    for row, fields in rows:
        for kind in GATES:
            node = fields.get(kind)
            if node is not None:
                gates.append(Gate(kind, read_premises(node, f"{fields.what}, {kind}", context), (row.name,)))
        for part in row.computed or ():
            if part not in context.vocabulary.readings:
                sentence = f"{fields.what}: there is no reading"
                unknown(context.problems, fields.at("computed"), sentence, part, context.vocabulary.readings)
    return tuple(gates)


def _observation(key: Scalar, fields: Fields) -> Observation:
    computed, (low, high) = fields["computed"], fields["range"]
    return Observation(
        name=key.text,
        component="",
        title=fields["title"],
        question=fields["question"],
        how=fields["how"],
        answers=tuple((answer.text, text) for answer, text in fields["answers"]),
        unit="psid" if computed else fields["unit"],
        low=-high if computed else low,
        high=high,
        limit=fields["limit"],
        computed=computed,
        state=fields["state"],
        minutes=fields["minutes"],
        sources=fields["source"],
        place=key.place,
        only_in_service=fields["only in service"],
        recorded=fields["on the record"],
    )
