"""Two versions of a rule base compared as a whole: the rules as written, and every case as it comes out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.diagnosis.compiling import compiled
from diagnose.diagnosis.ready import Ready
from diagnose.knowledge.rulebase import read_nodes, read_rule_base
from diagnose.model.places import Place, Problem, ProblemsFoundError
from diagnose.workshop.comparing.case_changes import CaseChange, CaseComparer
from diagnose.workshop.comparing.case_pairs import BOTH, NEW, Further, NewCase, UnreadCase, pair_cases
from diagnose.workshop.comparing.revisions import Version
from diagnose.workshop.comparing.rule_files import FileComparison, RulesCompared

# Hands rows on one by one; a command shows with it what is being done, and how far it has come.
Watching = Callable[[str, Sequence[Any]], Iterable[Any]]


class CasesCompared(NamedTuple):
    """How many cases there are, how many had to be worked, those that changed, the new ones, and those not read."""

    total: int
    worked: int
    changed: tuple[CaseChange, ...]
    new: tuple[NewCase, ...]
    unread: tuple[UnreadCase, ...]


class Comparison(NamedTuple):
    """The whole comparison. `problems` keep a version from being used, so that no case was run; else none."""

    old: str
    new: str
    overlays: tuple[str, ...]
    rules: RulesCompared
    cases: CasesCompared
    problems: tuple[Problem, ...]

    @property
    def differs(self) -> bool:
        """Whether there is anything to review."""
        return bool(self.rules.differences or self.overlays or self.cases.changed)


class Side(NamedTuple):
    """A version with its types of assembly, compiled, and the names of what was laid over it."""

    version: Version
    ready: dict[str, Ready]
    overlays: tuple[str, ...]


def compare(
    old: Version, new: Version, overlays: Sequence[Path], more: Sequence[Path], watch: Watching = lambda _, rows: rows
) -> Comparison:
    """Compares two versions; `overlays` are laid over the new one, `more` are folders with further cases.

    Raises:
        ProblemsFoundError: a version or a folder of cases is no folder, a rule file is not YAML, or an overlay cannot
            be laid over.
    """
    missing = [path for path in (old.folder, new.folder, *more) if not path.is_dir()]
    if missing:
        raise ProblemsFoundError(Problem(Place(str(path)), "is not a folder") for path in missing)
    rules = FileComparison(read_nodes(old.folder, old.shown), read_nodes(new.folder, new.shown, overlays)).compared()
    try:
        before, after = _sides(watch("reading the rules", [(old, ()), (new, overlays)]))
    except ProblemsFoundError as error:
        return Comparison(old.name, new.name, (), rules, CasesCompared(0, 0, (), (), ()), error.problems)
    further = [*((folder, NEW) for folder in overlays), *((folder, BOTH) for folder in more)]
    cases = _cases(before, after, further, rules, watch)
    return Comparison(old.name, new.name, after.overlays, rules, cases, ())


def _sides(both: Iterable[tuple[Version, Sequence[Path]]]) -> list[Side]:
    """Both versions compiled; the problems of both are told together."""
    sides: list[Side] = []
    problems: list[Problem] = []
    for one, over in both:
        try:
            base = read_rule_base(one.folder, over, one.shown)
            ready = {name: compiled(assembly, "") for name, assembly in base.assemblies.items()}
            sides.append(Side(one, ready, tuple(map(str, base.overlays))))
        except ProblemsFoundError as error:
            problems += error.problems
    if problems:
        raise ProblemsFoundError(problems)
    return sides


def _cases(old: Side, new: Side, more: Sequence[Further], rules: RulesCompared, watch: Watching) -> CasesCompared:
    before, after = ({name: row.assembly for name, row in side.ready.items()} for side in (old, new))
    read = pair_cases(old.version, new.version, more, (before, after))
    comparer = CaseComparer(old.ready, new.ready, rules.names)
    todo = comparer.touched(read.pairs)
    changed = [change for pair in watch("working the cases", todo) if (change := comparer.change(pair)) is not None]
    changed.sort(key=lambda change: change.order)
    return CasesCompared(len(read.pairs), len(todo), tuple(changed), read.new, read.unread)
