"""Walking through a premise to what it asks for in the end."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.model.premises import All, Answered, AnyOf, Holds, Measured, Not, Premise


def leaves(premise: Premise) -> Iterator[Answered | Measured | Holds]:
    """The parts of a premise that ask for an observation or a finding, from left to right."""
    if isinstance(premise, All | AnyOf):
        for part in premise.parts:
            yield from leaves(part)
    elif isinstance(premise, Not):
        yield from leaves(premise.part)
    else:
        yield premise


def names_in(premise: Premise) -> set[str]:
    """The names of the observations and findings that a premise asks for."""
    return {leaf.finding if isinstance(leaf, Holds) else leaf.observation for leaf in leaves(premise)}
