"""The answer in one sentence."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.belief.posterior import Standing
from diagnose.diagnosis.rows import PartStanding, Ranked
from diagnose.diagnosis.wording import percent, within

# More likely than not.
LIKELY = 0.5
TOGETHER = 0.3
STILL_TO_COME = (
    "Nothing that was seen so far points at a fault. What brought you here, or the rest of the field test, is still to "
    "be looked at."
)


def answer_sentence(  # noqa: PLR0913  what it is made of
    standing: Standing,
    causes: Sequence[Ranked],
    conditions: Sequence[Ranked],
    parts: Sequence[PartStanding],
    anything_known: bool,
    *,
    complaint: bool = False,
) -> str:
    """What is most likely, with what is tied with it; never that an assembly is sound or safe.

    With a `complaint`, or a field test that is not finished, no number says that nothing is wrong.
    """
    if not anything_known:
        return "Nothing that tells has been observed yet: answer questions first."
    if standing.nothing_wrong >= LIKELY:
        return _outside(standing, conditions, complaint=complaint)
    if standing.unlisted > parts[0].probability:
        return f"What was seen fits nothing that the rules know ({percent(standing.unlisted)}): observe more."
    return _inside(causes, parts)


def _outside(standing: Standing, conditions: Sequence[Ranked], *, complaint: bool) -> str:
    instead = conditions[0] if conditions and conditions[0].probability >= TOGETHER else None
    if complaint and instead is None:
        return STILL_TO_COME
    start = f"What was seen points at no fault in the assembly itself ({percent(standing.nothing_wrong)})"
    if instead is not None:
        return f"{start}. Likely instead: {instead.cause.text} ({percent(instead.probability)})."
    return f"{start}. This is no test result."


def _inside(causes: Sequence[Ranked], parts: Sequence[PartStanding]) -> str:
    first, *others = parts
    # Two probabilities that add up to more than 1 must overlap by at least the excess.
    also = [row for row in others if first.probability + row.probability - 1 >= TOGETHER]
    rivals = [row for row in others if row.probability >= first.probability / 2]
    if len(also) > 1:
        more = ", ".join(f"the {row.title} ({percent(row.probability)})" for row in also[1:])
        return f"Several faults at once: {_part(first, causes)}; {_part(also[0], causes)}; and {more}."
    if also:
        return f"Two faults at once: {_part(first, causes)}; and {_part(also[0], causes)}."
    if rivals:
        return f"Not yet told apart: {_part(first, causes)}; or {_part(rivals[0], causes)}."
    return f"Most likely {_part(first, causes)}."


def _part(part: PartStanding, causes: Sequence[Ranked]) -> str:
    """`the first flap (93 %): debris on its seat (52 %) or a worn disc (30 %)`."""
    inside = [row for row in causes if row.cause.component == part.name]
    tied = [row for row in inside[1:2] if row.cause.name in inside[0].tied_with]
    rows = [(within(row.cause.text, part.title), percent(row.probability)) for row in [inside[0], *tied]]
    both = sum(row.probability for row in [inside[0], *tied]) - 1 >= TOGETHER
    named = (" and " if both else " or ").join(f"{text} ({chance})" for text, chance in rows)
    return f"the {part.title} ({percent(part.probability)}), from {named}"
