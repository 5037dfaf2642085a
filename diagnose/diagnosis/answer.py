"""The answer in one sentence."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.belief.posterior import Standing
from diagnose.diagnosis.rows import PartStanding, Ranked
from diagnose.diagnosis.wording import percent, sentences, within

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
    if also:
        number = "Two" if len(also) == 1 else "Several"
        return f"{number} faults at once: {_named(' and ', first, *also)}. {_each(causes, first, also[0])}"
    if rivals:
        return f"Not yet told apart: {_named(' or ', first, rivals[0])}. {_each(causes, first, rivals[0])}"
    return _from(f"Most likely {_named('', first)}, from", first, causes)


def _named(word: str, *parts: PartStanding) -> str:
    """`the first flap (93 %) and the second flap (80 %)`."""
    *before, last = (f"the {row.title} ({percent(row.probability)})" for row in parts)
    return f"{', '.join(before)}{word if before else ''}{last}"


def _each(causes: Sequence[Ranked], *parts: PartStanding) -> str:
    """As in `In the first flap, debris on its seat (52 %). In the second flap, a worn disc (30 %).`."""
    return " ".join(_from(f"In the {row.title},", row, causes) for row in parts)


def _from(lead: str, part: PartStanding, causes: Sequence[Ranked]) -> str:
    """A sentence of the likeliest cause of a part, and of the one that is tied with it."""
    inside = [row for row in causes if row.cause.component == part.name]
    tied = [row for row in inside[1:2] if row.cause.name in inside[0].tied_with]
    rows = [f"{within(row.cause.text, part.title)} ({percent(row.probability)})" for row in [inside[0], *tied]]
    both = sum(row.probability for row in [inside[0], *tied]) - 1 >= TOGETHER
    return sentences((f"{lead} {rows[0]}", *rows[1:]), *((" and ", "And") if both else (" or ", "Or")))
