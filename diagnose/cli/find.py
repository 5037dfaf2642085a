"""`diagnose find`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import case_argument, library, load_case, rules_options, terminal_width, unit_option
from diagnose.diagnosis.result import Diagnosis


@click.command("find")
@case_argument
@click.option(
    "--full", "depth", flag_value="full", help="Everything: all causes, reasons, readings and the whole plan."
)
@click.option("--steps", "depth", flag_value="steps", help="The numbered work of the repairs to begin with.")
@click.option("--format", "form", type=click.Choice(["text", "markdown", "json"]), default="text", show_default=True)
@unit_option
@click.option(
    "--width", type=click.IntRange(40, 80), default=None, help="Columns of the text; the terminal's if left out."
)
@rules_options
def command(
    case_file: str, depth: str | None, form: str, unit: str, width: int | None, rules: Path | None, no_cache: bool
) -> None:
    """From a case file to what is most likely wrong and what to do now, on one screen.

    CASE is a YAML file, or - for standard input. JSON has everything, whatever is asked for.
    """
    ready, case = load_case(case_file, library(rules, no_cache))
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
    if form == "markdown":
        from diagnose.sheet.markdown import as_markdown

        click.echo(as_markdown(blocks), nl=False)
        return
    from diagnose.sheet.text import as_text

    click.echo(as_text(blocks, width or terminal_width()), nl=False)
