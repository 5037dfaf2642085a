"""Reading premises."""

from __future__ import annotations

from collections.abc import Callable

from diagnose.knowledge.context import Context
from diagnose.knowledge.fields import as_choice, as_entries, as_items, as_text, complain, unknown
from diagnose.knowledge.quantities import parse_pressure
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence
from diagnose.model.premises import All, Answered, AnyOf, Bound, Holds, Measured, Not, Premise, Relation

RELATIONS: tuple[Relation, ...] = ("at least", "above", "at most", "below")
NOTHING = All(())


def read_premises(node: Node, what: str, context: Context) -> Premise:
    """A mapping of premises, all of which must hold. Problems are noted; the result is then of no use."""
    entries = as_entries(node, what, context.problems)
    if not entries and isinstance(node, Mapping):
        complain(context.problems, node.place, f"{what}: at least one premise is needed")
    parts = tuple(_entry(key, value, what, context) for key, value in entries)
    return parts[0] if len(parts) == 1 else All(parts)


def _entry(key: Scalar, value: Node, what: str, context: Context) -> Premise:
    join = _JOINS.get(key.text)
    if join is not None:
        return join(value, f"{what}, {key.text}", context)
    words = context.vocabulary
    if key.text in words.readings:
        return _reading(key, value, what, context)
    if key.text in words.answers:
        return Answered(key.text, _choices(key, value, words.answers[key.text], what, context))
    if key.text in words.grades:
        return Holds(key.text, _choices(key, value, words.grades[key.text], what, context))
    known = words.names() | set(_JOINS)
    unknown(context.problems, key.place, f"{what}: there is no observation or finding", key.text, known)
    return NOTHING


def _choices(key: Scalar, value: Node, known: tuple[str, ...], what: str, context: Context) -> tuple[str, ...]:
    items = value.items if isinstance(value, Sequence) else (value,)
    if not items:
        complain(context.problems, value.place, f"{what}, {key.text}: the list is empty")
    return tuple(as_choice(item, f"{what}, {key.text}", context.problems, known) for item in items)


def _parts(value: Node, what: str, context: Context) -> tuple[Premise, ...]:
    items = as_items(value, what, context.problems)
    if isinstance(value, Sequence) and not items:
        complain(context.problems, value.place, f"{what}: the list is empty")
    return tuple(read_premises(item, what, context) for item in items)


_JOINS: dict[str, Callable[[Node, str, Context], Premise]] = {
    "all": lambda value, what, context: All(_parts(value, what, context)),
    "any": lambda value, what, context: AnyOf(_parts(value, what, context)),
    "not": lambda value, what, context: Not(read_premises(value, what, context)),
}


def _reading(key: Scalar, value: Node, what: str, context: Context) -> Premise:
    where = f"{what}, {key.text}"
    if isinstance(value, Scalar):
        message = f"{where}: a reading is compared, as in {{below: limit NAME}} or {{at least: 2.0 psid}}"
        complain(context.problems, value.place, message)
        return NOTHING
    parts: list[Premise] = []
    entries = as_entries(value, where, context.problems)
    for relation, bound in entries:
        parts += _comparisons(key.text, relation, bound, where, context)
    if not entries and isinstance(value, Mapping):
        complain(context.problems, value.place, f"{where}: at least one comparison is needed")
    return parts[0] if len(parts) == 1 else All(tuple(parts))


def _comparisons(name: str, relation: Scalar, bound: Node, where: str, context: Context) -> list[Premise]:
    for known in RELATIONS:
        if relation.text == known:
            return [Measured(name, known, read_bound(bound, f"{where}, {known}", context))]
    if relation.text == "between":
        return _between(name, bound, f"{where}, between", context)
    unknown(context.problems, relation.place, f"{where}: no comparison", relation.text, [*RELATIONS, "between"])
    return []


def _between(name: str, node: Node, where: str, context: Context) -> list[Premise]:
    if not isinstance(node, Sequence) or len(node.items) != 2:
        complain(context.problems, node.place, f"{where}: expected two bounds, as in [1.0 psid, 3.0 psid]")
        return []
    low, high = (read_bound(item, where, context) for item in node.items)
    if not low.limits and not high.limits and low.amount >= high.amount:
        complain(context.problems, node.place, f"{where}: the first bound must be the smaller one")
    return [Measured(name, "at least", low), Measured(name, "below", high)]


def read_bound(node: Node, what: str, context: Context) -> Bound:
    """`2.0 psid`, `limit NAME`, or several joined with ` plus `."""
    amount, limits = 0.0, []
    for term in as_text(node, what, context.problems).split(" plus "):
        if term.startswith("limit "):
            limits.append(_limit(node, term.removeprefix("limit ").strip(), what, context))
        elif term:
            try:
                amount += parse_pressure(term)
            except ValueError as error:
                complain(context.problems, node.place, f"{what}: {error}, or 'limit NAME'")
    return Bound(round(amount, 6), tuple(limits))


def _limit(node: Node, name: str, what: str, context: Context) -> str:
    if name not in context.vocabulary.limits:
        unknown(context.problems, node.place, f"{what}: no profile has a limit", name, context.vocabulary.limits)
    return name
