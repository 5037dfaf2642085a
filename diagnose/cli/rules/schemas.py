"""`diagnose rules schemas`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import FOLDER_PATH, ChosenRules, rules_options
from diagnose.workshop.schemas import CASE, file_name, first_line, schemas, settings_text, write_schemas


@click.command("schemas")
@click.option(
    "-o",
    "--output",
    metavar="FOLDER",
    type=FOLDER_PATH,
    default=Path("schemas"),
    show_default=True,
    help="Where to put them; it is made if it is not there.",
)
@click.option(
    "--settings",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also write a settings file that maps files to schemas, as in .vscode/settings.json; never overwritten.",
)
@rules_options
def command(output: Path, settings: Path | None, chosen: ChosenRules) -> None:
    """JSON Schemas with which an editor completes and checks rule files and case files while you type.

    They hold the names of the rule base, and of overlays; make them again after adding names. docs/editors.md says
    how an editor finds them.
    """
    shelf = chosen.library()
    types = {name: ready.assembly for name, ready in shelf.all().items()}
    made = schemas(shelf.folders(), types)
    mapping = None if settings is None else (settings, settings_text(settings, output, shelf.folders()))
    write_schemas(output, made, mapping)
    for path in [*(output / name for name in made), *([settings] if settings is not None else [])]:
        click.echo(path)
    line = first_line(output / file_name(CASE))
    click.echo(f"A case file anywhere finds its schema by this first line:\n{line}", err=True)
