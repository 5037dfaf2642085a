"""Nodes and assemblies in forms that tests compare: nodes back to YAML, assemblies without places and order."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from typing import Any

from diagnose.knowledge.yamltext import Mapping, Node, Scalar, kind_of
from diagnose.model.places import Place

KEPT_IN_ORDER = ("answers", "says")
WITHOUT_ORDER = {
    "answers_with_parts",
    "brings",
    "causes",
    "cautions",
    "components",
    "cures",
    "findings",
    "gates",
    "granted",
    "hidden_by",
    "limits",
    "modes",
    "observations",
    "parts",
    "profiles",
    "reasons",
    "repairs",
    "rules",
    "sources",
    "states",
    "unusual",
    "weighs",
    "words",
}


def yaml_of(node: Node, shuffle: random.Random | None = None, key: str = "") -> str:
    """The node as YAML in one line; with `shuffle`, mappings are put in another order where order says nothing."""
    if isinstance(node, Scalar):
        return "" if kind_of(node) == "nothing" else json.dumps(node.text, ensure_ascii=False)
    if isinstance(node, Mapping):
        rows = [f"{json.dumps(k.text, ensure_ascii=False)}: {yaml_of(v, shuffle, k.text)}" for k, v in node.entries]
        if shuffle is not None and key not in KEPT_IN_ORDER:
            shuffle.shuffle(rows)
        return "{" + ", ".join(rows) + "}"
    return "[" + ", ".join(yaml_of(item, shuffle) for item in node.items) + "]"


def orderless(value: Any, field: str = "") -> Any:
    """The value without its places, and with those of its lists sorted whose order says nothing."""
    if isinstance(value, Place):
        return None
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        name = type(value).__name__
        return (name, *(orderless(getattr(value, one), one) for one in value._fields))
    if isinstance(value, tuple):
        rows = [orderless(row) for row in value]
        return tuple(sorted(rows, key=repr) if field in WITHOUT_ORDER else rows)
    return value


def texts_in(value: Any) -> Iterator[str]:
    """Every text inside nested tuples."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for part in value:
            yield from texts_in(part)
