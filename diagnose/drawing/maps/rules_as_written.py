"""The rule base as it is written: each thing once, whatever number of components and types it is written out for."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from pathlib import Path
from typing import NamedTuple

from diagnose.engine.walking import names_in
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause, Finding, Mode
from diagnose.model.places import Place
from diagnose.model.work import Observation

Link = tuple[str, str]


class PartAsWritten(NamedTuple):
    """A component by its name without the line it belongs to, as it is found first."""

    name: str
    kind: str
    title: str


class RulesAsWritten:
    """Everything that some types of assembly are made of, by keys that name the file and the thing.

    A mode has a key for each component of its kind, by the component's name without that of its line.
    `asks`: (observation or finding, finding) -> places of the rules; `shows`: (mode or condition, or a cause that is
    seen itself, finding) -> whether it only hides it; `brings`: (cause, mode); `weighs`: (circumstance, kind).
    """

    def __init__(self, assemblies: Iterable[Assembly]) -> None:
        self.parts: dict[str, PartAsWritten] = {}
        self.observations: dict[str, Observation] = {}
        self.findings: dict[str, Finding] = {}
        self.modes: dict[str, Mode] = {}
        self.causes: dict[str, Cause] = {}
        self.part_of: dict[str, list[str]] = {}
        self.rules: dict[str, dict[Place, str]] = {}
        self.asks: dict[Link, set[Place]] = {}
        self.shows: dict[Link, bool] = {}
        self.brings: set[Link] = set()
        self.weighs: set[Link] = set()
        self.used: set[str] = set()
        self.titles: dict[str, str] = {}
        for assembly in assemblies:
            _Reading(self, assembly).all()

    def about(self, parts: Collection[str]) -> RulesAsWritten:
        """What concerns some components alone: from outside, only findings that their failure modes show."""
        part = RulesAsWritten(())
        part.titles = self.titles
        part.parts = {name: row for name, row in self.parts.items() if name in parts}
        kept = {key for key, names in self.part_of.items() if set(names) & part.parts.keys()}
        part.modes = {key: row for key, row in self.modes.items() if key in kept}
        part.causes = {key: row for key, row in self.causes.items() if key in kept}
        part.shows = {link: hides for link, hides in self.shows.items() if link[0] in kept}
        told = kept | {finding for _, finding in part.shows}
        part.findings = {key: row for key, row in self.findings.items() if key in told}
        part.asks = {link: places for link, places in self.asks.items() if link[1] in part.findings}
        asked = {start for start, _ in part.asks}
        part.observations = {key: row for key, row in self.observations.items() if key in kept | asked}
        part.rules = {key: rules for key, rules in self.rules.items() if key in part.findings}
        part.brings = {link for link in self.brings if link[0] in kept and link[1] in kept}
        part.part_of = {key: [name for name in names if name in part.parts] for key, names in self.part_of.items()}
        kinds = {cause.kind for cause in part.causes.values()}
        part.weighs = {link for link in self.weighs if link[1] in kinds and self._concerns(link[0], part.parts)}
        return part

    def _concerns(self, circumstance: str, parts: Collection[str]) -> bool:
        """Whether a circumstance speaks of any of these components; one that names none speaks of all."""
        named = {own_name(name) for name in self.findings[circumstance].weighs_on}
        return not named or bool(named & set(parts))

    def title(self, key: str) -> str:
        """Of an observation or a finding, also where it is left out of what concerns some components."""
        return self.titles[key]

    def shown(self, cause: str) -> set[str]:
        """The findings that a cause shows: by itself, and through the failure modes it brings."""
        reasons = {cause, *(mode for start, mode in self.brings if start == cause)}
        return {finding for (start, finding), hides in self.shows.items() if start in reasons and not hides}

    def counts(self) -> str:
        """How much of each there is, as it is self."""
        conditions = sum(not cause.component for cause in self.causes.values())
        told = [
            plural(len(self.observations), "observation"),
            plural(len(self.findings), "finding"),
            plural(sum(map(len, self.rules.values())), "rule"),
            plural(len(self.modes), "failure mode"),
            plural(len(self.causes) - conditions, "cause"),
        ]
        return ", ".join([*told, plural(conditions, "site condition")] if conditions else told)


class _Reading:
    """One type, taken into what is written."""

    def __init__(self, into: RulesAsWritten, assembly: Assembly) -> None:
        self.into, self.assembly = into, assembly
        self.components = {row.name: row for row in assembly.components}
        self.keys: dict[str, str] = {}

    def all(self) -> None:
        self._things()
        self._rules()
        self._findings()
        for cause in self.assembly.causes:
            self.into.brings |= {(self.keys[cause.name], self.keys[mode]) for mode, _ in cause.brings}

    def _things(self) -> None:
        into = self.into
        for component in self.assembly.components:
            into.parts.setdefault(
                own_name(component.name), PartAsWritten(own_name(component.name), component.part, component.title)
            )
        for observation in self.assembly.observations:
            key = self._key("observation", observation.name, observation.place, observation.component)
            into.observations.setdefault(key, observation)
            into.titles.setdefault(key, observation.title)
        for finding in self.assembly.findings:
            before = finding.name.rpartition(".")[0]
            key = self._key("finding", finding.name, finding.place, before)
            into.findings.setdefault(key, finding)
            into.titles.setdefault(key, finding.title)
        for mode in self.assembly.modes:
            key = self._key("mode", f"{own_name(mode.component)} {own_name(mode.name)}", mode.place, mode.component)
            self.keys[mode.name] = key
            into.modes.setdefault(key, mode)
        for cause in self.assembly.causes:
            key = self._key("cause", cause.name, cause.place, cause.component)
            into.causes.setdefault(key, cause)

    def _key(self, what: str, name: str, place: Place, component: str) -> str:
        key = f"{what} {file_of(place)} {own_name(name) if what != 'mode' else name}"
        self.keys[name] = key
        found = self.components.get(component)
        rows = self.into.part_of.setdefault(key, [])
        if found is not None and own_name(found.name) not in rows:
            rows.append(own_name(found.name))
        return key

    def _rules(self) -> None:
        into = self.into
        into.used |= {self.keys[name] for gate in self.assembly.gates for name in names_in(gate.premise)}
        computed = (name for row in self.assembly.observations for name in row.computed or ())
        into.used |= {self.keys[name] for name in computed}
        for rule in self.assembly.rules:
            finding = self.keys[rule.finding]
            into.rules.setdefault(finding, {})[rule.place] = own_name(rule.name)
            for name in names_in(rule.premise):
                into.used.add(self.keys[name])
                into.asks.setdefault((self.keys[name], finding), set()).add(rule.place)

    def _findings(self) -> None:
        for finding in self.assembly.findings:
            key = self.keys[finding.name]
            for name in {name for reason in finding.reasons for name in reason.all_of}:
                self.into.shows[self.keys[name], key] = False
            for name, _ in finding.hidden_by:
                self.into.shows.setdefault((self.keys[name], key), True)
            self.into.weighs |= {(key, kind) for kind, _ in finding.weighs}


def plural(number: int, noun: str) -> str:
    """`1 rule`, `3 rules`."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def file_of(place: Place) -> str:
    """`parts/flap`: what tells rule files apart, without the folder that they stand in."""
    path = Path(place.file)
    return f"{path.parent.name}/{path.stem}"


def without_part(text: str, titles: Iterable[str]) -> str:
    """A text about a component, for a frame that names it."""
    for title in sorted(titles, key=len, reverse=True):
        name = re.escape(title)
        text = re.sub(rf" of the {name}\b", "", text)
        text = re.sub(rf"^(The |the )?{name} (?!or |and )", "", text)
        text = re.sub(rf"\b([Tt]he )?{name}\b", "it", text)
    return text
