"""The cases beside the rules, run: what came out otherwise than expected, and on what grounds; and the report of it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from diagnose import __version__
from diagnose.belief.posterior import decibans, factors, weigh
from diagnose.cases.beside import BesideCase, all_cases, read_cases_file
from diagnose.diagnosis.grounds import VALUES, Grounds, Rows
from diagnose.diagnosis.outcomes import evidence_of
from diagnose.diagnosis.processes import crew
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import Runs
from diagnose.diagnosis.trial import Difference, chances, ranked, ranks, unmet
from diagnose.diagnosis.wording import clean, percent, plural, times
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS
from diagnose.engine.chaining import Chaining
from diagnose.knowledge.fields import Problems, no_such
from diagnose.knowledge.shipped import CASES_ENDING, RULES_ENDING, case_files
from diagnose.knowledge.yamltext import read_rules_file
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.places import ProblemsFoundError, refused
from diagnose.model.places import as_data as place_data
from diagnose.model.premises import Gate
from diagnose.sheet.blocks import Block, KeptLines, Tree

_AT_LINE = re.compile(r"(?P<file>.+?):(?P<line>\d+)(?::\d+)?")


def chosen_cases(
    folders: Sequence[Path], assemblies: Mapping[str, Assembly], wanted: Sequence[str]
) -> list[BesideCase]:
    """The cases that any of `wanted` names, each once; all where nothing is wanted.

    A wanted text is a cases file, a rule file (its cases), a folder, `FILE:LINE`, the bare name of a file, or words
    that stand in the names of cases.

    Raises:
        ProblemsFoundError: with all problems of the files read, or for a text that names no case.
    """
    if not wanted:
        return all_cases(folders, assemblies)
    found = {(row.place, row.name): row for text in wanted for row in _named_by(text, folders, assemblies)}
    return list(found.values())


def _named_by(text: str, folders: Sequence[Path], assemblies: Mapping[str, Assembly]) -> list[BesideCase]:
    at_line = _AT_LINE.fullmatch(text)
    if files := _files(text, folders):
        return _read(files, assemblies)
    if at_line and (files := _files(at_line["file"], folders)):
        before = [row for row in _read(files, assemblies) if row.place.line <= int(at_line["line"])]
        if not before:
            raise refused(text, "no case stands on this line")
        return before[-1:]
    return _by_words(text, all_cases(folders, assemblies))


def _files(text: str, folders: Sequence[Path]) -> list[Path]:
    paths = [Path(text)] if Path(text).exists() else [folder / text for folder in folders]
    files = [file for path in paths if path.is_dir() for file in case_files(path)]
    files += _beside([path for path in paths if path.is_file()])
    return files or [path for folder in folders for path in case_files(folder) if path.name == _cases_name(Path(text))]


def _cases_name(path: Path) -> str:
    return path.name.removesuffix(CASES_ENDING).removesuffix(RULES_ENDING) + CASES_ENDING


def _read(files: Iterable[Path], assemblies: Mapping[str, Assembly]) -> list[BesideCase]:
    problems: Problems = []
    rows = [row for path in files for row in read_cases_file(read_rules_file(path), assemblies, problems)]
    if problems:
        raise ProblemsFoundError(problems)
    return rows


def _by_words(text: str, rows: Sequence[BesideCase]) -> list[BesideCase]:
    words = text.casefold()
    exact = [row for row in rows if row.name.casefold() == words]
    found = exact or [row for row in rows if words in row.name.casefold()]
    if not found:
        files = {Path(row.place.file).name.removesuffix(CASES_ENDING) for row in rows}
        names = files if text.endswith(RULES_ENDING) else [*(row.name for row in rows), *files]
        raise no_such("CASE", "there is no file of cases and no case with these words:", text, names)
    return found


def _beside(paths: Sequence[Path]) -> list[Path]:
    """The cases of rule files of one name; a file of cases stands for itself.

    Raises:
        ProblemsFoundError: no cases stand beside any of them.
    """
    cases = [path.with_name(_cases_name(path)) for path in paths]
    found = [path for path in cases if path.is_file()]
    if paths and not found:
        raise refused(paths[0], f"no cases stand beside it; expected {cases[0].name}")
    return found


# Below this many cases a second process costs more than it saves.
WORTH_SHARING = 120
SHARE = 16
MOST_RANKED = 5
MOST_WEIGHTS = 8


class ExplainedDifference(NamedTuple):
    """A difference, and the grounds of what came instead: lines, each with its depth."""

    difference: Difference
    why: tuple[tuple[int, str], ...]


class Tried(NamedTuple):
    """A case that was run. `ranking`: the leaders of what its expectations of the ranking speak of, where asked for."""

    row: BesideCase
    differences: tuple[ExplainedDifference, ...]
    ranking: tuple[tuple[str, float], ...] = ()


class CasesToTry(NamedTuple):
    """Cases to run, and whether their rankings are asked for."""

    runs: Runs
    rows: Sequence[BesideCase]
    rank: bool

    def share(self, places: range) -> list[Tried]:
        """What came of some of them."""
        return [_tried(self.rows[at], self.runs, self.rank) for at in places]


def try_cases(types: Mapping[str, Ready], rows: Sequence[BesideCase], *, rank: bool = False) -> list[Tried]:
    """Runs the cases, in their order; `rank` adds the ranking to those that expect something of it.

    Cases do not depend on each other, so where there are many they are shared among the processors.
    """
    shares = (range(at, min(at + SHARE, len(rows))) for at in range(0, len(rows), SHARE))
    with crew(None if len(rows) >= WORTH_SHARING else 1, CasesToTry(Runs(types), rows, rank)) as workers:
        return [tried for share in workers.each(CasesToTry.share, shares) for tried in share]


def _tried(row: BesideCase, runs: Runs, rank: bool) -> Tried:
    ready = runs.types[row.case.type]
    chaining, shut = runs.run(row.case)
    differing = [
        ExplainedDifference(difference, tuple(why(ready, row.case, difference, chaining, shut)))
        for difference in unmet(ready, row, chaining, shut)
    ]
    ranking: tuple[tuple[str, float], ...] = ()
    if rank and ranks(row):
        standing = weigh(ready.network, evidence_of(ready, chaining))
        chance = chances(standing)
        expected = row.expected
        spoken_of = next(filter(None, (expected.first, *expected.order, *expected.not_first)))
        leaders = ranked(ready.assembly, spoken_of, standing)[:MOST_RANKED]
        ranking = tuple((name, chance[name]) for name in leaders)
    return Tried(row, tuple(differing), ranking)


def why(
    ready: Ready, case: Case, difference: Difference, chaining: Chaining, shut: Mapping[str, Gate]
) -> Iterator[tuple[int, str]]:
    """KeptLines with their depths, from 0."""
    grounds = Grounds(ready.assembly, ready.assembly.profile(case.profile), chaining, shut)
    match difference.key:
        case "finds" | "does not find" | "leaves open":
            yield from _finding(grounds, chaining, difference)
        case "fires" | "does not fire":
            rule = next(row for row in ready.assembly.rules if row.name == difference.name)
            yield from grounds.rule(rule)
        case "void":
            gates = [gate for gate in ready.gates if difference.name in gate.observations]
            if not gates:
                yield 0, f"nothing in the rules sets {difference.name} aside"
            for gate in gates:
                yield from grounds.gate(gate)
        case "first repair" | "next check" | "must not open":
            yield 0, "the plan follows from the ranking: diagnose plan tells each step's minutes and chances"
        case _:
            yield from _ranking(ready, chaining, difference)


def _finding(grounds: Grounds, chaining: Chaining, difference: Difference) -> Rows:
    """What settled the grade, or what the open ones still lack; and what the expected one lacks."""
    name = difference.name
    possible, grades = chaining.possible(name), tuple(chaining.grades[name])
    shown = [grades[place] for place in possible if place or len(possible) == 1]
    if difference.key == "finds":
        shown.append(difference.expected)
    seen: set[tuple[str, str]] = set()
    for grade in dict.fromkeys(shown):
        yield from grounds.finding(name, grade, 0, seen)


def _ranking(ready: Ready, chaining: Chaining, difference: Difference) -> Rows:
    """What each finding did to the odds of what leads and of what should, the most telling first."""
    if difference.rivals is None:
        yield 0, "nothing else competes with it"
        return
    wanted, leading = difference.rivals
    before = chances(weigh(ready.network, {}))
    yield 0, f"before anything was observed: {leading} {percent(before[leading])}, {wanted} {percent(before[wanted])}"
    says = {row.name: row.says for row in ready.assembly.findings}
    told = []
    for finding, factor in factors(ready.network, evidence_of(ready, chaining)).items():
        ours, theirs = factor.get(leading, 1.0), factor.get(wanted, 1.0)
        # What is impossible counts as very unlikely, so that it can be subtracted.
        lead = max(decibans(ours), -200.0) - max(decibans(theirs), -200.0)
        if abs(lead) >= LEAST_DECIBANS:
            shown = " or ".join(says[finding][place] for place in chaining.possible(finding))
            moves = f"{leading} {times(ours)}, {wanted} {times(theirs)}"
            told.append((-abs(lead), finding, f"{finding}: {shown} {moves}"))
    yield from ((0, text) for _, _, text in sorted(told)[:MOST_WEIGHTS])
    if not told:
        yield 0, "no finding tells the two apart; their base rates decide"
    yield from _unknown(ready, chaining, difference)


def _unknown(ready: Ready, chaining: Chaining, difference: Difference) -> Rows:
    """The findings that would bear on what the case speaks of and are not settled: an answer may be missing."""
    causes = [row for row in ready.assembly.causes if difference.name in (row.name, row.component)]
    wanted = {row.name for row in causes} | {mode for row in causes for mode, _ in row.brings}
    open_ = [
        finding.name
        for finding in ready.assembly.findings
        if not finding.sight
        and len(chaining.possible(finding.name)) > 1
        and any(wanted & set(reason.all_of) for reason in finding.reasons)
    ]
    if open_:
        yield 0, f"{VALUES[None]}, and would bear on {difference.name}: {', '.join(sorted(open_)[:MOST_WEIGHTS])}"


FIGURES = 6


def tried_page(tried: Sequence[Tried]) -> Iterator[Block]:
    """Each difference with its place and grounds, the rankings that were asked for, and one line that counts."""
    for one in tried:
        for explained in one.differences:
            head = f"{explained.difference.place}: differs: {explained.difference.sentence}"
            yield KeptLines(("", head, f"{one.row.place}: note: in the case '{clean(one.row.name)}'"))
            yield Tree(tuple((depth, clean(text)) for depth, text in explained.why))
        if one.ranking:
            yield KeptLines(("", *_leaders(one)))
    yield KeptLines(("", counted(tried)))


def counted(tried: Sequence[Tried], of: str = "tried") -> str:
    """How many were tried and how many differ: `543 cases tried: 2 differ, in 3 expectations.`."""
    differing = [one for one in tried if one.differences]
    cases = plural(len(tried), "case")
    if not differing:
        return f"{cases} {of}: all as expected."
    expectations = plural(sum(len(one.differences) for one in differing), "expectation")
    verb = "differs" if len(differing) == 1 else "differ"
    return f"{cases} {of}: {len(differing)} {verb}, in {expectations}."


def _leaders(tried: Tried) -> Iterator[str]:
    expected = tried.row.expected
    wanted = (("first", expected.first), ("order", ", ".join(expected.order)))
    spoken = [f"{key}: {names}" for key, names in (*wanted, ("not first", ", ".join(expected.not_first))) if names]
    yield f"{tried.row.place}: ranking: '{clean(tried.row.name)}'"
    yield f"  expected  {'; '.join(spoken)}"
    yield f"  now       {', '.join(f'{name} {percent(chance)}' for name, chance in tried.ranking)}"


def tried_data(tried: Iterable[Tried], version: str) -> dict[str, Any]:
    """Plain dictionaries and lists; every case that was tried, in the order tried."""
    rows = list(tried)
    return {
        "made_by": {"version": __version__, "rule_base": version},
        "tried": len(rows),
        "differing": sum(bool(one.differences) for one in rows),
        "cases": [_tried_data(one) for one in rows],
    }


def _tried_data(tried: Tried) -> dict[str, Any]:
    row = tried.row
    return {
        "name": row.name,
        **place_data(row.place),
        "assembly": row.case.type,
        "as_expected": not tried.differences,
        "differences": [_difference_data(one) for one in tried.differences],
        "ranking": [{"name": name, "probability": round(chance, FIGURES)} for name, chance in tried.ranking],
    }


def _difference_data(explained: ExplainedDifference) -> dict[str, Any]:
    difference = explained.difference
    return {
        "key": difference.key,
        "name": difference.name,
        **place_data(difference.place),
        "expected": difference.expected,
        "got": difference.got,
        "why": [{"depth": depth, "text": text} for depth, text in explained.why],
    }
