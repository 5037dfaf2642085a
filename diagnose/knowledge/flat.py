"""A value of a rule file in one line, for people and for comparing."""

from __future__ import annotations

from diagnose.knowledge.yamltext import Mapping, Node, Scalar


def flat(node: Node | None) -> str:
    """As it could stand in a file, without quotes; "" for nothing."""
    if node is None:
        return ""
    if isinstance(node, Scalar):
        return " ".join(node.text.split())
    if isinstance(node, Mapping):
        return "{" + ", ".join(f"{key.text}: {flat(value)}" for key, value in node.entries) + "}"
    return "[" + ", ".join(map(flat, node.items)) + "]"
