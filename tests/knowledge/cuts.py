"""Reading a rule base with one file of it damaged: fast enough for thousands of damages.

The other files are parsed once. Of the shipped rule base only the types of assembly that use the file are read; limits
and parts that these do not use are left out, since one that nothing uses is a problem of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path

import pytest

from diagnose.cases.beside import read_cases_file
from diagnose.diagnosis.compiling import compiled
from diagnose.diagnosis.ready import Ready
from diagnose.knowledge import rulebase
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.settings import limits_used
from diagnose.knowledge.shipped import CASES_ENDING, shipped_folder
from diagnose.knowledge.yamltext import Mapping, Node, Sequence, read_bytes, read_file, read_rules_file
from diagnose.model.assembly import Assembly
from diagnose.model.foreign import plain
from diagnose.model.places import Problem, ProblemsFoundError
from tests.knowledge.damage import replaced
from tests.knowledge.writing import orderless

WITH = {"dcda": ("dc",), "dcda_ii": ("dc",), "rpda": ("rp",), "rpda_ii": ("rp",)}
WITH_PART = {
    "relief_valve": ("rp",),
    "sensing_line": ("rp",),
    "detector_meter": ("dc", "dcda"),
    "air_inlet": ("pvb",),
    "vent_valve": ("svb",),
}
ALL_LIMITS = ("dc", "pvb", "rp")


def file_names(folder: Path | None = None) -> list[str]:
    """Every file of a rule base, the shipped one if left out, the cases beside the rules too, below its folder."""
    folder = folder or shipped_folder()
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.yaml"))


class Cuts:
    """A rule base, to be read with one file damaged: the shipped one in cuts, another one whole."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder or shipped_folder()
        self.whole = folder is not None
        self.names = file_names(self.folder)
        self.texts = {name: (self.folder / name).read_text(encoding="utf-8") for name in self.names}
        self.nodes = {name: read_file(self.folder / name) for name in self.names}
        self.every_text = "\n".join(self.texts.values())
        self._sound: dict[tuple[str, ...], dict[str, Assembly]] = {}
        self._orderless: dict[int, object] = {}

    @cached_property
    def assemblies(self) -> dict[str, Assembly]:
        """The whole rule base."""
        return read_rule_base(self.folder).assemblies

    def types(self, name: str) -> tuple[str, ...]:
        """The files of the types that are read with a file."""
        below, stem = Path(name).parent.name, Path(name).stem
        if self.whole:
            return tuple(Path(one).stem for one in self.names if Path(one).parent.name == "assemblies")
        if below == "assemblies":
            return (*WITH.get(stem, ()), stem)
        if below == "limits":
            return ALL_LIMITS
        return WITH_PART.get(stem, ("dc",))

    def sound(self, name: str) -> dict[str, Assembly]:
        """What the types that are read with a file come to with nothing damaged."""
        if name.endswith(CASES_ENDING):
            return {}
        types = self.types(name)
        if types not in self._sound:
            self._sound[types] = self.read(name, self.nodes[name])
        return self._sound[types]

    def orderless(self, sound: Assembly) -> object:
        """What `orderless` makes of one of the sound assemblies."""
        if id(sound) not in self._orderless:
            self._orderless[id(sound)] = orderless(sound)
        return self._orderless[id(sound)]

    def read(self, name: str, damaged: Node | bytes) -> dict[str, Assembly]:
        """Reads and compiles with other contents of one file; cases are read against the sound rule base."""
        if name.endswith(CASES_ENDING):
            return self._cases(name, damaged)
        return {kind: ready.assembly for kind, ready in self.ready(name, damaged).items()}

    def ready(self, name: str, damaged: Node | bytes) -> dict[str, Ready]:
        """As `read`, for a file that is none of cases, and ready to work cases through."""
        with self.instead(self._kept(name), name, damaged):
            found = read_rule_base(self.folder).assemblies
        return {kind: compiled(assembly, "") for kind, assembly in found.items()}

    @contextmanager
    def instead(self, kept: dict[str, Node], name: str = "", damaged: Node | bytes = b"") -> Iterator[None]:
        """Has the rule base read from these nodes, and one file of it from the damaged contents."""
        shown = str(self.folder / name)

        def known(path: Path, shown_as: str | None = None) -> Node:
            if str(path) == shown:
                return read_bytes(damaged, shown, plain) if isinstance(damaged, bytes) else damaged
            below = self.folder in path.parents
            return kept[path.relative_to(self.folder).as_posix()] if below else read_rules_file(path, shown_as)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(rulebase, "rule_files", lambda folder: [folder / one for one in kept])
            patch.setattr(rulebase, "read_rules_file", known)
            yield

    def _cases(self, name: str, damaged: Node | bytes) -> dict[str, Assembly]:
        node = read_bytes(damaged, str(self.folder / name)) if isinstance(damaged, bytes) else damaged
        problems: list[Problem] = []
        read_cases_file(node, self.assemblies, problems)
        if problems:
            raise ProblemsFoundError(problems)
        return {}

    def rules(self) -> dict[str, Node]:
        """The files that decide the meaning of the rule base."""
        return {name: node for name, node in self.nodes.items() if not name.endswith(CASES_ENDING)}

    def _kept(self, name: str) -> dict[str, Node]:
        if self.whole:
            return self.rules()
        types = self.types(name)
        read = [row for row in self.assemblies.values() if row.type.lower().replace("-", "_") in types]
        used = limits_used(read)
        parts = {f"parts/{row.part}.yaml" for assembly in read for row in assembly.components}
        kept = {}
        for one, node in self.nodes.items():
            idle = one.startswith("assemblies/") and Path(one).stem not in types
            idle |= one.startswith("parts/") and one not in parts
            if not idle and not one.endswith(CASES_ENDING):
                kept[one] = node
        for one in [one for one in kept if one.startswith("limits/") and name != one != "limits/gauge.yaml"]:
            kept[one] = _only(kept[one], used)
            if not words_in(kept[one]) & used:
                del kept[one]
        return kept


def _only(profile: Node, used: set[str]) -> Node:
    """The profile without the limits that nothing uses."""
    assert isinstance(profile, Mapping)
    limits = next(value for key, value in profile.entries if key.text == "limits")
    assert isinstance(limits, Mapping)
    return replaced(profile, limits, Mapping(tuple(row for row in limits.entries if row[0].text in used), limits.place))


def words_in(node: Node) -> set[str]:
    """Every word in the node: what a problem elsewhere can name."""
    if isinstance(node, Mapping):
        return set().union(*(words_in(key) | words_in(value) for key, value in node.entries))
    if isinstance(node, Sequence):
        return set().union(*map(words_in, node.items))
    return words_of(node.text)


def words_of(text: str) -> set[str]:
    """Every word, name or key of a source."""
    return set(re.findall(r"[A-Za-z0-9][A-Za-z0-9_-]+", text))
