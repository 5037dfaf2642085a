"""`diagnose learn`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.cli.shared import (
    ANY_PATH,
    ChosenRules,
    NumberRange,
    cases_beside,
    form_option,
    report,
    rules_options,
    tell_problems,
)
from diagnose.diagnosis.wording import plural
from diagnose.model.places import refused

if TYPE_CHECKING:
    from diagnose.diagnosis.library import Library
    from diagnose.records.book import Read
    from diagnose.records.lessons import Lessons

SOME_UNREAD = 1
NOTHING_TAUGHT = (
    "no job in it has an outcome that teaches anything (open jobs do so only beside others of their type); nothing was "
    "written"
)


@click.command("learn")
@click.argument("folder", type=ANY_PATH, required=False)
@click.option("--book", type=ANY_PATH, metavar="FILE", help="A table of repairs, in place of a folder.")
@click.option("--columns", type=ANY_PATH, metavar="FILE", help="What the book's columns mean.")
@click.option("-o", "--output", type=ANY_PATH, metavar="OVERLAY", help="The folder to write.")
@click.option(
    "--prior-cases",
    type=NumberRange(0.5, 100_000),
    default=10.0,
    show_default=True,
    help="How many cases the rules count as, in each part and each type.",
)
@click.option("--no-cases", is_flag=True, help="Do not weigh the cases beside the rules again.")
@form_option()
@rules_options
def command(
    folder: Path | None,
    book: Path | None,
    columns: Path | None,
    output: Path | None,
    prior_cases: float,
    no_cases: bool,
    form: str,
    chosen: ChosenRules,
) -> None:
    """Rates, shares, cures and minutes from the outcomes of closed jobs, as an overlay.

    FOLDER holds case files with their records (`diagnose close`); --book takes a table instead. Without -o it shows
    what it would learn and what that changes in the cases beside the rules, and writes nothing. OVERLAY must not be
    there yet; each of its lines says where it comes from, and a line that is deleted is not learnt.

    Ends with 0; with 1 if files or rows could not be read, which are told while the others are learnt from; with 2 if
    nothing could be read or written.
    """
    from diagnose.diagnosis.runs import Runs
    from diagnose.records.book import told_once
    from diagnose.records.lessons import leading, lessons_of
    from diagnose.records.page import lessons_data, lessons_page
    from diagnose.records.writing import must_be_free

    if (folder is None) == (book is None) or (book is None) != (columns is None):
        raise click.UsageError("name a FOLDER of case files, or --book FILE with --columns FILE")
    if output is not None:
        must_be_free(output)
    types = chosen.library()
    read = _read(folder, book, columns, types, keep=chosen.keep)
    tell_problems(told_once(read.problems))
    if not read.cases:
        raise refused(folder or book or "", "no job in it could be read" if read.problems else "there is no job in it")
    runs = Runs(types.all())
    lessons = lessons_of(read.cases, runs, prior_cases, _taken(types))
    if not lessons.values:
        raise refused(folder or book or "", NOTHING_TAUGHT)
    led = None if no_cases else leading(lessons, runs, cases_beside(types))
    click.echo(report(form, lambda: lessons_page(lessons, led), lambda: lessons_data(lessons, led)), nl=False)
    _write(lessons, types, folder or book or Path(), output, quiet=form == "json")
    if read.problems:
        click.echo(f"{plural(len(read.problems), 'job')} could not be read; see above.", err=True)
        raise SystemExit(SOME_UNREAD)


def _read(folder: Path | None, book: Path | None, columns: Path | None, types: Library, *, keep: bool) -> Read:
    from diagnose.records.book import read_book, read_columns
    from diagnose.records.store import read_store

    if book is not None and columns is not None:
        return read_book(book, read_columns(columns, types), types)
    return read_store(folder or Path(), types, keep=keep)


def _taken(types: Library) -> set[tuple[str, str, str]]:
    """The (file, section, name) that an overlay changes; what it learned before is no prior for the same records.

    Raises:
        ProblemsFoundError: an overlay was learned.
    """
    from diagnose.knowledge.rulebase import read_rule_base

    learned = {row for ready in types.all().values() for row in ready.assembly.sources if row.repairs}
    if learned:
        place = min(row.place for row in learned)
        raise refused(
            place, "these rules have learned already; leave that overlay out, and learn from all records anew"
        )
    if not types.overlays:
        return set()
    laid = read_rule_base(types.folder, types.overlays).overlays
    touches = (touch for overlay in laid for touch in overlay.touches if not touch.added and len(touch.path) > 1)
    return {(touch.file, touch.path[0], touch.path[1]) for touch in touches}


def _write(lessons: Lessons, types: Library, source: Path, output: Path | None, *, quiet: bool) -> None:
    from diagnose.records.writing import Provenance, drafted, overlay_of, put, share_scale

    edition = next(iter(types.all().values())).edition
    scale = share_scale(types.folder, types.overlays)
    files = overlay_of(lessons, Provenance(str(source), edition, types.version), output or Path("learned"), scale)
    with drafted(output, files, types.folder, types.overlays) as draft:
        if output is not None:
            put(draft, output)
            click.echo(f"\nWritten: {output}. To use it: --overlay {output}", err=quiet)
