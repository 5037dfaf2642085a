"""Inspections that may overlook a fault and may be repeated."""

from __future__ import annotations

from typing import NamedTuple


class Inspection(NamedTuple):
    """A place where the one fault may be: its probability, the chance to overlook it there, the cost of looking."""

    name: str
    chance: float
    overlook: float
    cost: float


def inspections_in_order(places: list[Inspection], count: int) -> list[str]:
    """The first `count` inspections with the least expected cost until the fault is found.

    Each time the place with the largest p a**m (1 - a) / c, where m inspections of it have failed (Blackwell's rule, in
    Chew 1967, Annals of Mathematical Statistics 38:494, abstract read). Ties go by name.

    Raises:
        ValueError: a cost is not positive, or a chance is not within 0..1.
    """
    for place in places:
        if place.cost <= 0 or not (0 <= place.chance <= 1 and 0 <= place.overlook <= 1):
            raise ValueError(f"{place.name} needs a positive cost and chances within 0..1")
    left = {place.name: place.chance for place in places}
    made: list[str] = []
    for _ in range(count if places else 0):
        best = min(places, key=lambda place: (-left[place.name] * (1 - place.overlook) / place.cost, place.name))
        made.append(best.name)
        left[best.name] *= best.overlook
    return made
