"""What a check is and what it asks: a rule base that was read, with its cases, and the doubts about it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from fnmatch import fnmatchcase
from functools import cached_property
from itertools import permutations
from pathlib import Path
from typing import NamedTuple

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import Runs
from diagnose.index.links import Index
from diagnose.knowledge.files import files_below
from diagnose.knowledge.format import DELIBERATE, rule_format
from diagnose.knowledge.shipped import CASES_ENDING, RULES_ENDING
from diagnose.knowledge.yamltext import Mapping as MappingNode
from diagnose.knowledge.yamltext import Node, Scalar, by_key, entries_of, read_rules_file, scalars
from diagnose.knowledge.yamltext import Sequence as SequenceNode
from diagnose.model.places import Place
from diagnose.model.premises import Rule
from diagnose.workshop.checks.satisfiable import PremisesOfType

# Where a check is told to pass over what stands around, and the name of the check.
Declared = tuple[Place, str]


class _File(NamedTuple):
    """`values`: the node under a key, by the key's place; `around`: the mappings round a place, the nearest first."""

    top: Node
    values: dict[Place, Node]
    around: dict[Place, tuple[MappingNode, ...]]


class SourcePlaces:
    """Files of a rule base, read again where a place inside one is wanted; most checks never need any."""

    def __init__(self) -> None:
        self._files: dict[str, _File] = {}

    def below(self, place: Place, *keys: str) -> Place:
        """Where the value stands that is reached by `keys` from the entry at `place`; as far as there is one."""
        reached = _reached(self._file(place.file).values.get(place), keys)
        return reached[-1][1].place if reached else place

    def key(self, file: str, *keys: str) -> Place:
        """Where the last of `keys` stands in a file, as far as there is one."""
        reached = _reached(self._file(file).top, keys)
        return reached[-1][0].place if reached else Place(file)

    def entries(self, file: str, *keys: str) -> tuple[tuple[Scalar, Node], ...]:
        """The entries of the mapping that is reached by `keys`; none where there is no such mapping."""
        return entries_of(self._file(file).top, *keys)

    def texts(self, file: str) -> Iterator[tuple[tuple[str, ...], Scalar]]:
        """Every scalar value of a file, with the keys that lead to it."""
        return scalars(self._file(file).top)

    def declared(self, place: Place) -> Iterator[Declared]:
        """What is declared deliberate in the mappings round a place, the nearest first."""
        for mapping in self._file(place.file).around.get(place, ()):
            yield from _declared(mapping)

    def all_declared(self, file: str) -> Iterator[Declared]:
        """Everything that a file declares deliberate."""
        if DELIBERATE.encode() not in Path(file).read_bytes():
            return
        seen = {id(mapping): mapping for around in self._file(file).around.values() for mapping in around}
        for mapping in seen.values():
            yield from _declared(mapping)

    def _file(self, name: str) -> _File:
        if name not in self._files:
            file = _File(read_rules_file(Path(name)), {}, {})
            _index(file.top, (), file)
            self._files[name] = file
        return self._files[name]


def _reached(node: Node | None, keys: Iterable[str]) -> list[tuple[Scalar, Node]]:
    """The entries on the way from a node along `keys`, as far as there are any."""
    found: list[tuple[Scalar, Node]] = []
    for key in keys:
        entry = by_key(node).get(key)
        if entry is None:
            break
        found.append(entry)
        node = entry[1]
    return found


def _declared(mapping: MappingNode) -> Iterator[Declared]:
    for key, value in entries_of(mapping, DELIBERATE):
        if isinstance(value, Scalar):
            yield key.place, key.text


def _index(node: Node, around: tuple[MappingNode, ...], file: _File) -> None:
    file.around.setdefault(node.place, around)
    if isinstance(node, SequenceNode):
        for item in node.items:
            _index(item, around, file)
    elif isinstance(node, MappingNode):
        within = (node, *around)
        file.around[node.place] = within
        for key, value in node.entries:
            inner = (value, *within) if isinstance(value, MappingNode) else within
            file.values[key.place] = value
            file.around[key.place] = inner
            _index(value, within, file)


Month = tuple[int, int]
# These hold titles of publications and reasons for whoever keeps the rules, not sentences for a repairer.
NOT_SHOWN = ("sources.yaml", "retired.yaml", "version.yaml")


