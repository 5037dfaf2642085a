"""Probabilities, factors, premises and sources as people can read them, and foreign text made fit to stand by them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from diagnose.knowledge.quantities import show_pressure
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer
from diagnose.model.causes import PLAIN_GRADES
from diagnose.model.foreign import clean
from diagnose.model.premises import All, Answered, AnyOf, Bound, Gate, Holds, Measured, Not, Premise
from diagnose.model.work import Caution, Observation

__all__ = ["NO_FAULT", "clean", "percent", "sentences", "short_caution", "times", "within"]

# What stands beside causes and parts where none is at fault.
NO_FAULT = "nothing wrong in the assembly itself"

# What is read standing, with wet hands: a sentence with more words is made two of.
MOST_WORDS = 25


def percent(probability: float) -> str:
    """A probability: whole per cent, with the ends kept open."""
    if probability < 0.005:
        return "under 1 %"
    if probability >= 0.995:
        return "over 99 %"
    return f"{probability * 100:.0f} %"


def times(factor: float) -> str:
    """A factor on odds: two figures, and never a false zero."""
    if factor >= 1000:
        return "over x1000"
    if factor < 0.001:
        return "under x0.001"
    return f"x{factor:.2g}" if factor < 9.95 else f"x{factor:.0f}"


def capital(text: str) -> str:
    """The text with a capital at its start."""
    return text[:1].upper() + text[1:]


def plural(number: int, noun: str) -> str:
    """`1 rule`, `3 rules`."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def odds(factor: float) -> str:
    """A factor on odds as a class reads it: below one by what they are divided by."""
    return times(factor) if factor >= 1 else times(1 / max(factor, 1e-9)).replace("x", "÷")


def sentences(items: Iterable[str], joint: str, again: str) -> str:
    """As in `a or b.`; where that would be too long to be read at once, `a. Or b.`."""
    told: list[str] = []
    for item in items:
        if told and len(f"{told[-1]}{joint}{item}".split()) <= MOST_WORDS:
            told[-1] += f"{joint}{item}"
        else:
            told.append(f"{again} {item}" if told else item)
    return f"{'. '.join(told)}."


def first_sentence(text: str) -> str:
    """The first sentence of a text, without the full stop."""
    return text.partition(". ")[0].rstrip(".")


def short_caution(caution: Caution) -> str:
    """A caution in one short sentence."""
    return f"{capital(first_sentence(caution.in_short or caution.text))}."


def within(text: str, title: str) -> str:
    """What is said of a part where its title stands beside it: `disc of the pump cut` -> `disc cut`."""
    return text.replace(f" of the {title}", "").replace(f" in the {title}", "") if title else text


def in_words(premise: Premise, assembly: Assembly, unit: str = "psid") -> str:
    """A premise as a clause, with the titles of observations and the sentences of findings."""
    match premise:
        case Answered(name, answers):
            return f"{_title(name, assembly)} is {' or '.join(_shown(name, answers, assembly))}"
        case Measured(name, relation, bound):
            return f"{_title(name, assembly)} is {relation} {bound_in_words(bound, unit)}"
        case Holds(name, grades):
            return _finding(name, grades, assembly)
        case Not(part):
            return f"not ({in_words(part, assembly, unit)})"
        case All(parts):
            return " and ".join(_nested(part, assembly, unit) for part in parts)
        case AnyOf(parts):
            return " or ".join(_nested(part, assembly, unit) for part in parts)


def value_text(row: Observation, value: str | float | None, unit: str) -> str:
    """An answer in words; pressures in `unit`."""
    if value is None:
        return "not answered"
    if isinstance(value, (int, float)):
        return show_pressure(value, unit)
    return dict(row.answers).get(value, value)


def why_not_counted(
    gate: Gate, because: Sequence[str], assembly: Assembly, unit: str, given: Mapping[str, Answer]
) -> str:
    """Why a gate sets an answer aside: what was found, or else its premise; of answers to avoid those `given`."""
    while_ = "It does not count while" if gate.kind == "void when" else "It counts only while"
    ways = gate.premise.parts if isinstance(gate.premise, AnyOf) else (gate.premise,)
    if gate.kind == "void when":
        ways = tuple(way._replace(answers=_given(way, given)) if isinstance(way, Answered) else way for way in ways)
        ways = tuple(way for way in ways if not isinstance(way, Answered) or way.answers) or ways
    words = _nested if len(ways) > 1 else in_words
    first, *others = (words(way, assembly, unit) for way in ways)
    return " ".join(because) or sentences([f"{while_} {first}", *others], " or ", "Or")


def _given(way: Answered, given: Mapping[str, Answer]) -> tuple[str, ...]:
    """Those of the answers that are asked for which stand in the case."""
    return tuple(
        answer for answer in way.answers if way.observation in given and given[way.observation].value == answer
    )


def bound_in_words(bound: Bound, unit: str) -> str:
    """`2.0 psid`, `the limit first check minimum plus 0.2 psid`."""
    terms = [f"the limit '{name.replace('_', ' ')}'" for name in bound.limits]
    if bound.amount or not terms:
        terms.append(show_pressure(bound.amount, unit))
    return " plus ".join(terms)


def cited(sources: tuple[str, ...], assembly: Assembly) -> str:
    """Sources in brackets, by key; a source known from memory says so."""
    marks = {row.key: row.mark for row in assembly.sources}
    return "[" + "; ".join(key + (", from memory" if marks.get(key) == "from memory" else "") for key in sources) + "]"


def _nested(part: Premise, assembly: Assembly, unit: str) -> str:
    words = in_words(part, assembly, unit)
    return f"({words})" if isinstance(part, (All, AnyOf)) else words


def _title(name: str, assembly: Assembly) -> str:
    return next((row.title for row in assembly.observations if row.name == name), name)


def _shown(name: str, answers: Sequence[str], assembly: Assembly) -> Iterator[str]:
    """Answers as people read them; where the words say more than the name, in quotation marks."""
    words = next((dict(row.answers) for row in assembly.observations if row.name == name), {})
    for answer in answers:
        said = words.get(answer, answer)
        yield said if said == answer.replace("_", " ") else f'"{said}"'


def _finding(name: str, grades: tuple[str, ...], assembly: Assembly) -> str:
    row = next(row for row in assembly.findings if row.name == name)
    if row.grades == PLAIN_GRADES:
        return row.title if grades == ("yes",) else f"not: {row.title}"
    return " or ".join(_as_clause(row.says[row.grades.index(grade)]) for grade in grades)


def _as_clause(text: str) -> str:
    """What is said first, to stand inside a sentence: `The disc sticks. Free it.` -> `the disc sticks`."""
    return f"{text[:1].lower()}{first_sentence(text[1:])}"
