"""`diagnose rules check`."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click

from diagnose.cli.shared import ANY_PATH, ChosenRules, form_option, report, rules_options
from diagnose.knowledge.shipped import shipped_folder

ALL = "all"


def _explain(context: click.Context, _: click.Parameter, name: str | None) -> None:
    """Shows the page of a check and ends."""
    if name is None:
        return
    from diagnose.workshop.checks.all_checks import page

    _known((name,))
    click.echo(page(name), nl=False)
    context.exit()


@click.command("check")
@click.argument("files", metavar="[FILE]...", nargs=-1, type=ANY_PATH)
@click.option("--only", metavar="CHECK", multiple=True, help="Make this check alone; may be given several times.")
@click.option(
    "--tell-only", metavar="CHECK", multiple=True, help="Warnings of this check leave the exit code alone; or: all."
)
@click.option(
    "--today",
    type=click.DateTime(formats=["%Y-%m-%d"]),
    metavar="DATE",
    help="Judge the age of limits as of this day, as in 2026-11-30.",
)
@form_option()
@click.option(
    "--explain", metavar="CHECK", is_eager=True, expose_value=False, callback=_explain, help="The page of a check."
)
@rules_options
@click.pass_context
def command(
    ctx: click.Context,
    files: tuple[Path, ...],
    only: tuple[str, ...],
    tell_only: tuple[str, ...],
    today: datetime | None,
    form: str,
    chosen: ChosenRules,
) -> None:
    """Every error and every doubtful place of a rule base.

    Errors keep a rule base from being read, and all of them are told at once. Warnings, each with the name of its
    check, are places that can be read and are most likely not what was meant. With FILE, only warnings about these
    files or folders of the rule base.

    Exit code: 0 nothing found, 1 warnings only, 2 errors.
    """
    from diagnose.workshop.checks.all_checks import check, checked_data, checked_page, exit_code

    _known((*only, *(name for name in tell_only if name != ALL)))
    day = today.date() if today else date.today()
    folder = chosen.folder or _near(shipped_folder())
    wanted = _below(files, (folder, *chosen.overlays))
    # Read afresh whatever is kept: every doubt has its place in the files.
    found = check(folder, (day.year, day.month), only, chosen.overlays)
    if wanted:
        doubts = tuple(
            row for row in found.doubts if any(Path(row.place.file).resolve().is_relative_to(p) for p in wanted)
        )
        found = found._replace(doubts=doubts)
    click.echo(report(form, lambda: checked_page(found), lambda: checked_data(found)), nl=False)
    ctx.exit(exit_code(found, {row.check for row in found.doubts} if ALL in tell_only else tell_only))


def _known(names: tuple[str, ...]) -> None:
    from diagnose.knowledge.words import expected
    from diagnose.workshop.checks.all_checks import CHECKS

    for name in names:
        if name not in CHECKS:
            raise click.UsageError(f"there is no check '{name}'; {expected(name, CHECKS)}")


def _below(files: tuple[Path, ...], folders: tuple[Path, ...]) -> list[Path]:
    """The files, resolved; one that is no part of the rule base would be found clean without having been read."""
    for file in files:
        if not file.exists():
            raise click.UsageError(f"{file}: no such file")
        if not any(file.resolve().is_relative_to(folder.resolve()) for folder in folders):
            other = f"; another rule base is checked with --rule-base {file}" if file.is_dir() else ""
            raise click.UsageError(f"{file} does not lie in the rule base {folders[0]}{other}")
    return [file.resolve() for file in files]


def _near(folder: Path) -> Path:
    """The folder as seen from where the command runs, if it lies below: shorter to read."""
    here = Path.cwd()
    return folder.relative_to(here) if folder.is_relative_to(here) else folder
