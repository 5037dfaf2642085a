"""`diagnose triage`."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.cli.ending import CTRL_C, ending
from diagnose.cli.shared import ChosenRules, form_of, rules_options, shown, tell_problems, unit_option
from diagnose.diagnosis.wording import plural
from diagnose.knowledge.files import keep_apart, write_output
from diagnose.model.foreign import cut

if TYPE_CHECKING:
    from diagnose.model.places import Problem
    from diagnose.records.triage import Triage

FORMS = {".csv": "csv", ".jsonl": "json lines"}
UNFINISHED = ".unfinished"
MOST_TOLD, MOST_TAGS = 20, 3
NOTHING_READ = BAD_ROWS = 2


@click.command("triage")
@click.argument("reports", metavar="REPORTS", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--columns", metavar="FILE", type=click.Path(path_type=Path), help="What your columns and codes mean.")
@click.option(
    "--history",
    metavar="PATH",
    type=click.Path(path_type=Path, exists=True),
    help="Earlier years of the same assemblies: a folder of case files, or a CSV file with the same columns.",
)
@click.option("-o", "--output", metavar="FILE", type=click.Path(path_type=Path), help="The table: .csv or .jsonl.")
@click.option("--page", metavar="FILE", type=click.Path(path_type=Path), help="The year on one page, an .html file.")
@click.option("--problems", metavar="FILE", type=click.Path(path_type=Path), help="Every bad row with what is wrong.")
@click.option("--strict", is_flag=True, help="End with 2 if any row is bad.")
@click.option(
    "--jobs", type=click.IntRange(1, 64), help="Processes to share the work; as many as processors if left out."
)
@unit_option
@rules_options
def command(
    reports: Path,
    columns: Path | None,
    history: Path | None,
    output: Path | None,
    page: Path | None,
    problems: Path | None,
    strict: bool,
    jobs: int | None,
    unit: str,
    chosen: ChosenRules,
) -> None:
    """A year of field test reports: what failed, why most likely, and which to see to first.

    REPORTS is a CSV file, a row for each report. Columns called by names of ours (`diagnose questions RP` lists them;
    besides tag, tested_on, location, type, size, result, hazard) are read as they stand; --columns names a small file
    that says what others hold. Bad rows are told, the rest is worked.

    Seen to first: no protection, then a failed test where there is a health hazard, then other failed tests, then
    readings near a limit.

    What was broken off (Ctrl-C) goes on where it stopped when the same command is given again.

    Ends with 0, also where some rows are bad (with --strict, 2), with 2 if no row can be read, 130 after Ctrl-C.
    """
    from diagnose.records.table_file import TableFile
    from diagnose.records.triage import NO_PAST, Triage, past_in
    from diagnose.records.triage_columns import ReportColumns, read_columns

    form = form_of(str(output), None, FORMS, "csv") if output else ""
    library = chosen.library()
    held = read_columns(columns, [row.assembly for row in library.all().values()]) if columns else ReportColumns()
    first = output or page
    work = first.with_name(f"{first.name}{UNFINISHED}") if first else None
    keep_apart((output, page, problems, work), (reports, columns, history))
    past, unread = past_in(history, held, library) if history else (NO_PAST, [])
    triage, done, bad, read = None, False, 0, 0
    with ending() as end:
        try:
            triage = Triage(TableFile(reports, held.separator, held.encoding), held, library, work, past)
            if triage.store.read_so_far():
                click.echo(f"Going on with what {work} holds.", err=True)
            with _bar("Reading") as reading, _bar("Weighing") as weighing:
                triage.run(jobs, reading, weighing)
            bad = _tell_bad(triage, problems, reports, unread)
            if read := triage.store.reports_read():
                _write(triage, output, form, page, unit, reports)
            done = True
        except KeyboardInterrupt:
            click.echo("Broken off.", err=True)
            sys.exit(end.code or CTRL_C)
        finally:
            if triage is not None:
                triage.store.close(finished=done)
            if work and not done and work.exists():
                click.echo(f"The same command goes on from here; {work} holds what was done.", err=True)
    if not read:
        sys.exit(NOTHING_READ)
    if strict and bad:
        sys.exit(BAD_ROWS)


@contextmanager
def _bar(label: str) -> Iterator[Callable[[int, int], None]]:
    """Shows how much is done of how much, and the time left, where somebody looks."""
    with ExitStack() as shown:
        bars: list[tuple[Any, int]] = []

        def tell(done: int, total: int) -> None:
            if not bars and sys.stderr.isatty():
                bars.append((shown.enter_context(click.progressbar(length=total, label=label, file=sys.stderr)), 0))
            if bars:
                bar, before = bars[0]
                bar.update(done - before)
                bars[0] = bar, done

        yield tell


def _tell_bad(triage: Triage, file: Path | None, reports: Path, earlier: Sequence[Problem]) -> int:
    """Tells of bad rows, the first ones in full, and of those of `earlier` years; how many problems there are."""
    tell_problems(earlier[:MOST_TOLD])
    lines = [line for row in triage.store.problems(str(reports)) for line in row.lines()]
    if not lines and not triage.store.reports_read():
        lines = [f"{reports}: error: there is no report below the first row"]
    if triage.unread:
        click.echo(f"{reports}: columns that are not read: {', '.join(map(cut, triage.unread))}", err=True)
    doubtful = triage.store.doubtful_tags()
    for tag, times in doubtful[:MOST_TAGS]:
        click.echo(
            f"{reports}: {times} assemblies that differ in type, size or place have the tag '{cut(tag)}'", err=True
        )
    if len(doubtful) > MOST_TAGS:
        click.echo(f"{reports}: {len(doubtful) - MOST_TAGS} more tags stand with several", err=True)
    if file is not None:
        write_output(file, "".join(f"{line}\n" for line in lines).encode(), [reports])
    for line in lines[:MOST_TOLD]:
        click.echo(line, err=True)
    if bad := triage.store.bad_rows():
        more = len(lines) - MOST_TOLD
        others = (
            f" {more} more problems are {f'in {file}' if file else 'listed with --problems FILE'}." if more > 0 else ""
        )
        click.echo(f"{plural(bad, 'bad row')} left out, {triage.store.reports_read()} read.{others}", err=True)
    return len(lines)


def _write(triage: Triage, output: Path | None, form: str, page: Path | None, unit: str, reports: Path) -> None:
    """The table, the page, and in short what came of it."""
    from diagnose.records.triage_summary import as_csv, as_json_lines, as_row, in_short, summary

    found = summary(triage)
    if output is not None:
        rows = (as_row(row, unit, triage.size_unit, triage.texts) for row in triage.reports())
        write_output(output, as_csv(rows) if form == "csv" else as_json_lines(rows), [reports])
    if page is not None:
        from diagnose.pages.years import triage_page

        write_output(page, triage_page(found, unit, triage.edition).encode(), [reports])
    click.echo(shown("text", in_short(found, unit)), nl=False)
