"""What bears on what within one type of assembly: each link once, with its words as seen from either end."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import NamedTuple

from diagnose.diagnosis.wording import percent
from diagnose.engine.walking import leaves
from diagnose.index.things import TABLES, NamedThing, ThingName, cause_kind, things
from diagnose.knowledge.settings import limits_used
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Finding, Reason, weighs_cause
from diagnose.model.premises import Holds, Measured, Premise


class Link(NamedTuple):
    """A line between two things. `role` is one of the roles of kinds.yaml, `note` what its words leave open.

    `chance` is the probability with which it brings, shows (the first grade that is not harmless) or cures; else 1.
    """

    role: str
    start: ThingName
    end: ThingName
    note: str = ""
    chance: float = 1.0


class SeenLink(NamedTuple):
    """A link as seen from one of its ends: `feeds` says whether it leads away; `how` in words."""

    feeds: bool
    how: str
    other: ThingName


# These lead away from both ends, all others from their start alone, but for IS.
BOTH_WAYS = ("shows", "repaired in", "read before")
IS = "is"
# Along these a conclusion rests on what was observed.
RESTING = ("asks", "concludes", "computes")


class Index:
    """Everything that one type names, and every link between two of these; sources are not linked."""

    def __init__(self, assembly: Assembly) -> None:
        self.assembly = assembly
        self._observed: dict[ThingName, frozenset[str]] = {}

    @cached_property
    def things(self) -> tuple[NamedThing, ...]:
        """All of them, kind by kind; a limit once for each profile that states it."""
        return tuple(things(self.assembly))

    @cached_property
    def by_name(self) -> dict[ThingName, NamedThing]:
        """The same by kind and full name."""
        return {row.named: row for row in self.things}

    @cached_property
    def links(self) -> tuple[Link, ...]:
        """All of them."""
        return tuple(_links(self.assembly))

    @cached_property
    def _at(self) -> dict[ThingName, list[Link]]:
        found: dict[ThingName, list[Link]] = {}
        for link in self.links:
            for end in {link.start, link.end}:
                found.setdefault(end, []).append(link)
        return found

    def starts(self, *roles: str) -> set[ThingName]:
        """What such links lead away from."""
        return {link.start for link in self.links if link.role in roles}

    def ends(self, *roles: str) -> set[ThingName]:
        """What such links lead to."""
        return {link.end for link in self.links if link.role in roles}

    def observed(self, thing: ThingName) -> frozenset[str]:
        """The observations that a rule or finding rests on in the end, through findings and computed readings."""
        if thing not in self._observed:
            starts = [link.start for link in self._at.get(thing, ()) if link.end == thing and link.role in RESTING]
            named = frozenset({thing.name} if thing.kind == "observation" and not starts else ())
            self._observed[thing] = named.union(*map(self.observed, starts))
        return self._observed[thing]

    def seen_from(self, thing: ThingName) -> Iterator[SeenLink]:
        """Every link that starts or ends at the thing."""
        for link in self._at.get(thing, ()):
            at_start, at_end = TABLES["roles"][link.role]
            if link.start == thing:
                yield SeenLink(link.role != IS, at_start.format(link.note), link.end)
            elif at_end:
                yield SeenLink(link.role in (*BOTH_WAYS, IS), at_end.format(link.note), link.start)


def _links(assembly: Assembly) -> Iterator[Link]:
    yield from _of_rules(assembly)
    yield from _of_observations(assembly)
    for cause in assembly.causes:
        thing = ThingName(cause_kind(cause), cause.name)
        yield from (Link("brings", thing, ThingName("mode", name), percent(p), p) for name, p in cause.brings)
    yield from _of_findings(assembly)
    yield from _of_repairs(assembly)
    for state in assembly.states:
        thing = ThingName("state", state.name)
        yield from (Link("read in", ThingName("caution", name), thing) for name in state.cautions)
    for row in assembly.cautions:
        for other in _asked(row.said_when) if row.said_when is not None else ():
            yield Link("decides", other, ThingName("caution", row.name), "said when")
    yield from _of_components(assembly)
    used = limits_used([assembly])
    for profile in assembly.profiles:
        thing, stated = ThingName("profile", profile.name), (row.name for row in profile.limits)
        yield from (Link("states", thing, ThingName("limit", name)) for name in stated if name in used)


def _asked(premise: Premise) -> dict[ThingName, None]:
    """Every observation, finding and limit that a premise asks for, each once, from left to right."""
    found: dict[ThingName, None] = {}
    for leaf in leaves(premise):
        found[
            ThingName("finding", leaf.finding)
            if isinstance(leaf, Holds)
            else ThingName("observation", leaf.observation)
        ] = None
        if isinstance(leaf, Measured):
            found |= {ThingName("limit", name): None for name in leaf.bound.limits}
    return found


def _of_rules(assembly: Assembly) -> Iterator[Link]:
    for rule in assembly.rules:
        thing = ThingName("rule", rule.name)
        for other in _asked(rule.premise):
            yield Link("compares" if other.kind == "limit" else "asks", other, thing)
        yield Link("concludes", thing, ThingName("finding", rule.finding), rule.grade)


def _of_observations(assembly: Assembly) -> Iterator[Link]:
    for row in assembly.observations:
        thing = ThingName("observation", row.name)
        yield from (Link("computes", ThingName("observation", name), thing) for name in row.computed or ())
        if row.limit:
            yield Link("judges", ThingName("limit", row.limit), thing)
        if row.state:
            yield Link("observed in", ThingName("state", row.state), thing)
    for gate in assembly.gates:
        for name in gate.observations:
            for other in _asked(gate.premise):
                yield Link("decides", other, ThingName("observation", name), gate.kind)


def _of_findings(assembly: Assembly) -> Iterator[Link]:
    causes = {row.name: ThingName(cause_kind(row), row.name) for row in assembly.causes}
    for finding in assembly.findings:
        thing = ThingName("finding", finding.name)
        for reason in finding.reasons:
            for name in reason.all_of:
                others = " and ".join(other for other in reason.all_of if other != name)
                note = _chance(finding, reason) + (f", together with {others}" if others else "")
                yield Link("shows", causes.get(name, ThingName("mode", name)), thing, note, reason.at_least[0])
        for name, factor in finding.hidden_by:
            yield Link("hides", causes.get(name, ThingName("mode", name)), thing, f"{factor:g}")
        decibans = dict(finding.weighs)
        for cause in assembly.causes if decibans else ():
            if weighs_cause(finding, cause):
                yield Link("weighs", thing, causes[cause.name], f"{decibans[cause.kind]:+g}")


def _chance(finding: Finding, reason: Reason) -> str:
    """With what probability a reason shows the finding, grade by grade."""
    if len(finding.grades) == 2:
        return percent(reason.at_least[0])
    pairs = zip(finding.grades[1:], reason.at_least, strict=True)
    return ", ".join(f"{grade} or worse {percent(chance)}" for grade, chance in pairs)


def _of_repairs(assembly: Assembly) -> Iterator[Link]:
    kinds = {row.name: cause_kind(row) for row in assembly.causes}
    for repair in assembly.repairs:
        thing = ThingName("repair", repair.name)
        for name, chance in repair.cures:
            if repair.called_for and name not in repair.called_for:
                continue  # it cures that on the way
            yield Link("cured by", ThingName(kinds.get(name, "cause"), name), thing, percent(chance), chance)
        yield from (Link("repaired in", ThingName("state", name), thing) for name in repair.states)
        yield from (Link("read before", ThingName("caution", name), thing) for name in repair.cautions)


def _of_components(assembly: Assembly) -> Iterator[Link]:
    """A kind of part has what its first component has."""
    first: dict[str, str] = {}
    for row in assembly.components:
        yield Link("is", ThingName("component", row.name), ThingName("part", row.part))
        first.setdefault(row.part, row.name)
    parts = {name: ThingName("part", part) for part, name in first.items()}
    for component, thing in _owned(assembly):
        yield Link("has", ThingName("component", component), thing)
        if component in parts:
            yield Link("has", parts[component], thing)


def _owned(assembly: Assembly) -> Iterator[tuple[str, ThingName]]:
    """What belongs to a component, with its name."""
    components = {row.name for row in assembly.components}
    for kind, rows in (
        ("mode", assembly.modes),
        ("cause", assembly.causes),
        ("observation", assembly.observations),
        ("repair", assembly.repairs),
    ):
        yield from ((row.component, ThingName(kind, row.name)) for row in rows if row.component)
    for finding in assembly.findings:
        component = finding.name.rpartition(".")[0]
        if component in components:
            yield component, ThingName("finding", finding.name)
