"""Everything that a rule base names, by kind and type."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import fsum
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.knowledge.piece import own_name
from diagnose.knowledge.settings import limits_used
from diagnose.knowledge.yamltext import data_of, read_file
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause
from diagnose.model.places import Place
from diagnose.model.work import Component

# `kinds` is what a list says of each; `titled` where a type has all of a kind, and what serves as its title.
TABLES: dict[str, Any] = data_of(read_file(Path(__file__).with_name("kinds.yaml")))
KINDS: dict[str, str] = TABLES["kinds"]
RATED = ("component", "cause", "condition")


class ThingName(NamedTuple):
    """What a type names: a key of KINDS, and the full name."""

    kind: str
    name: str


class NamedThing(NamedTuple):
    """Something named, as one type has it.

    `component` is the one whose name stands before its own, `part` that component's kind; `row` is what is known of it.
    `rate` is the chance of a cause or condition, or of any cause in a component, before anything is observed; else 0.
    """

    kind: str
    name: str
    type: str
    place: Place
    title: str
    component: Component | None
    part: str
    row: Any
    rate: float = 0.0

    @property
    def named(self) -> ThingName:
        """What it is called in its type."""
        return ThingName(self.kind, self.name)

    @property
    def key(self) -> tuple[str, str | Place]:
        """The same for all components and types that one written thing is written out for; for a limit, its name."""
        return self.kind, self.name if self.kind == "limit" or not self.place.line else self.place


class NamedGroup(NamedTuple):
    """One written thing with all that it is written out for."""

    things: tuple[NamedThing, ...]

    @property
    def first(self) -> NamedThing:
        """The one that stands for all: that under the fewest prefixes."""
        return min(self.things, key=lambda thing: (thing.name.count("."), thing.name, thing.type))

    @property
    def types(self) -> tuple[str, ...]:
        """Of what types it is, sorted."""
        return tuple(sorted({thing.type for thing in self.things}))

    @property
    def names(self) -> tuple[str, ...]:
        """Its full names, sorted."""
        return tuple(sorted({thing.name for thing in self.things}))


def things(assembly: Assembly) -> list[NamedThing]:
    """Everything that one type names, kind by kind in the order of KINDS."""
    components = {row.name: row for row in assembly.components}
    rates = {row.name: row.rate for row in assembly.causes} | _rates(assembly)
    found = []
    for kind, name, place, title, row in _named(assembly):
        home = components.get(name if kind == "component" else name.rpartition(".")[0])
        part = name if kind == "part" else home.part if home else ""
        rate = rates.get(name, 0.0) if kind in RATED else 0.0
        found.append(NamedThing(kind, name, assembly.type, place, title, home, part, row, rate))
    order = list(KINDS)
    return sorted(found, key=lambda thing: order.index(thing.kind))


def cause_kind(cause: Cause) -> str:
    """What a cause counts as: one outside the assembly is a condition."""
    return "cause" if cause.component else "condition"


def _rates(assembly: Assembly) -> dict[str, float]:
    """The rate of each component: its causes divide it among them."""
    causes: dict[str, list[float]] = {}
    for cause in assembly.causes:
        causes.setdefault(cause.component, []).append(cause.rate)
    return {name: fsum(rates) for name, rates in causes.items() if name}


def _named(assembly: Assembly) -> Iterator[tuple[str, str, Place, str, Any]]:
    """Kind, name, place, title and row of each."""
    yield "type", assembly.type, assembly.place, assembly.title, assembly
    for part, place in _part_files(assembly):
        yield "part", part, place, "", part
    for kind, (rows, title) in TABLES["titled"].items():
        yield from ((kind, row.name, row.place, getattr(row, title), row) for row in getattr(assembly, rows))
    for cause in assembly.causes:
        yield cause_kind(cause), cause.name, cause.place, cause.text, cause
    used = limits_used([assembly])  # profiles have the limits of all types
    for profile in assembly.profiles:
        for limit in (row for row in profile.limits if row.name in used):
            yield "limit", limit.name, limit.place, f"{limit.relation} {limit.written} in {profile.name}", limit
    for source in assembly.sources:
        yield "source", source.key, source.place, source.title, source


def _part_files(assembly: Assembly) -> Iterator[tuple[str, Place]]:
    kinds = {row.name: row.part for row in assembly.components}
    files = {kinds[mode.component]: mode.place.file for mode in assembly.modes if mode.component in kinds}
    yield from ((part, Place(file, 1, 1)) for part, file in files.items())


def grouped(found: Iterable[NamedThing]) -> list[NamedGroup]:
    """Things as they are written, in the order found."""
    groups: dict[tuple[str, str | Place], list[NamedThing]] = {}
    for thing in found:
        groups.setdefault(thing.key, []).append(thing)
    return [NamedGroup(tuple(rows)) for rows in groups.values()]


def written_name(thing: NamedThing) -> str:
    """The name as its file has it."""
    return thing.name if thing.kind in ("type", "source") else own_name(thing.name)


def written_text(text: str, thing: NamedThing) -> str:
    """A text as its file has it: with `{component}` where the title of a component was put."""
    if thing.component is None or thing.kind == "component":
        return text
    return text.replace(thing.component.title, "{component}")


def counts(assembly: Assembly) -> dict[str, int]:
    """How much a type holds."""
    return {
        "observations": len(assembly.observations),
        "findings": len(assembly.findings),
        "rules": len(assembly.rules),
        "failure modes": len(assembly.modes),
        "causes": len(assembly.causes),
        "repairs": len(assembly.repairs),
    }
