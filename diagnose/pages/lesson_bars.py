"""The bars of a lesson: what was how likely before an answer, and after it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.diagnosis.growing import Stage
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import percent
from diagnose.diagnosis.worth_showing import LEAST_CAUSE, LEAST_UNLISTED
from diagnose.drawing.node_text import capital

USUAL_PARTS, MOST_PARTS, MOST_CAUSES = 4, 6, 3
LEAST_PART, LEAST_OUTSIDE = 0.05, 0.3
# What a standing calls these.
NOTHING, UNLISTED = "nothing wrong", "unlisted"


class Bar(NamedTuple):
    """A probability before and after an answer. `added`: there was no bar for it in the step before."""

    title: str
    before: float
    after: float
    added: bool = False

    @property
    def moves(self) -> bool:
        """Whether one can read the difference in whole per cent."""
        return percent(self.before) != percent(self.after)


def titles_shown(result: Diagnosis, stages: Sequence[Stage], so_far: int) -> dict[str, str]:
    """What has a bar after so many answers, with its title.

    Parts stand in the order of the assembly and are the same in every step, so that neither tells what comes. What
    lies outside them is added once it has become likely.
    """
    first = stages[0].result.standing.components
    most = {name: max(stage.result.standing.chance(name) for stage in stages) for name in first}
    usual = sorted(first, key=lambda name: -first[name])[:USUAL_PARTS]
    telling = sorted((name for name in most if most[name] >= LEAST_PART), key=lambda name: -most[name])[:MOST_PARTS]
    parts = {row.name: row.title for row in result.assembly.components if row.name in {*usual, *telling}}
    others = {row.name: row.text for row in result.assembly.causes if not row.component}
    others[UNLISTED] = result.assembly.unlisted.text
    likely = {name: title for name, title in others.items() if _was_likely(name, stages[: so_far + 1])}
    return {**parts, NOTHING: "nothing wrong in the assembly", **likely}


def _was_likely(name: str, stages: Sequence[Stage]) -> bool:
    least = LEAST_UNLISTED if name == UNLISTED else LEAST_OUTSIDE
    return any(stage.result.standing.chance(name) >= least for stage in stages)


def standings(shown: Mapping[str, str], before: Stage, after: Stage) -> tuple[Bar, ...]:
    """The bars of two stages; `shown` has the title of each part or cause."""
    return tuple(
        Bar(title, before.result.standing.chance(name), after.result.standing.chance(name))
        for name, title in shown.items()
    )


def moved(bars: Sequence[Bar]) -> str:
    """The two largest moves in a sentence."""
    rows = sorted((bar for bar in bars if bar.moves), key=lambda bar: -abs(bar.after - bar.before))
    if not rows:
        return "The standings hardly move."
    told = "; ".join(f"{bar.title} from {percent(bar.before)} to {percent(bar.after)}" for bar in rows[:2])
    return f"{capital(told)}."


def likeliest_causes(result: Diagnosis, before: Stage, after: Stage) -> Iterator[Bar]:
    """The likeliest causes in the assembly once the answer is known."""
    rows = [row for row in result.assembly.causes if row.component]
    rows.sort(key=lambda row: (-after.result.standing.causes[row.name], row.name))
    for row in rows[:MOST_CAUSES]:
        if after.result.standing.causes[row.name] >= LEAST_CAUSE:
            yield Bar(row.text, before.result.standing.causes[row.name], after.result.standing.causes[row.name])
