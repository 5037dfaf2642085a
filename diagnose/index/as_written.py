"""The rule base as it is written: each thing once, whatever it is written out for."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from pathlib import Path
from typing import Any

from diagnose.diagnosis.wording import plural
from diagnose.index.links import Index
from diagnose.index.things import NamedThing, ThingName
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause, Finding, Mode
from diagnose.model.places import Place
from diagnose.model.work import Component, Observation

Link = tuple[str, str]


class RulesAsWritten:
    """Everything that some types of assembly are made of, by keys that name the file and the thing.

    A mode has a key for each component of its kind, by the component's name without that of its line.
    `parts`: components by their names without that of their line, as they are found first.
    `asks`: (observation or finding, finding) -> places of the rules; `shows`: (mode or condition, or a cause that is
    seen itself, finding) -> whether it only hides it; `brings`: (cause, mode); `weighs`: (circumstance, kind).
    """

    def __init__(self, assemblies: Iterable[Assembly]) -> None:
        self.parts: dict[str, Component] = {}
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
            self._take(Index(assembly))

    def _take(self, index: Index) -> None:
        """Takes in one type."""
        tables: dict[str, dict[str, Any]] = {
            "observation": self.observations,
            "finding": self.findings,
            "mode": self.modes,
            "cause": self.causes,
            "condition": self.causes,
        }
        keys: dict[ThingName, str] = {}
        for thing in index.things:
            if thing.kind == "component":
                self.parts.setdefault(own_name(thing.name), thing.row)
            elif thing.kind in tables:
                key = keys[thing.named] = self._key(thing)
                tables[thing.kind].setdefault(key, thing.row)
        self.used |= {keys[thing] for thing in index.starts("asks", "decides", "computes") if thing in keys}
        for role, start, end, *_ in index.links:
            if role == "concludes":
                self.rules.setdefault(keys[end], {})[index.by_name[start].place] = own_name(start.name)
            elif role == "asks":
                rule = index.by_name[end]
                finding = keys[ThingName("finding", rule.row.finding)]
                self.asks.setdefault((keys[start], finding), set()).add(rule.place)
            elif role == "shows":
                self.shows[keys[start], keys[end]] = False
            elif role == "hides":
                self.shows.setdefault((keys[start], keys[end]), True)
            elif role == "brings":
                self.brings.add((keys[start], keys[end]))
        for row in index.assembly.findings:
            self.weighs |= {(keys[ThingName("finding", row.name)], kind) for kind, _ in row.weighs}

    def _key(self, thing: NamedThing) -> str:
        """The key of a thing; its title and the component that it belongs to are kept under it."""
        component = own_name(thing.component.name) if thing.component else ""
        name = f"{component} {own_name(thing.name)}" if thing.kind == "mode" else own_name(thing.name)
        kind = "cause" if thing.kind == "condition" else thing.kind
        key = f"{kind} {file_of(thing.place)} {name}"
        self.titles.setdefault(key, thing.title)
        components = self.part_of.setdefault(key, [])
        if component and component not in components:
            components.append(component)
        return key

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
