"""Ties: what is too close to be ranked."""

from __future__ import annotations

from collections.abc import Mapping

TIED_WITHIN = 2.0


def tie_groups(chances: Mapping[str, float]) -> list[list[str]]:
    """Names in groups, most probable group first, most probable name first in each.

    A group is led by its most probable member; whatever is at least half as probable belongs to it, so two causes
    within a factor of two of their group's leader are not ranked against each other. Equal names go by the alphabet.
    """
    groups: list[list[str]] = []
    leader = 0.0
    for name in sorted(chances, key=lambda name: (-chances[name], name)):
        if groups and chances[name] * TIED_WITHIN >= leader:
            groups[-1].append(name)
        else:
            groups.append([name])
            leader = chances[name]
    return groups
