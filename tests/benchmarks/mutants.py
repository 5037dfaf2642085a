"""Small changes to what rules ask, each of which should make some case beside the rules come out otherwise."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.model.premises import All, Answered, AnyOf, Bound, Holds, Measured, Not, Premise, Relation

STEP = 0.1  # psi: what readings are written to
OPPOSITE: dict[Relation, Relation] = {
    "at least": "below",
    "below": "at least",
    "above": "at most",
    "at most": "above",
}
AT_THE_BOUND: dict[Relation, Relation] = {
    "at least": "above",
    "above": "at least",
    "below": "at most",
    "at most": "below",
}


class Mutant(NamedTuple):
    """A changed premise, and what was changed, for people."""

    what: str
    premise: Premise


class Choices(NamedTuple):
    """The answers of each observation in words, and the grades of each finding."""

    answers: Mapping[str, tuple[str, ...]]
    grades: Mapping[str, tuple[str, ...]]


def mutants(premise: Premise, choices: Choices) -> Iterator[Mutant]:
    """Every change to a premise: its opposite, and one place in it changed. In the same order for every component."""
    if isinstance(premise, All | AnyOf):
        yield Mutant("the opposite of the whole", Not(premise))
    yield from _inside(premise, choices)


def _inside(premise: Premise, choices: Choices) -> Iterator[Mutant]:
    match premise:
        case All(parts) | AnyOf(parts):
            yield from _joined(premise, parts, choices)
        case Not(part):
            if isinstance(part, All | AnyOf):
                yield Mutant("without 'not'", part)
            yield from (Mutant(what, Not(changed)) for what, changed in _inside(part, choices))
        case Measured():
            yield from _measured(premise)
        case Answered(name, listed):
            yield from _chosen(premise, name, listed, choices.answers[name])
        case Holds(name, listed):
            yield from _chosen(premise, name, listed, choices.grades[name])


def _joined(premise: All | AnyOf, parts: tuple[Premise, ...], choices: Choices) -> Iterator[Mutant]:
    one_of, every = type(premise), AnyOf if isinstance(premise, All) else All
    if len(parts) > 1:
        yield Mutant("'any' for 'all'" if one_of is All else "'all' for 'any'", every(parts))
    for place, part in enumerate(parts):
        others = parts[:place], parts[place + 1 :]
        if len(parts) > 1:
            yield Mutant(f"without {_said(part)}", one_of(others[0] + others[1]))
        for what, changed in _inside(part, choices):
            yield Mutant(what, one_of((*others[0], changed, *others[1])))


def _measured(premise: Measured) -> Iterator[Mutant]:
    said, (amount, limits) = _said(premise), premise.bound
    for relation in (OPPOSITE[premise.relation], AT_THE_BOUND[premise.relation]):
        yield Mutant(f"'{relation}' in {said}", premise._replace(relation=relation))
    for step in (STEP, -STEP):
        yield Mutant(f"{step:+.1f} psid in {said}", premise._replace(bound=Bound(round(amount + step, 6), limits)))


def _chosen(premise: Answered | Holds, name: str, listed: tuple[str, ...], known: Sequence[str]) -> Iterator[Mutant]:
    """The opposite, one word left out, and the first word exchanged for the next one that is not listed."""
    said = _said(premise)
    yield Mutant(f"the opposite of {said}", Not(premise))
    for word in listed if len(listed) > 1 else ():
        yield Mutant(f"without '{word}' in {said}", type(premise)(name, tuple(one for one in listed if one != word)))
    others = [word for word in known if word not in listed]
    if len(known) > 2 and others:
        after = known.index(listed[0])
        put = min(others, key=lambda word: (known.index(word) - after) % len(known))
        yield Mutant(f"'{put}' for '{listed[0]}' in {said}", type(premise)(name, (put, *listed[1:])))


def _said(premise: Premise) -> str:
    """As it stands in a rule file, in one line."""
    match premise:
        case Answered(name, words) | Holds(name, words):
            return f"{name}: {words[0]}" if len(words) == 1 else f"{name}: [{', '.join(words)}]"
        case Measured(name, relation, (amount, limits)):
            terms = [f"limit {limit}" for limit in limits] + ([f"{amount:g} psid"] if amount or not limits else [])
            return f"{name}: {{{relation}: {' plus '.join(terms)}}}"
        case All(parts) | AnyOf(parts):
            joining = " and " if isinstance(premise, All) else " or "
            return f"({joining.join(map(_said, parts))})"
        case Not(part):
            return f"not {_said(part)}"
