"""Walking through a premise to what it asks for in the end."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.model.premises import All, Answered, AnyOf, Holds, Measured, Not, Premise


def leaves(premise: Premise) -> Iterator[Answered | Measured | Holds]:
    """The parts of a premise that ask for an observation or a finding, from left to right."""
    waiting: list[Premise] = [premise]
    while waiting:
        part = waiting.pop()
        if isinstance(part, All | AnyOf):
            waiting.extend(reversed(part.parts))
        elif isinstance(part, Not):
            waiting.append(part.part)
        else:
            yield part


def names_in(premise: Premise) -> set[str]:
    """The names of the observations and findings that a premise asks for."""
    return {leaf.finding if isinstance(leaf, Holds) else leaf.observation for leaf in leaves(premise)}