class CheckedBase:
    """A rule base that was read without a problem. `month` is the one that it is checked in: year and month."""

    def __init__(
        self, folders: Sequence[Path], ready: Mapping[str, Ready], cases: Sequence[BesideCase], month: Month
    ) -> None:
        self.folders, self.ready, self.cases, self.month = tuple(folders), ready, cases, month
        self.assemblies = {name: row.assembly for name, row in ready.items()}
        self.indexes = {name: Index(assembly) for name, assembly in self.assemblies.items()}
        self.places = SourcePlaces()

    @cached_property
    def premises(self) -> dict[str, PremisesOfType]:
        """What premises can be on each type of assembly."""
        return {name: PremisesOfType(assembly) for name, assembly in self.assemblies.items()}

    @cached_property
    def made_true(self) -> set[Place]:
        """The places of the rules that some case makes true; one component's case serves all of its kind."""
        runs = Runs(self.ready)
        fired = ((row.case.type, runs.run(row.case)[0].rules) for row in self.cases)
        return {rule.place for name, true in fired for rule in self.assemblies[name].rules if true[rule.name]}

    @cached_property
    def rules(self) -> dict[Place, list[tuple[str, Rule]]]:
        """Each rule as it is written, with the types that have it and what it is called there."""
        found: dict[Place, list[tuple[str, Rule]]] = {}
        for name, assembly in self.assemblies.items():
            for row in assembly.rules:
                found.setdefault(row.place, []).append((name, row))
        return found

    @cached_property
    def contradictory(self) -> dict[Place, Rule]:
        """The rules whose premises hold together for no component, type and set of limits."""
        open_ = {place: rows for place, rows in self.rules.items() if place not in self.made_true}
        return {
            place: rows[0][1]
            for place, rows in open_.items()
            if not any(self.premises[name].can_hold([(rule.premise, True)]) for name, rule in rows)
        }

    @cached_property
    def implied_pairs(self) -> list[tuple[Rule, Rule, bool]]:
        """Rules about one finding of which the second holds wherever the first does; and whether both hold together.

        Of two that hold together the later one stands first. Two as they are written stand once.
        """
        found: list[tuple[Rule, Rule, bool]] = []
        seen: set[tuple[Place, Place]] = set()
        for name, assembly in self.assemblies.items():
            implies = self.premises[name].implies
            by_finding: dict[str, list[Rule]] = {}
            for rule in assembly.rules:
                by_finding.setdefault(rule.finding, []).append(rule)
            for one, other in (pair for own in by_finding.values() for pair in permutations(own, 2)):
                if (one.place, other.place) not in seen and implies(one.premise, other.premise):
                    equal = implies(other.premise, one.premise)
                    if not equal or one.place > other.place:
                        found.append((one, other, equal))
                seen.add((one.place, other.place))
        return found

    def files(self, pattern: str = "*") -> Iterator[str]:
        """The rule files whose path below a folder of the rule base matches, as in `parts/*.yaml`."""
        for folder, path in self._paths:
            if not path.name.endswith(CASES_ENDING) and fnmatchcase(path.relative_to(folder).as_posix(), pattern):
                yield str(path)

    def every_file(self) -> Iterator[str]:
        """The rule files and the files of cases."""
        return (str(path) for _, path in self._paths)

    def shown_texts(self) -> Iterator[tuple[str, Scalar]]:
        """Every text that ends up before a repairer's eyes, with the key that it stands under."""
        for folder, path in self._paths:
            if not path.name.endswith((CASES_ENDING, *NOT_SHOWN)):
                name = path.relative_to(folder).as_posix()
                for keys, scalar in self.places.texts(str(path)):
                    key = rule_format().key(name, keys)
                    if key is not None and key.name != DELIBERATE and (key.shown or key.kind.is_wording):
                        yield key.name, scalar

    @cached_property
    def _paths(self) -> list[tuple[Path, Path]]:
        return [(folder, path) for folder in self.folders for path in files_below(folder, RULES_ENDING, hidden=False)]


class Doubt(NamedTuple):
    """A place that is clear to the tool and yet most likely not what its writer meant."""

    place: Place
    message: str
    notes: tuple[tuple[Place, str], ...] = ()
    check: str = ""

    def lines(self) -> list[str]:
        """The doubt as lines `file:line:col: warning: sentence (check)`, notes below it."""
        head = f"{self.place}: warning: {self.message} ({self.check})"
        return [head, *(f"{place}: note: {text}" for place, text in self.notes)]


# One question that is asked of a rule base.
RuleCheck = Callable[[CheckedBase], Iterable[Doubt]]
