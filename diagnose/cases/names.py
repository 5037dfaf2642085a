"""The names that a case may use, looked up and not searched for: a large rule base has many, and many cases."""

from __future__ import annotations

from collections.abc import Callable, Collection
from functools import cached_property
from typing import NamedTuple

from diagnose.knowledge.fields import MARKS, Problems, as_number
from diagnose.knowledge.yamltext import Node
from diagnose.model.assembly import Assembly
from diagnose.model.work import Observation

NOTHING = "nothing"
NOTHING_WRONG = "nothing wrong"
UNLISTED = "unlisted"
NOT_DETERMINED = "not determined"
MOST_KEPT = 32


class Names:
    """What is known of one type, by name; each index is made when it is first asked for."""

    def __init__(self, assembly: Assembly) -> None:
        self.assembly = assembly

    @cached_property
    def observations(self) -> dict[str, Observation]:
        """Every observation."""
        return {row.name: row for row in self.assembly.observations}

    def of_today(self, name: str) -> tuple[str, dict[str, str]]:
        """The observation in place of a retired one, under whatever prefix, with the answers called otherwise now.

        ("", {}) where no such name is retired, or nothing of this type stands in its place.
        """
        for old, new, answers in self.assembly.retired:
            prefix = name.removesuffix(old)
            if name.endswith(old) and prefix[-1:] in ("", ".") and prefix + new in self.observations:
                return prefix + new, dict(answers)
        return "", {}

    @cached_property
    def grades(self) -> dict[str, tuple[str, ...]]:
        """Every finding with its grades."""
        return {row.name: row.grades for row in self.assembly.findings}

    @cached_property
    def rules(self) -> frozenset[str]:
        """Every rule."""
        return frozenset(row.name for row in self.assembly.rules)

    @cached_property
    def standing(self) -> frozenset[str]:
        """Everything that a ranking has a place for."""
        return frozenset([*self.causes, *(row.name for row in self.assembly.components), NOTHING_WRONG, UNLISTED])

    @cached_property
    def causes(self) -> dict[str, str]:
        """Every cause with its component, "" for a site condition."""
        return {row.name: row.component for row in self.assembly.causes}

    @cached_property
    def repairs(self) -> frozenset[str]:
        """Every repair, and none."""
        return frozenset([*(row.name for row in self.assembly.repairs), NOTHING])


_kept: dict[int, Names] = {}


def names_of(assembly: Assembly) -> Names:
    """The names of a type, kept by identity: comparing two types would take longer than indexing one."""
    found = _kept.get(id(assembly))
    if found is None:
        if len(_kept) >= MOST_KEPT:
            _kept.clear()
        found = _kept[id(assembly)] = Names(assembly)  # holds the assembly, so that its identity is not given away
    return found


class CaseScope(NamedTuple):
    """The names that a case of one type may use, and the problems found in it."""

    assembly: Assembly
    problems: Problems

    def known(self, of: str) -> Collection[str]:
        """The names of a list, as the format calls it."""
        assembly, names = self.assembly, names_of(self.assembly)
        if of == "source":
            return [*(row.key for row in assembly.sources), *MARKS]
        if of == "component":
            return [row.name for row in assembly.components]
        if of in {"profile", "state"}:
            return [row.name for row in (assembly.profiles if of == "profile" else assembly.states)]
        indexes: dict[str, Callable[[], Collection[str]]] = {
            "observation": lambda: names.observations,
            "finding": lambda: names.grades,
            "rule": lambda: names.rules,
            "standing": lambda: names.standing,
            "repair or nothing": lambda: names.repairs,
            "check or nothing": lambda: {*names.observations, NOTHING},
        }
        return indexes[of]()

    def probability(self, node: Node, what: str) -> float:
        """A number between 0 and 1; no case has any."""
        return as_number(node, what, self.problems, 0, 1)
