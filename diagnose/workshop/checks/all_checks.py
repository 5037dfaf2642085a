"""Checking a rule base: all problems that keep it from being read, or every doubt about what was read."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.cases.beside import BesideCase, read_beside
from diagnose.diagnosis.compiling import compiled
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.wording import clean
from diagnose.index.things import counts
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.words import expected
from diagnose.model.foreign import cut
from diagnose.model.places import Place, Problem, ProblemsFoundError
from diagnose.sheet.blocks import Block, KeptLines
from diagnose.workshop.checks import rule_checks, value_checks
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Month, RuleCheck

CLEAN, DOUBTFUL, BROKEN = 0, 1, 2
Notes = tuple[tuple[Place, str], ...]
DELIBERATE = "deliberate"
# Name -> the check; what it means and what to do about it stands in pages/NAME.md.
CHECKS: dict[str, RuleCheck] = {
    "never-true": rule_checks.never_true,
    "never-together": rule_checks.never_together,
    "opposite": rule_checks.opposite,
    "more-specific": rule_checks.more_specific,
    "unused": rule_checks.unused,
    "counted-twice": rule_checks.counted_twice,
    "same-signs": rule_checks.same_signs,
    "no-repair": rule_checks.no_repair,
    "no-caution": rule_checks.no_caution,
    "base-rates": value_checks.base_rates,
    "stale-limit": value_checks.stale_limit,
    "source-without-statement": value_checks.source_without_statement,
    "long-sentence": value_checks.long_sentence,
    "short-form": value_checks.short_form,
    DELIBERATE: lambda _: (),  # what is declared can be judged only when all others are done
}


class Checked(NamedTuple):
    """What came of a check: errors, and then nothing else is known; or doubts, and how much was read of each type."""

    errors: tuple[Problem, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    counts: Mapping[str, Mapping[str, int]] = {}
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
    held = {name: counts(row) for name, row in base.assemblies.items()}
    return Checked(doubts=found_in(base, only), counts=held, cases=len(cases))


def found_in(base: CheckedBase, only: Collection[str] = ()) -> tuple[Doubt, ...]:
    """What each check, or each of `only`, finds in a rule base; sorted by place, and nothing that is deliberate."""
    asked = [name for name in CHECKS if not only or name in only]
    found = (doubt._replace(check=name) for name in asked for doubt in CHECKS[name](base))
    return tuple(sorted(_open(_once(found), base, asked)))


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


def _open(doubts: Iterable[Doubt], base: CheckedBase, asked: Collection[str]) -> Iterator[Doubt]:
    """The doubts that nothing declares deliberate, and one for each declaration that settles none."""
    settling: set[Place] = set()
    for doubt in doubts:
        declared = {place for place, check in base.places.declared(doubt.place) if check == doubt.check}
        settling |= declared
        if not declared:
            yield doubt
    if DELIBERATE in asked:
        yield from _declared_in_vain(base, settling, asked)


def _declared_in_vain(base: CheckedBase, settling: set[Place], asked: Collection[str]) -> Iterator[Doubt]:
    """A declaration for a check that was not made is left alone, unless no check has its name."""
    for file in base.every_file():
        for place, check in base.places.all_declared(file):
            if check not in CHECKS:
                message = f"deliberate: there is no check '{cut(check)}'; {expected(check, CHECKS)}"
                yield Doubt(place, message, check=DELIBERATE)
            elif check in asked and place not in settling:
                message = f"deliberate: the check '{check}' has nothing to say here; take this out"
                yield Doubt(place, message, check=DELIBERATE)


def exit_code(found: Checked, tell_only: Collection[str] = ()) -> int:
    """2 for errors, 1 for warnings other than those of the checks that only tell, else 0."""
    if found.errors:
        return BROKEN
    return DOUBTFUL if any(doubt.check not in tell_only for doubt in found.doubts) else CLEAN


def checked_page(found: Checked) -> tuple[Block, ...]:
    """Every error, or every warning, one a line with its notes below it; then what was read."""
    rows = found.errors or found.doubts
    lines = [clean(line) for row in rows for line in row.lines()]
    if found.errors:
        lines.append(_counted(len(found.errors), "error"))
    else:
        lines += (
            f"{name}: {', '.join(f'{count} {what}' for what, count in row.items())}"
            for name, row in found.counts.items()
        )
        lines.append(f"{found.cases} cases; {_counted(len(found.doubts), 'warning')}")
    return (KeptLines(tuple(lines)),)


def checked_data(found: Checked) -> dict[str, Any]:
    """The same as data, in the form of docs/check.schema.json."""
    errors = [_row("error", row.place, row.message, row.notes, "") for row in found.errors]
    doubts = [_row("warning", row.place, row.message, row.notes, row.check) for row in found.doubts]
    return {
        "problems": errors + doubts,
        "types": {
            name: {what.replace(" ", "_"): count for what, count in row.items()} for name, row in found.counts.items()
        },
        "cases": found.cases,
    }


def _row(kind: str, place: Place, message: str, notes: Notes, check: str) -> dict[str, Any]:
    named = {"check": check} if check else {}
    told = [{**_at(place), "message": text} for place, text in notes]
    return {"kind": kind, **_at(place), "message": message, **named, "notes": told}


def _at(place: Place) -> dict[str, Any]:
    """Line and column count from 1; they are left out where the whole file is meant."""
    counted = {"line": place.line, "column": place.column} if place.line else {}
    return {"file": place.file, **counted}


def _counted(count: int, what: str) -> str:
    return f"{count or 'no'} {what}{'' if count == 1 else 's'}"


def page(name: str) -> str:
    """The page of a check, in Markdown that reads well as it is."""
    return (files("diagnose.workshop.checks") / "pages" / f"{name}.md").read_text(encoding="utf-8")
