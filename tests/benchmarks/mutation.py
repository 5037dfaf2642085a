"""`python -m tests.benchmarks.mutation [--seen] [TYPE|FILE ...]`: which small changes to the rules their cases notice.

One place of the shipped rules is changed at a time, as it is written, so for every component and type at once:

- a premise of a rule, or of what says when an answer counts, becomes its opposite; one part of an `all` or `any` is
  left out, or the two exchanged; a comparison is turned round, takes in or leaves out its bound, or has its bound moved
  by 0.1 psid either way; an answer or grade is left out or exchanged for another;
- a rule concludes another grade of its finding;
- a limit of a profile is moved by 0.1 psid, or by 1 kPa where it is written so, either way.

A change is caught if any expectation of any case differs. With --seen the expectations of single rules (`fires`, `does
not fire`) are left out, so that it has to show in findings or in the ranking. Prints, as Markdown for docs/mutation.md,
the share that is caught for each file, then what is not caught with its place. With TYPE, only what that type uses;
with FILE (`rp.yaml`, `parts/check_valve`), only what stands in that file.
"""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterable
from pathlib import Path
from time import perf_counter

from diagnose.cases.beside import BesideCase, read_beside
from diagnose.diagnosis.library import Library
from tests.benchmarks.changes import Change, every_change
from tests.benchmarks.noticing import Noticing

SEEN = "--seen"
Outcome = tuple[Change, bool]


def main(wanted: Collection[str]) -> None:
    """Prints the share for each file, and what is not caught."""
    begin = perf_counter()
    library = Library(keep=False)
    types = library.all()
    rows = read_beside(library.folder, {name: ready.assembly for name, ready in types.items()})
    noticing = Noticing(types, map(_seen, rows) if SEEN in wanted else rows)
    names = [name for name in wanted if name != SEEN]
    chosen = [change for change in every_change(types) if _asked(change, names, types)]
    outcomes = [(change, noticing.catches(change)) for change in chosen]
    print("\n".join(_table(outcomes, library.folder)))
    print(f"\n{len(rows)} cases, {perf_counter() - begin:.0f} s.\n")
    for change, caught in outcomes:
        if not caught:
            print(f"- {_below(change, library.folder)}:{change.place.line}: {change.name}: {change.what}")


def _seen(row: BesideCase) -> BesideCase:
    """The case without what it expects of single rules."""
    return row._replace(expected=row.expected._replace(fires=(), does_not_fire=()))


def _asked(change: Change, wanted: Collection[str], types: Collection[str]) -> bool:
    """Whether a type that was named uses it, or a file that was named holds it; everything where nothing was named."""
    file = Path(change.place.file).with_suffix("").as_posix()
    named = [name.removesuffix(".yaml") for name in wanted if name not in types]
    return not wanted or any(name in change.types() for name in wanted) or any(file.endswith(f"/{n}") for n in named)


def _below(change: Change, folder: Path) -> str:
    return Path(change.place.file).relative_to(folder).as_posix()


def _table(outcomes: Iterable[Outcome], folder: Path) -> list[str]:
    counts: dict[str, list[bool]] = {}
    for change, caught in outcomes:
        counts.setdefault(_below(change, folder), []).append(caught)
    rows = ["| file | changes | caught | share |", "|---|---|---|---|"]
    for name, found in [*sorted(counts.items()), ("all", [one for row in counts.values() for one in row])]:
        share = sum(found) / len(found) if found else 1.0
        rows.append(f"| {name} | {len(found)} | {sum(found)} | {share:.1%} |")
    return rows


if __name__ == "__main__":
    main(sys.argv[1:])
