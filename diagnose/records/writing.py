"""What was learnt as an overlay: plain files, one line for each value, which says where it comes from.

Whoever does not want a value deletes its line.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import groupby
from math import fsum
from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.files import write_whole
from diagnose.knowledge.overlay import accept, likely_name
from diagnose.knowledge.rulebase import read_nodes, read_rule_base
from diagnose.knowledge.shipped import OVERLAY_FILE
from diagnose.knowledge.yamltext import entries_of, flat, value_of
from diagnose.model.places import if_allowed, refused
from diagnose.records.lessons import LearnedValue, Lessons

HEAD = (
    "# Learned from records by `diagnose learn`. Each value stands on a line of its own: delete a line, and the value\n"
    "# of the rules holds; with the last line of a table (`shares`, `cures`) goes its name. `cases` may be fractions,\n"
    "# where the cause of a job stayed open.\n"
)
Scale = Callable[[LearnedValue], float]


class Provenance(NamedTuple):
    """From what it was learnt: the folder or book as it was named, and the version of the rules that was the prior."""

    name: str
    edition: str
    version: str


def must_be_free(folder: Path) -> None:
    """Refuses to write over anything.

    Raises:
        ProblemsFoundError: something stands there.
    """
    if folder.is_symlink() or (folder.exists() and (not folder.is_dir() or any(folder.iterdir()))):
        raise refused(
            folder, "holds something already, and what stands in it may be refused lines; name another folder"
        )


def overlay_of(lessons: Lessons, source: Provenance, folder: Path, scale: Scale) -> dict[str, str]:
    """The files of the overlay, by their names below its folder. `scale`: what a share is times in the rules."""
    found = lessons.gathered
    number = len(found.faults)
    days = f", {found.days}" if found.days else ""
    title = f"Learned from {number} repairs{days}; rules {source.edition or 'of no version'} ({source.version})"
    files = {OVERLAY_FILE: f"{HEAD}overlay: {likely_name(folder)}\ntitle: {json.dumps(title)}\n"}
    sources: list[str] = []
    learned = sorted(lessons.values, key=lambda row: (row.where, row.path[:2]))
    for file, values in groupby(learned, lambda row: row.where):
        lines: list[str] = []
        for (section, thing), some in groupby(values, lambda row: row.path[:2]):
            rows = list(some)
            key = "_".join(("learned", Path(file).stem, thing))
            lines += [] if f"  {section}:" in lines else [f"  {section}:"]
            lines += [f"    {thing}:", *_lines(rows, scale, lessons.prior), f"      source: {key}"]
            sources += _source(key, rows, source, days, lessons.prior)
        files[file] = f"{HEAD}changed:\n" + "".join(f"{line}\n" for line in lines)
    if sources:
        files["sources.yaml"] = "sources:\n" + "".join(f"{line}\n" for line in sources)
    return files


def _lines(rows: Sequence[LearnedValue], scale: Scale, prior: float) -> Iterator[str]:
    for table, some in groupby(rows, lambda row: row.path[2] if len(row.path) > 3 else ""):
        indent = " " * (8 if table else 6)
        if table:
            yield f"      {table}:"
        for row in some:
            times = scale(row)
            yield f"{indent}{row.path[-1]}: {_written(row, times)}  # {_told(row, times, prior)}"


def _written(row: LearnedValue, times: float) -> str:
    """The value as the format takes it: a share is at least 0.001, and a cure never certain."""
    most = 0.999 if row.path[2] == "cures" else row.after * times
    return figure(max(min(row.after * times, most), 0.001 if row.path[2] == "shares" else 0.0))


def _told(row: LearnedValue, times: float, prior: float) -> str:
    before = f"the rules say {figure(row.before * times)}, which counts as {prior:g}"
    if row.path[-1] == "minutes":
        return f"median of {row.number:g} jobs; {before}"
    between = f"{_near(row.low * times)} to {_near(row.high * times)}"
    return f"{round(row.number, 2):g} of {round(row.total, 2):g} cases; {before}; 90 %: {between}"


def _near(number: float) -> str:
    return "0" if number < 0.0001 else figure(float(f"{number:.2g}"))


def _source(key: str, rows: Sequence[LearnedValue], source: Provenance, days: str, prior: float) -> Iterator[str]:
    # A part's rate rests on all failures of its type, what its causes share on those in the part.
    repairs = max(1, round(max(row.total for row in rows)))
    noun = "repair" if repairs == 1 else "repairs"
    own = next((f", {round(row.number, 1):g} in this part" for row in rows if row.path[-1] == "rate"), "")
    yield f"  {key}:"
    yield f"    title: {json.dumps(f'learned from {repairs} {noun} of our own{own}{days}')}"
    rules = f"rules {source.edition or 'of no version'} ({source.version}), worth {prior:g} cases"
    yield f"    where: {json.dumps(f'{source.name}; prior: {rules}')}"
    yield "    mark: own records"
    yield f"    repairs: {repairs}"


def figure(number: float) -> str:
    """Three figures, without an exponent and never quite 0 or 1, which would be more than records can tell."""
    text = f"{number:.3g}"
    if "e" in text:
        text = f"{number:.6f}".rstrip("0").rstrip(".")
    return text if float(text) > 0 else "0.000001"


@contextmanager
def drafted(beside: Path | None, files: Mapping[str, str], rules: Path, overlays: Sequence[Path]) -> Iterator[Path]:
    """The overlay in a folder of its own that is gone afterwards; it is known to fit the rules and what lies over them.

    It stands beside the folder that it is to become, so that `put` can move it there in one step.

    Raises:
        ProblemsFoundError: it cannot be written, or the rules do not take it.
    """
    parent = beside.resolve().parent if beside is not None else None
    with if_allowed(beside or "the draft", "written"):
        if parent is not None:
            parent.mkdir(parents=True, exist_ok=True)
        made = tempfile.TemporaryDirectory(prefix=".learned-", dir=parent)
    with made as folder:
        draft = Path(folder) / "learned"
        with if_allowed(beside or draft, "written"):
            for name, text in files.items():
                (draft / name).parent.mkdir(parents=True, exist_ok=True)
                write_whole(draft / name, text.encode())
        accept(read_rule_base(rules, [*overlays, draft]).overlays[-1])
        yield draft


def put(draft: Path, folder: Path) -> None:
    """Moves the draft to where it belongs, whole; an empty folder gives way, one that was filled meanwhile does not.

    Raises:
        ProblemsFoundError: it cannot be put there.
    """
    must_be_free(folder)
    with if_allowed(folder, "written"):
        draft.rename(folder)


def share_scale(rules: Path, overlays: Sequence[Path]) -> Scale:
    """What the shares of each part add up to as its files write them, so that a deleted line leaves them alike."""
    nodes = read_nodes(rules, overlays=overlays)

    def scale(row: LearnedValue) -> float:
        if row.path[2] != "shares":
            return 1.0
        component = value_of(nodes[row.where], *row.path[:2])
        part = nodes[f"parts/{flat(value_of(component, 'part'))}.yaml"]
        usual = {key.text: float(flat(value_of(cause, "share"))) for key, cause in entries_of(part, "causes")}
        own = {key.text: float(flat(value)) for key, value in entries_of(component, "shares")}
        return fsum((usual | own).values())

    return scale
