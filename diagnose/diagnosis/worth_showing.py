"""What is worth showing: one answer for sheet, page, picture, lesson and consultation.

How much room a page or picture has is its own affair; from which probability on something counts as likely, or as
worth a line at all, is not.
"""

from __future__ import annotations

from diagnose.diagnosis.answer import LIKELY
from diagnose.diagnosis.planning import is_suspected
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import PartStanding, Ranked

# A cause, a part or a combination below this probability has no line of its own.
LEAST_CAUSE = 0.02
# "Something the rules do not know" takes room from what they do know; the sheet, which has room, always names it.
LEAST_UNLISTED = 0.05
# Below this it is not even named among those that are folded together.
LEAST_FOLDED = 0.01
# A failure mode below this is left out where another one of its part is shown.
LEAST_MODE = 0.1
# A finding that moves the odds by less, in decibans, hardly counts: about an eighth more or less.
LEAST_DECIBANS = 0.5
MOST_CAUSES = 8
# The warning of the rule base that is said while an assembly is taken as giving no protection.
UNPROTECTED = "no_protection"


def shown_causes(result: Diagnosis) -> tuple[Ranked, ...]:
    """The causes worth a line, most probable first."""
    return tuple(row for row in result.causes[:MOST_CAUSES] if row.probability >= LEAST_CAUSE)


def likely_parts(result: Diagnosis) -> list[PartStanding]:
    """The parts that are more likely faulty than not; where there is none, the likeliest."""
    return [row for row in result.parts if row.probability >= LIKELY] or list(result.parts[:1])


def is_sound(result: Diagnosis) -> bool:
    """Whether it is more likely than not that nothing is wrong in the assembly itself, and no part is suspected.

    Or nothing any longer.
    """
    return result.is_mended or (result.nothing_wrong >= LIKELY and not is_suspected(result.standing))


def points_nowhere(result: Diagnosis) -> bool:
    """Whether nothing was wrong in the assembly itself: what has been mended was, and its part is named."""
    return is_sound(result) and not result.is_mended


def named_as_shown(result: Diagnosis, name: str) -> str:
    """The name of the cause or component that is shown in these words; else `name` itself."""
    shown = {row.cause.text.casefold(): row.cause.name for row in (*result.causes, *result.conditions)}
    shown |= {row.title.casefold(): row.name for row in result.parts}
    return shown.get(" ".join(name.casefold().rstrip(".").split()), name)


def ranked_by_name(result: Diagnosis, name: str) -> Ranked | None:
    """The cause or site condition of this name, or the likeliest cause of the component of this name.

    The words that a sheet or a picture shows are names too.
    """
    name = named_as_shown(result, name)
    rows = (*result.causes, *result.conditions)
    by_name = next((row for row in rows if row.cause.name == name), None)
    return by_name or next((row for row in result.causes if row.cause.component == name), None)
