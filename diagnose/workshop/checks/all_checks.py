"""Checking a rule base: all problems that keep it from being read, or every doubt about what was read."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.cases.beside import BesideCase, read_beside
from diagnose.diagnosis.compiling import compiled
from diagnose.diagnosis.ready import Ready
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.model.assembly import Assembly
from diagnose.model.places import Problem, ProblemsFoundError
from diagnose.workshop.checks import (
    base_rates,
    counted_twice,
    deliberate,
    long_sentence,
    more_specific,
    never_together,
    never_true,
    no_caution,
    no_repair,
    opposite,
    same_signs,
    short_form,
    source_without_statement,
    stale_limit,
    unused,
)
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Month, RuleCheck

CHECKS: dict[str, RuleCheck] = {
    module.CHECK.name: module.CHECK
    for module in (
        never_true,
        never_together,
        opposite,
        more_specific,
        unused,
        counted_twice,
        same_signs,
        no_repair,
        no_caution,
        base_rates,
        stale_limit,
        source_without_statement,
        long_sentence,
        short_form,
        deliberate,
    )
}


class Checked(NamedTuple):
    """What came of a check: errors, and then nothing else is known; or doubts, and how much was read of each type."""

    errors: tuple[Problem, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    counts: tuple[tuple[str, tuple[tuple[str, int], ...]], ...] = ()
    cases: int = 0


def check(folder: Path, month: Month, only: Collection[str] = (), overlays: Sequence[Path] = ()) -> Checked:
    """Reads a rule base with its cases and asks each check, or those of `only`.

    `month` is the year and month in which limits are judged.
    """
    try:
        ready, cases = _read(folder, overlays)
    except ProblemsFoundError as error:
        return Checked(errors=error.problems)
    base = CheckedBase((folder, *overlays), ready, cases, month)
    counts = tuple((name, _counts(row)) for name, row in base.assemblies.items())
    return Checked(doubts=found_in(base, only), counts=counts, cases=len(cases))


def found_in(base: CheckedBase, only: Collection[str] = ()) -> tuple[Doubt, ...]:
    """What each check, or each of `only`, finds in a rule base; sorted by place, and nothing that is deliberate."""
    asked = [name for name in CHECKS if not only or name in only]
    found = (doubt._replace(check=name) for name in asked for doubt in CHECKS[name].find(base))
    return tuple(sorted(deliberate.open_doubts(_once(found), base, asked, CHECKS)))


def _read(folder: Path, overlays: Sequence[Path]) -> tuple[dict[str, Ready], list[BesideCase]]:
    assemblies = read_rule_base(folder, overlays).assemblies
    problems: list[Problem] = []
    ready: dict[str, Ready] = {}
    for name, assembly in assemblies.items():
        try:
            ready[name] = compiled(assembly, "")
        except ProblemsFoundError as error:
            problems += error.problems
    cases: list[BesideCase] = []
    for part in (folder, *overlays):
        try:
            cases += read_beside(part, assemblies)
        except ProblemsFoundError as error:
            problems += error.problems
    if problems:
        raise ProblemsFoundError(problems)
    return ready, cases


def _once(doubts: Iterable[Doubt]) -> list[Doubt]:
    """One doubt for each place and check: what is said of several types or components is told of one."""
    first: dict[object, Doubt] = {}
    for doubt in doubts:
        key = (doubt.place, doubt.check, tuple(place for place, _ in doubt.notes))
        first.setdefault(key, doubt)
    return list(first.values())


def _counts(assembly: Assembly) -> tuple[tuple[str, int], ...]:
    return (
        ("observations", len(assembly.observations)),
        ("findings", len(assembly.findings)),
        ("rules", len(assembly.rules)),
        ("failure modes", len(assembly.modes)),
        ("causes", len(assembly.causes)),
        ("repairs", len(assembly.repairs)),
    )
