"""What a class guesses at each answer of a lesson: what to look at next, what the answer means, which part now."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import NamedTuple

from diagnose.diagnosis.answer import LIKELY
from diagnose.diagnosis.growing import SoFar
from diagnose.drawing.node_text import capital
from diagnose.engine.walking import names_in
from diagnose.model.assembly import Assembly
from diagnose.model.work import Observation

SETTLES_NOTHING = "By itself it settles nothing yet."
MOST_LOOKS, MOST_MEANINGS = 5, 4
# Parts whose chances differ by less than this are equally right.
NEARLY = 0.02


class Guess(NamedTuple):
    """What is asked, what the class may choose from, and the places of what is right, in the order of `choices`."""

    asked: str
    choices: tuple[str, ...]
    right: tuple[int, ...]

    @property
    def told(self) -> str:
        """What is right, in a line."""
        return " / ".join(self.choices[place].rstrip(".") for place in self.right) + "."


def look_guess(before: SoFar, row: Observation) -> Guess:
    """What to look at next: right is what the case goes on with, and what tells most without taking a part apart."""
    assembly = before.result.assembly
    taken_apart = {state.name for state in assembly.states if state.takes_apart}
    telling = [one.observation for one in before.result.questions]
    telling.sort(key=lambda one: one.state in taken_apart)
    others = [one for one in telling if one.name != row.name][: MOST_LOOKS - 1]
    chosen = {one.name for one in (row, *others)}
    rows = [one for one in assembly.observations if one.name in chosen]
    right = {row.name, *(one.name for one in telling[:1])}
    return _guess("What would you look at next?", [(capital(one.title), one.name in right) for one in rows])


def meaning_guess(row: Observation, says: Collection[str], main: str, assembly: Assembly) -> Guess:
    """What the answer means; `says` are the sentences that it settles, `main` the foremost of them, "" for none."""
    others = [text for text in _could_mean(row, assembly) if text not in says and text != main]
    shown = sorted({main or SETTLES_NOTHING, *others[: MOST_MEANINGS - 1]} - {SETTLES_NOTHING})
    rows = [(text, text == main) for text in shown]
    return _guess("What does the answer mean?", [*rows, (SETTLES_NOTHING, not main)])


def part_guess(shown: Mapping[str, str], after: SoFar) -> Guess:
    """Which part now: right are the likeliest, and each that is more likely faulty than not."""
    chances = {name: after.result.standing.chance(name) for name in shown}
    most = max(chances.values(), default=0.0)
    rows = [(capital(title), chances[name] >= min(most - NEARLY, LIKELY)) for name, title in shown.items()]
    return _guess("Which part now?", rows)


def _guess(asked: str, rows: list[tuple[str, bool]]) -> Guess:
    return Guess(asked, tuple(text for text, _ in rows), tuple(place for place, (_, right) in enumerate(rows) if right))


def _could_mean(row: Observation, assembly: Assembly) -> Iterator[str]:
    """The sentences of the evidence that rests on the observation itself."""
    resting = {rule.finding for rule in assembly.rules if row.name in names_in(rule.premise)}
    for one in assembly.findings:
        if one.name in resting and one.is_evidence:
            yield from reversed(one.says)
