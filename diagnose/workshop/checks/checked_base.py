"""A rule base with its cases, and what several checks ask of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from pathlib import Path

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.knowledge.files import files_below
from diagnose.knowledge.shipped import CASES_ENDING, RULES_ENDING
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.model.premises import Gate, Premise, Rule
from diagnose.workshop.checks.intervals import Interval
from diagnose.workshop.checks.overlaps import implied_pairs
from diagnose.workshop.checks.rules_made_true import places_made_true
from diagnose.workshop.checks.satisfiable import AnswerSpace, can_hold, limits_in
from diagnose.workshop.checks.source_places import SourcePlaces

Month = tuple[int, int]


class CheckedBase:
    """A rule base that was read without a problem. `month` is the one that it is checked in: year and month."""

    def __init__(
        self, folders: Sequence[Path], ready: Mapping[str, Ready], cases: Sequence[BesideCase], month: Month
    ) -> None:
        self.folders, self.ready, self.cases, self.month = tuple(folders), ready, cases, month
        self.assemblies = {name: row.assembly for name, row in ready.items()}
        self.places = SourcePlaces()
        self._types: dict[str, PremisesOfType] = {}

    def type_of(self, name: str) -> PremisesOfType:
        """One type of assembly, with what premises can be on it."""
        if name not in self._types:
            self._types[name] = PremisesOfType(self.assemblies[name])
        return self._types[name]

    @cached_property
    def made_true(self) -> set[Place]:
        """The places of the rules that some case makes true."""
        return places_made_true(self.ready, self.cases)

    @cached_property
    def rules(self) -> dict[Place, list[tuple[str, Rule]]]:
        """Each rule as it is written, with the types that have it and what it is called there."""
        return self._by_place((name, row) for name, assembly in self.assemblies.items() for row in assembly.rules)

    @cached_property
    def contradictory(self) -> dict[Place, Rule]:
        """The rules whose premises hold together for no component, type and set of limits."""
        open_ = {place: rows for place, rows in self.rules.items() if place not in self.made_true}
        return {
            place: rows[0][1]
            for place, rows in open_.items()
            if not any(self.type_of(name).can_hold([(rule.premise, True)]) for name, rule in rows)
        }

    @cached_property
    def implied_pairs(self) -> list[tuple[Rule, Rule, bool]]:
        """Rules about one finding of which the second holds wherever the first does; and whether both hold together."""
        found: list[tuple[Rule, Rule, bool]] = []
        seen: set[tuple[Place, Place]] = set()
        for name, assembly in self.assemblies.items():
            found += implied_pairs(assembly.rules, self.type_of(name).implies, seen)
        return found

    @staticmethod
    def _by_place(rows: Iterable[tuple[str, Rule]]) -> dict[Place, list[tuple[str, Rule]]]:
        found: dict[Place, list[tuple[str, Rule]]] = {}
        for name, row in rows:
            found.setdefault(row.place, []).append((name, row))
        return found

    def files(self, name: str = "") -> Iterator[str]:
        """The rule files with this name below a folder of the rule base; all of them where none is given."""
        for folder, path in self._paths:
            if not path.name.endswith(CASES_ENDING) and name in ("", path.relative_to(folder).as_posix()):
                yield str(path)

    def files_in(self, name: str) -> Iterator[str]:
        """The rule files in the folder of this name below a folder of the rule base."""
        for folder, path in self._paths:
            if not path.name.endswith(CASES_ENDING) and path.relative_to(folder).parent.as_posix() == name:
                yield str(path)

    def every_file(self) -> Iterator[str]:
        """The rule files and the files of cases."""
        return (str(path) for _, path in self._paths)

    @cached_property
    def _paths(self) -> list[tuple[Path, Path]]:
        return [(folder, path) for folder in self.folders for path in files_below(folder, RULES_ENDING, hidden=False)]


class PremisesOfType:
    """What premises on one type of assembly may be about."""

    def __init__(self, assembly: Assembly) -> None:
        self._limits = [profile.amounts() for profile in assembly.profiles]
        gates: dict[str, list[Gate]] = {}
        for gate in assembly.gates:
            for name in gate.observations:
                gates.setdefault(name, []).append(gate)
        rules: dict[str, dict[str, list[Premise]]] = {}
        for rule in assembly.rules:
            rules.setdefault(rule.finding, {}).setdefault(rule.grade, []).append(rule.premise)
        self._alone = AnswerSpace(
            answers={row.name: frozenset(a for a, _ in row.answers) for row in assembly.observations if row.answers},
            ranges={row.name: Interval(row.low, row.high) for row in assembly.observations if not row.answers},
            limits={},
            grades={row.name: row.grades for row in assembly.findings},
            computed=assembly.computed,
        )
        self._chained = self._alone._replace(
            rules={name: {g: tuple(rows) for g, rows in by.items()} for name, by in rules.items()},
            gates={name: tuple(rows) for name, rows in gates.items()},
        )
        self._named = {name for premise in _premises(assembly) for name in limits_in(premise)}

    def can_hold(self, goals: Sequence[tuple[Premise, bool]]) -> bool:
        """Whether there is a case, under some profile, in which each premise comes out as wanted."""
        return any(can_hold(goals, self._chained._replace(limits=limits)) for limits in self._told_apart(self._named))

    def implies(self, one: Premise, other: Premise) -> bool:
        """Whether `other` is true wherever `one` is, by what the two say themselves, under every profile."""
        there = False
        for limits in self._told_apart(limits_in(one) | limits_in(other)):
            space = self._alone._replace(limits=limits)
            if not can_hold([(one, True)], space):
                continue
            there = True
            if not limits_in(other) <= set(limits) or can_hold([(one, True), (other, False)], space):
                return False
        return there

    def _told_apart(self, named: set[str]) -> Iterator[dict[str, float]]:
        """The limits of each profile, so far as they are named; profiles that agree in them count once."""
        seen = set()
        for limits in self._limits or [{}]:
            kept = {name: value for name, value in limits.items() if name in named}
            if (key := tuple(sorted(kept.items()))) not in seen:
                seen.add(key)
                yield kept


def _premises(assembly: Assembly) -> Iterator[Premise]:
    yield from (row.premise for row in assembly.rules)
    yield from (row.premise for row in assembly.gates)
