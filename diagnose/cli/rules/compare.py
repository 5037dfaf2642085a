"""`diagnose rules compare`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from diagnose.cli.shared import ANY_PATH, form_option, report, watched
from diagnose.model.places import ProblemsFoundError

DIFFERENT_EXIT = 1
FOLDERS: dict[str, Any] = {"type": ANY_PATH, "metavar": "FOLDER", "multiple": True}


@click.command("compare")
@click.argument("old")
@click.argument("new")
@click.option("--cases", **FOLDERS, help="A folder with further case files; may be given twice.")
@click.option(
    "--overlay",
    **FOLDERS,
    help="Your own rules, laid over NEW; may be given twice. DIAGNOSE_OVERLAY does not count here.",
)
@click.option(
    "--cases-shown", type=click.IntRange(min=0), default=20, show_default=True, help="Cases shown in the text at most."
)
@form_option()
def command(
    old: str, new: str, cases: tuple[Path, ...], overlay: tuple[Path, ...], cases_shown: int, form: str
) -> None:
    """Two versions of a rule base: what changed, and what that does to each case.

    OLD and NEW are folders, the word "shipped", or git revisions: HEAD~3, or HEAD~3:rules where the folder is not
    called rules. Nothing is checked out. Exit code: 0 no difference, 1 differences, 2 problems.
    """
    from diagnose.workshop.comparing.compare import compare
    from diagnose.workshop.comparing.comparison_report import comparison_data, comparison_page
    from diagnose.workshop.comparing.revisions import version

    with version(old) as before, version(new) as after:
        result = compare(before, after, overlay, cases, watched)
    shown = report(form, lambda: comparison_page(result, cases_shown), lambda: comparison_data(result))
    click.echo(shown, nl=False)
    if result.problems:
        raise ProblemsFoundError(result.problems)
    if result.differs:
        raise SystemExit(DIFFERENT_EXIT)
