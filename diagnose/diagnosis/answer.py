"""The answer in one sentence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from diagnose.belief.posterior import Standing
from diagnose.diagnosis.planning import is_suspected
from diagnose.diagnosis.rows import PartStanding, Ranked
from diagnose.diagnosis.wording import NO_FAULT, percent, sentences, within

# More likely than not.
LIKELY = 0.5
MOST_BESIDE = 3
TOGETHER = 0.3
STILL_TO_COME = (
    "Nothing that was seen so far points at a fault. What brought you here, or the rest of the field test, is still to "
    "be looked at."
)


class InWords(NamedTuple):
    """The answer in words, and the causes that it names."""

    text: str
    names: frozenset[str] = frozenset()


def answer_of(  # noqa: PLR0913  what it is made of
    standing: Standing,
    causes: Sequence[Ranked],
    conditions: Sequence[Ranked],
    parts: Sequence[PartStanding],
    anything_known: bool,
    *,
    complaint: bool = False,
) -> InWords:
    """What is most likely, with what is tied with it; never that an assembly is sound or safe.

    With a `complaint`, or a field test that is not finished, no number says that nothing is wrong.
    """
    if not anything_known:
        return InWords("Nothing that tells has been observed yet: answer questions first.")
    if standing.nothing_wrong >= LIKELY:
        words = _outside(standing, conditions, complaint=complaint)
        if words.names or complaint or not is_suspected(standing):
            return words
        return _nothing_or(standing, causes, parts[0])
    if standing.unlisted > parts[0].probability:
        return InWords(f"What was seen fits nothing that the rules know ({percent(standing.unlisted)}): observe more.")
    return _inside(causes, parts)


def _outside(standing: Standing, conditions: Sequence[Ranked], *, complaint: bool) -> InWords:
    instead = conditions[0] if conditions and conditions[0].probability >= TOGETHER else None
    if complaint and instead is None:
        return InWords(STILL_TO_COME)
    start = f"What was seen points at no fault in the assembly itself ({percent(standing.nothing_wrong)})"
    if instead is not None:
        text = f"{start}. Likely instead: {instead.cause.text} ({percent(instead.probability)})."
        return InWords(text, frozenset((instead.cause.name,)))
    return InWords(f"{start}. This is no test result.")


def _nothing_or(standing: Standing, causes: Sequence[Ranked], part: PartStanding) -> InWords:
    """A part is suspected, though it is as likely that nothing is wrong."""
    rows = _leading(causes, part)
    nothing = f"{NO_FAULT} ({percent(standing.nothing_wrong)})"
    each = _from(f"In {part.called},", part, rows)
    return InWords(
        f"Not yet told apart: {nothing} or {_named('', part)}. {each}", frozenset(row.cause.name for row in rows)
    )


def _inside(causes: Sequence[Ranked], parts: Sequence[PartStanding]) -> InWords:
    first, *others = parts
    also = [row for row in others if are_together(first.probability, row.probability)]
    rivals = [row for row in others if row.probability >= first.probability / 2]
    shown = [(row, _leading(causes, row)) for row in (first, *(also[:MOST_BESIDE] or rivals[:1]))]
    names = frozenset(row.cause.name for _, rows in shown for row in rows)
    if not also and not rivals:
        return InWords(_from(f"Most likely {_named('', first)}, from", *shown[0]), names)
    # As in `In the first flap, debris on its seat (52 %). In the second flap, a worn disc (30 %).`
    each = " ".join(_from(f"In {part.called},", part, rows) for part, rows in shown)
    if also:
        number = "Two" if len(also) == 1 else "Several"
        return InWords(f"{number} faults at once: {_named(' and ', first, *also)}. {each}", names)
    return InWords(f"Not yet told apart: {_named(' or ', first, rivals[0])}. {each}", names)


def are_together(*chances: float) -> bool:
    """Whether two things must often be there together: their probabilities overlap by what they exceed 1 by."""
    return sum(chances) - 1 >= TOGETHER


def _named(word: str, *parts: PartStanding) -> str:
    """`the first flap (93 %) and the second flap (80 %)`."""
    *before, last = (f"{row.called} ({percent(row.probability)})" for row in parts)
    return f"{', '.join(before)}{word if before else ''}{last}"


def _leading(causes: Sequence[Ranked], part: PartStanding) -> list[Ranked]:
    """The likeliest cause of a part, and the one that is tied with it."""
    inside = [row for row in causes if row.cause.component == part.name]
    return [inside[0], *(row for row in inside[1:2] if row.cause.name in inside[0].tied_with)]


def _from(lead: str, part: PartStanding, leading: Sequence[Ranked]) -> str:
    rows = [f"{within(row.cause.text, part.title)} ({percent(row.probability)})" for row in leading]
    both = are_together(*(row.probability for row in leading))
    return sentences((f"{lead} {rows[0]}", *rows[1:]), *((" and ", "And") if both else (" or ", "Or")))
