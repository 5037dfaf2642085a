"""`diagnose find`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import (
    ChosenRules,
    case_argument,
    form_option,
    load_case,
    rules_options,
    shown,
    tell_problems,
    unit_option,
    width_option,
)
from diagnose.diagnosis.result import Diagnosis


@click.command("find")
@case_argument
@click.option(
    "--full", "depth", flag_value="full", help="Everything: all causes, reasons, readings and the whole plan."
)
@click.option("--steps", "depth", flag_value="steps", help="The numbered work of the repairs to begin with.")
@click.option(
    "--history",
    "folder",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    metavar="FOLDER",
    help="Case files of earlier years: what they say of the same assembly (tag) is taken from there.",
)
@form_option()
@unit_option
@width_option(40)
@rules_options
def command(
    case_file: str,
    depth: str | None,
    folder: Path | None,
    form: str,
    unit: str,
    width: int | None,
    chosen: ChosenRules,
) -> None:
    """From a case file to what is most likely wrong and what to do now, on one screen.

    CASE is a YAML file, or - for standard input. JSON has everything, whatever is asked for.
    """
    library, told = chosen.library(), ""
    ready, case = load_case(case_file, library)
    if folder is not None:
        from diagnose.records.history import read_years, with_years

        past, problems = read_years(folder, library)
        tell_problems(problems)
        case, told = with_years(case, past, ready.assembly, unit)
    result = Diagnosis(ready, case)
    if form == "json":
        from diagnose.sheet.data import as_json

        click.echo(as_json(result))
        return
    if depth == "full":
        from diagnose.sheet.page import sheet

        blocks = sheet(result, unit)
    else:
        from diagnose.sheet.first_screen import first_screen, steps_page

        blocks = steps_page(result) if depth else first_screen(result, unit)
    if told and depth != "full":
        from diagnose.sheet.blocks import Paragraph

        blocks = [*blocks, Paragraph(told)]
    click.echo(shown(form, blocks, width), nl=False)
