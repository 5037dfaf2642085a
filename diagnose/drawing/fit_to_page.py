"""As much as a page of the usual size holds: what a band has no room for is given up, one thing after the other."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from diagnose.drawing.graph import MOST_NODES, Graph
from diagnose.drawing.placing import overfull
from diagnose.drawing.selection import Room

# What is given up, in this order, where a band does not fit the page or there are too many nodes: (kind, at most).
GIVEN_UP: dict[str, tuple[tuple[str, int], ...]] = {
    "seen": (("observations", 5), ("observations", 4), ("observations", 3), ("observations", 2)),
    "means": (("findings", 5), ("findings", 4), ("findings", 3), ("findings", 2)),
    "wrong": (
        *(("conditions", 1), ("modes", 3), ("causes", 4), ("modes", 2), ("causes", 3)),
        *(("conditions", 0), ("causes", 2), ("modes", 1)),
    ),
    "do": (("repairs", 2), ("repairs", 1)),
    "all": (("conditions", 1), ("modes", 3), ("repairs", 2), ("observations", 5), ("findings", 5), ("causes", 4)),
}


def fitted(drawn: Callable[[Room], Graph], room: Room) -> Graph:
    """The picture with the most room, this or less, at which it fits; with the least where none does."""
    while True:
        graph = drawn(room)
        smaller = less_room(room, overfull(graph) or (["all"] if len(graph.nodes) > MOST_NODES else []))
        if smaller == room:
            return graph
        room = smaller


def less_room(room: Room, crowded: Iterable[str]) -> Room:
    """The room with one thing less for each crowded band; the same where nothing is left to give up."""
    for band in crowded:
        step = next(((kind, most) for kind, most in GIVEN_UP[band] if getattr(room, kind) > most), None)
        if step is not None:
            room = room._replace(**dict([step]))
    return room
