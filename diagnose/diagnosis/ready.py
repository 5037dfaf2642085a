"""A type of assembly ready to work with: read, checked and compiled, or fetched from the cache."""

from __future__ import annotations

import hashlib
import os
import sys
from pathlib import Path
from typing import NamedTuple

import platformdirs

from diagnose import __version__
from diagnose.belief.network import Network, build_network
from diagnose.engine.chaining import Chaining
from diagnose.engine.circles import CircleFoundError
from diagnose.engine.gates import order_gates
from diagnose.engine.program import Program, compile_program
from diagnose.knowledge.cache import Shelf
from diagnose.knowledge.rulebase import fingerprint, read_rule_base, shipped_folder
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place, Problem, ProblemsFoundError
from diagnose.model.premises import Gate

COMPILING = ("model", "knowledge", "engine", "belief", "diagnosis")


class Ready(NamedTuple):
    """An assembly with its compiled rules and network, and its gates in the order in which they are judged."""

    assembly: Assembly
    program: Program
    network: Network
    gates: tuple[Gate, ...]
    version: str


class Shelfmark(NamedTuple):
    """What is kept beside the types: their names."""

    types: tuple[str, ...]


def compiled(assembly: Assembly, version: str) -> Ready:
    """Compiles one type.

    Raises:
        ProblemsFoundError: findings, or the conditions under which answers count, rest on each other in a circle.
    """
    grades = {row.name: row.grades for row in assembly.findings}
    computed = {row.name: row.computed for row in assembly.observations if row.computed}
    try:
        program = compile_program(grades, assembly.rules)
        gates = order_gates(assembly.gates, assembly.rules, computed)
        Chaining(program, {}, computed)
    except CircleFoundError as error:
        raise ProblemsFoundError([_circle(error, assembly)]) from error
    network = build_network(assembly.causes, assembly.modes, assembly.findings, assembly.unlisted)
    return Ready(assembly, program, network, gates, version)


def _circle(error: CircleFoundError, assembly: Assembly) -> Problem:
    places = {row.name: row.place for row in assembly.findings}
    places |= {row.name: row.place for row in assembly.observations}
    names = list(error.names)
    place = places.get(names[0], Place(assembly.type)) if names else Place(assembly.type)
    circle = " rests on ".join([*names, *names[:1]])
    notes = tuple((places[name], f"'{name}' stands here") for name in dict.fromkeys(names[1:]) if name in places)
    return Problem(place, f"a circle: {circle}; a conclusion cannot rest on itself", notes)


class Library:
    """The types of one rule base. `folder` None means the shipped one; `keep` False leaves the cache alone."""

    def __init__(self, folder: Path | None = None, *, keep: bool = True) -> None:
        self.folder = folder or shipped_folder()
        self.version = fingerprint(self.folder)[:12] if self.folder.is_dir() else ""
        self._shelf = _shelf() if keep else None
        self._compiled: dict[str, Ready] = {}

    def types(self) -> tuple[str, ...]:
        """The names of all types, sorted."""
        if not self._compiled and self._shelf is not None:
            mark = self._shelf.load(self._key("types"))
            if isinstance(mark, Shelfmark):
                return mark.types
        return tuple(self._all())

    def get(self, name: str) -> Ready:
        """One type, ready. `name` must be one of `types`."""
        if name not in self._compiled and self._shelf is not None:
            found = self._shelf.load(self._key(name))
            if isinstance(found, Ready):
                self._compiled[name] = found
        return self._compiled[name] if name in self._compiled else self._all()[name]

    def all(self) -> dict[str, Ready]:
        """Every type, ready."""
        return {name: self.get(name) for name in self.types()}

    def _all(self) -> dict[str, Ready]:
        base = read_rule_base(self.folder)
        self._compiled = {name: compiled(assembly, self.version) for name, assembly in base.assemblies.items()}
        if self._shelf is not None:
            for name, ready in self._compiled.items():
                self._shelf.save(self._key(name), ready)
            self._shelf.save(self._key("types"), Shelfmark(tuple(self._compiled)))
        return self._compiled

    def _key(self, name: str) -> str:
        return f"{self.version}-{_code_stamp()}-{name.encode().hex()}"


def _code_stamp() -> str:
    """Changes whenever the code that compiles does: version, sizes and times of the files."""
    digest = hashlib.sha256(__version__.encode())
    package = Path(__file__).resolve().parent.parent
    for room in COMPILING:
        for entry in sorted(os.scandir(package / room), key=lambda entry: entry.name):
            if entry.name.endswith(".py"):
                digest.update(f"{room}/{entry.name} {entry.stat().st_size} {entry.stat().st_mtime_ns}".encode())
    return digest.hexdigest()[:12]


def _shelf() -> Shelf:
    """Where compiled types are kept; it knows the frozen types of the rooms that a compiled type is made of."""
    classes: dict[str, type] = {"Ready": Ready, "Shelfmark": Shelfmark}
    for name, module in sorted(sys.modules.items()):
        if name.startswith(tuple(f"diagnose.{room}." for room in COMPILING)):
            classes |= {key: value for key, value in vars(module).items() if _is_frozen(value)}
    return Shelf(Path(platformdirs.user_cache_dir("backflow-diagnose")), classes.values())


def _is_frozen(value: object) -> bool:
    return isinstance(value, type) and issubclass(value, tuple) and hasattr(value, "_fields")
