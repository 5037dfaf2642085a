"""Reading failure modes, causes, site conditions and repairs."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from diagnose.knowledge.context import Context, local_name
from diagnose.knowledge.fields import Fields, as_items, unknown
from diagnose.knowledge.yamltext import Node, Scalar
from diagnose.model.causes import Cause, Mode
from diagnose.model.foreign import cut
from diagnose.model.work import Repair, State


def read_modes(file: Fields, context: Context) -> tuple[Mode, ...]:
    """The failure modes of a part."""
    modes = []
    for key, node in file.entries("modes", needed=True):
        name = local_name(key, "modes", context.problems)
        fields = Fields(node, f"failure mode '{name}'", context.problems)
        context.declare(name, key.place)
        context.vocabulary.reasons.add(name)
        modes.append(Mode(name, "", fields.text("text"), context.sources(fields), key.place))
        fields.done()
    return tuple(modes)


def read_causes(file: Fields, modes: frozenset[str], context: Context) -> tuple[Cause, ...]:
    """The causes of a part; `rate` holds the share until the part becomes a component."""
    causes = []
    for key, node in file.entries("causes", needed=True):
        name = local_name(key, "causes", context.problems)
        fields = Fields(node, f"cause '{name}'", context.problems)
        context.declare(name, key.place)
        context.vocabulary.reasons.add(name)
        share = fields.number("share", 0.001, 10_000)
        brings = tuple(_brings(k, v, modes, fields, context) for k, v in fields.entries("brings", needed=True))
        causes.append(_cause(key, fields, share, brings, context))
    return tuple(causes)


def read_conditions(file: Fields, context: Context) -> tuple[Cause, ...]:
    """Site conditions: causes that belong to no component and are their own failure mode."""
    conditions = []
    for key, node in file.entries("conditions"):
        name = local_name(key, "conditions", context.problems)
        fields = Fields(node, f"site condition '{name}'", context.problems)
        context.declare(name, key.place)
        context.vocabulary.reasons.add(name)
        rate = fields.need("rate")
        chance = context.probability(rate, f"{fields.what}, rate") if rate is not None else 0.0
        conditions.append(_cause(key, fields, chance, (), context))
    return tuple(conditions)


def _cause(key: Scalar, fields: Fields, rate: float, brings: tuple[tuple[str, float], ...], context: Context) -> Cause:
    kind = fields.text("kind")
    if kind and kind not in context.settings.kinds:
        unknown(context.problems, fields.at("kind"), f"{fields.what}: no kind of cause", kind, context.settings.kinds)
    cause = Cause(key.text, "", fields.text("text"), kind, rate, brings, context.sources(fields), key.place)
    fields.done()
    return cause


def _brings(key: Scalar, node: Node, modes: frozenset[str], fields: Fields, context: Context) -> tuple[str, float]:
    if key.text not in modes:
        unknown(context.problems, key.place, f"{fields.what}, brings: no failure mode", key.text, modes)
    return key.text, context.probability(node, f"{fields.what}, brings {cut(key.text)}")


def read_repairs(file: Fields, causes: frozenset[str], retest: str, context: Context) -> tuple[Repair, ...]:
    """What is done about causes; `cures` may name causes of the same file only."""
    repairs = []
    for key, node in file.entries("repairs"):
        name = local_name(key, "repairs", context.problems)
        context.declare(name, key.place)
        row = _repair(Fields(node, f"repair '{name}'", context.problems), causes, retest, context)
        repairs.append(row._replace(name=name, place=key.place))
    return tuple(repairs)


def _repair(fields: Fields, causes: frozenset[str], retest: str, context: Context) -> Repair:
    cures = tuple(_cures(k, v, causes, fields, context) for k, v in fields.entries("cures", needed=True))
    settings = context.settings
    states = _names(fields, "states", [row.name for row in settings.states], context)
    repair = Repair(
        name="",
        component="",
        title=fields.text("title"),
        steps=fields.texts("steps", needed=True) + _last_step(states, settings.states),
        parts=fields.texts("parts"),
        minutes=fields.number("minutes", 0, 2000),
        states=states,
        cautions=_names(fields, "cautions", [row.name for row in settings.cautions], context),
        cures=cures,
        retest=fields.text("retest", retest),
        sources=context.sources(fields),
        parts_minutes=fields.number("parts as minutes", 0, 10_000, 0.0),
    )
    fields.done()
    return repair


def _last_step(names: Collection[str], states: Iterable[State]) -> tuple[str, ...]:
    """How work in the deepest of these states ends."""
    named = [row for row in states if row.name in names]
    last = max(named, key=lambda row: row.minutes).last_step if named else ""
    return (last,) if last else ()


def _names(fields: Fields, key: str, known: list[str], context: Context) -> tuple[str, ...]:
    node = fields.get(key)
    if node is None:
        return ()
    what = f"{fields.what}, {key}"
    return context.named(as_items(node, what, context.problems), what, known)


def _cures(key: Scalar, node: Node, causes: frozenset[str], fields: Fields, context: Context) -> tuple[str, float]:
    if key.text not in causes:
        unknown(context.problems, key.place, f"{fields.what}, cures: no cause", key.text, causes)
    return key.text, context.probability(node, f"{fields.what}, cures {cut(key.text)}")
