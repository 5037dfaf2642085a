"""Reading and compiling a whole rule base; needed only where the cache does not have it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from diagnose.belief.network import build_network
from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining
from diagnose.engine.order import CircleFoundError, order_gates, order_rules
from diagnose.knowledge.piece import own_name
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place, Problem, ProblemsFoundError


def compiled_base(folder: Path, version: str, overlays: Sequence[Path] = ()) -> dict[str, Ready]:
    """Every type of a rule base with what is laid over it, ready.

    Raises:
        ProblemsFoundError: with the problems of the rule base.
    """
    base = read_rule_base(folder, overlays)
    named = "; ".join(map(str, base.overlays))
    return {name: compiled(assembly, version, named, base.edition) for name, assembly in base.assemblies.items()}


def compiled(assembly: Assembly, version: str, overlay: str = "", edition: str = "") -> Ready:
    """Compiles one type.

    Raises:
        ProblemsFoundError: findings, or the conditions under which answers count, rest on each other in a circle.
    """
    grades = {row.name: row.grades for row in assembly.findings}
    computed = assembly.computed
    try:
        steps = order_rules(grades, assembly.rules)
        counting = [gate for gate in assembly.gates if gate.decides_what_counts]
        gates = order_gates(counting, assembly.rules, computed)
        Chaining(steps, {}, computed)
    except CircleFoundError as error:
        raise ProblemsFoundError([_circle(error, assembly)]) from error
    network = build_network(assembly.causes, assembly.modes, assembly.findings, assembly.unlisted)
    return Ready(assembly, steps, network, gates, version, overlay, edition)


def _circle(error: CircleFoundError, assembly: Assembly) -> Problem:
    places = {row.name: row.place for row in assembly.findings}
    places |= {row.name: row.place for row in assembly.observations}
    names = list(error.names)
    place = places.get(names[0], Place(assembly.type)) if names else Place(assembly.type)
    # In own names, so that what several types or parts take over from one file is told once.
    circle = " rests on ".join(map(own_name, [*names, *names[:1]]))
    notes = tuple(
        (places[name], f"'{own_name(name)}' stands here") for name in dict.fromkeys(names[1:]) if name in places
    )
    return Problem(place, f"a circle: {circle}; a conclusion cannot rest on itself", notes)
