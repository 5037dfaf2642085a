"""YAML as an editor reads it: the core schema of YAML 1.2 (yaml.org/spec/1.2.2, section 10.3.2), from placed nodes."""

from __future__ import annotations

import re
from typing import Any

from diagnose.knowledge.yamltext import Mapping, Node, Scalar

_INTEGER = re.compile("[-+]?[0-9]+")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_FIXED: dict[str, Any] = dict.fromkeys(("", "~", "null", "Null", "NULL"), None)
_FIXED |= dict.fromkeys(("true", "True", "TRUE"), True) | dict.fromkeys(("false", "False", "FALSE"), False)


def value_of(node: Node) -> Any:
    """What stands there; keys are always text."""
    if isinstance(node, Mapping):
        return {key.text: value_of(value) for key, value in node.entries}
    if not isinstance(node, Scalar):
        return [value_of(item) for item in node.items]
    return _plain(node.text) if node.plain else node.text


def _plain(text: str) -> Any:
    if text in _FIXED:
        return _FIXED[text]
    if _INTEGER.fullmatch(text):
        return int(text)
    return float(text) if _FLOAT.fullmatch(text) else text
