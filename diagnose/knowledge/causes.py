"""Reading failure modes, causes, site conditions and repairs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from diagnose.knowledge.context import Context
from diagnose.knowledge.fields import Fields
from diagnose.knowledge.yamltext import Scalar
from diagnose.model.causes import Cause, Mode
from diagnose.model.work import Repair


def read_modes(file: Fields, context: Context) -> tuple[Mode, ...]:
    """The failure modes of a part."""
    words = context.vocabulary
    return tuple(
        row.into(Mode, key, component="") for key, row in _declared(file, "modes", context, words.modes, words.reasons)
    )


def read_causes(file: Fields, context: Context) -> tuple[Cause, ...]:
    """The causes of a part; `rate` holds the share until the part becomes a component."""
    words = context.vocabulary
    return tuple(
        row.into(
            Cause,
            key,
            component="",
            rate=row["share"],
            brings=tuple((mode.text, chance) for mode, chance in row["brings"]),
        )
        for key, row in _declared(file, "causes", context, words.causes, words.reasons)
    )


def read_conditions(file: Fields, context: Context) -> tuple[Cause, ...]:
    """Site conditions: causes that belong to no component and are their own failure mode."""
    words = context.vocabulary
    return tuple(
        row.into(Cause, key, component="", brings=())
        for key, row in _declared(file, "conditions", context, words.causes, words.modes, words.reasons)
    )


def _declared(file: Fields, key: str, context: Context, *sets: set[str]) -> Iterator[tuple[Scalar, Fields]]:
    """What is defined under a key, its names added to `sets`."""
    for name, row in file.things(key):
        context.declare(name.text, name.place)
        for names in sets:
            names.add(name.text)
        yield name, row


class WayIn(NamedTuple):
    """The steps before and after whatever is done to a part that is taken apart."""

    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()


def read_ways(file: Fields) -> dict[str, WayIn]:
    """How a part is reached: "" -> the usual way, and the others by name."""
    fields = file.inner("taking apart")
    if fields is None:
        return {"": WayIn()}
    others = {key.text: row for key, row in fields.things("otherwise")}
    return {name: WayIn(row["before"], row["after"]) for name, row in {"": fields, **others}.items()}


def read_repairs(file: Fields, context: Context, ways: Mapping[str, WayIn]) -> dict[str, tuple[Repair, ...]]:
    """What is done about causes, for each of the ways; `cures` may name causes of the same file only."""
    rows = list(_declared(file, "repairs", context))
    return {name: tuple(_repair(key, row, way, context) for key, row in rows) for name, way in ways.items()}


def _repair(key: Scalar, row: Fields, way: WayIn, context: Context) -> Repair:
    states = [state for state in context.settings.states if state.name in row["states"]]
    apart = row["taken apart"] != "no" and any(state.takes_apart for state in states)
    at_all = row["cures all"] if row.get("cures all") is not None else None
    every = dict.fromkeys(sorted(context.vocabulary.causes), at_all) if at_all is not None else {}
    called_for: dict[str, float] = {cause.text: chance for cause, chance in row["cures"]}
    before = way.before if apart and row["taken apart"] != "end only" else ()
    # Work ends as it does in the deepest of its states.
    last = max(states, key=lambda row: row.minutes).last_steps if states else ()
    return row.into(
        Repair,
        key,
        component="",
        steps=row["first"] + before + row["steps"] + (way.after if apart else ()) + last,
        cures=tuple((every | called_for).items()),
        called_for=tuple(sorted(called_for)) if every else (),
    )
