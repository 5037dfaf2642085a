"""What can be learnt of a rule base: for each part of a type how often it fails, and what share each cause has in that.

A part is known by the place at which its type's file defines it, so that a type which contains another learns with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import fsum, isclose
from pathlib import PurePath
from typing import NamedTuple

from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.model.work import Component


class Home(NamedTuple):
    """A part of a type as its file defines it: its `rate`, and the `shares` of its `causes`, which add up to 1."""

    file: str
    name: str
    title: str
    part: str
    rate: float
    causes: tuple[str, ...]
    shares: tuple[float, ...]


class Homes(NamedTuple):
    """All that can be learnt, and for each type where each of its causes belongs: (home, place among its causes).

    A cause is not there whose part has other numbers in this type than in the file that defines it.
    """

    rows: tuple[Home, ...]
    where: dict[str, dict[str, tuple[int, int]]]

    def beside(self, home: int) -> list[int]:
        """The parts that the same file defines: given a failure, the fault is divided among these."""
        return [number for number, row in enumerate(self.rows) if row.file == self.rows[home].file]


def homes_of(assemblies: Mapping[str, Assembly]) -> Homes:
    """What can be learnt about these types."""
    rows: dict[Place, Home] = {}
    for assembly in assemblies.values():
        for component in assembly.components:
            if component.name == own_name(component.name) and component.place.file == assembly.place.file:
                rows[component.place] = _home(component, assembly)
    numbers = {place: number for number, place in enumerate(rows)}
    where = {
        name: dict(_places(assembly, numbers, tuple(rows.values()))) for name, assembly in sorted(assemblies.items())
    }
    return Homes(tuple(rows.values()), where)


def _home(component: Component, assembly: Assembly) -> Home:
    causes = [row for row in assembly.causes if row.component == component.name]
    rate = fsum(row.rate for row in causes)
    file = PurePath(component.place.file)
    return Home(
        f"{file.parent.name}/{file.name}",
        component.name,
        component.title,
        component.part,
        rate,
        tuple(own_name(row.name) for row in causes),
        tuple(row.rate / rate if rate else 0.0 for row in causes),
    )


def _places(
    assembly: Assembly, numbers: Mapping[Place, int], rows: tuple[Home, ...]
) -> Iterable[tuple[str, tuple[int, int]]]:
    for component in assembly.components:
        number = numbers.get(component.place, -1)
        if number >= 0 and _alike(_home(component, assembly), rows[number]):
            for place, cause in enumerate(rows[number].causes):
                yield f"{component.name}.{cause}", (number, place)


def _alike(one: Home, other: Home) -> bool:
    return one.causes == other.causes and all(map(_close, (one.rate, *one.shares), (other.rate, *other.shares)))


def _close(one: float, other: float) -> bool:
    return isclose(one, other, rel_tol=1e-9)
