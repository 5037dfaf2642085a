"""What two versions of the rule base make of one case: the leader, the probabilities, the plan and the cautions."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.model.places import Place

# A ranking that moved by less than this, with the same leader, has moved only a little.
LITTLE = 0.03


class Move(NamedTuple):
    """The probability of a cause before and after; None where the version does not know it."""

    name: str
    text: str
    old: float | None
    new: float | None


class Otherwise(NamedTuple):
    """Something that has another value than before."""

    name: str
    old: str
    new: str


class CaseChange(NamedTuple):
    """How one case comes out otherwise.

    `distance`, from 0 to 1, is the total variation distance of the two rankings: the probabilities of all causes, of
    "nothing wrong" and of "unlisted" are scaled to add up to 1, and half of the sum of their differences is taken.
    The leader is the likeliest of these, site conditions left out. `first` and `then` are the titles of the repairs.
    """

    name: str
    place: Place
    type: str
    distance: float
    leader: tuple[Move, Move]
    moves: tuple[Move, ...]
    readings: tuple[Otherwise, ...]
    findings: tuple[Otherwise, ...]
    first: tuple[tuple[str, ...], tuple[str, ...]]
    then: tuple[tuple[str, ...], tuple[str, ...]]
    cautions_gone: tuple[str, ...]
    cautions_new: tuple[str, ...]

    @property
    def leads_otherwise(self) -> bool:
        """Whether another cause leads."""
        return self.leader[0].name != self.leader[1].name

    @property
    def begins_otherwise(self) -> bool:
        """Whether the first repairs are others, or a reading is judged otherwise."""
        return self.first[0] != self.first[1] or bool(self.readings)

    @property
    def is_little(self) -> bool:
        """Whether nothing that a person would do or judge is another, and the ranking moved by less than LITTLE."""
        same = not (self.leads_otherwise or self.begins_otherwise or self.cautions_gone or self.cautions_new)
        return same and self.distance < LITTLE

    @property
    def order(self) -> tuple[bool, bool, float, str]:
        """Sorts the biggest change first: another leader, then another beginning, then the greater distance."""
        return not self.leads_otherwise, not self.begins_otherwise, -self.distance, self.name
