"""Short ways to read text in tests."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

from diagnose.knowledge.context import Context, Settings, Vocabulary
from diagnose.knowledge.fields import Fields, NoNames, Problems
from diagnose.knowledge.format import Format, Key, KeySet
from diagnose.knowledge.yamltext import Node, read_bytes
from diagnose.model.causes import Unlisted
from diagnose.model.places import ProblemsFoundError
from diagnose.model.work import PlanMinutes

FILE = "some.yaml"


def node_of(text: str) -> Node:
    """The node of a YAML text."""
    return read_bytes(text.encode(), FILE)


def fields_of(text: str, problems: Problems, section: KeySet) -> Fields:
    """The mapping of a YAML text."""
    return Fields(node_of(text), "thing", section, NoNames(problems))


def told(problems: Problems) -> list[str]:
    """The problems as lines, without the file's name."""
    return [line.removeprefix(f"{FILE}:") for problem in problems for line in problem.lines()]


def complaints(error: ProblemsFoundError) -> list[str]:
    """The problems of an error as lines, without the file's name."""
    return told(list(error.problems))


def context() -> Context:
    """A context that knows two observations, a reading, two findings and two limits."""
    words = Vocabulary()
    words.answers = {"port": ("none", "drip", "stream")}
    words.readings = {"gauge"}
    words.grades = {"flow": ("none", "slow", "fast"), "wet": ("no", "yes")}
    words.limits = {"lowest", "margin"}
    settings = Settings({"seldom": 0.1}, (), Unlisted("", 0.1, 0.1), (), (), (), (), PlanMinutes(0, 0), (), {})
    return Context(settings, words, [])


def copied(folder: Path, target: Path) -> Path:
    """A copy of a rule base that may be changed."""
    return Path(shutil.copytree(folder, target))


def every_key(described: Format) -> Iterator[tuple[KeySet, Key]]:
    """Every key of every mapping."""
    for section in described.sections.values():
        yield from ((section, key) for key in section.keys.values())
