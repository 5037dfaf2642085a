"""`diagnose find`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import case_argument, library, load_case, rules_options, terminal_width, unit_option
from diagnose.diagnosis.result import Diagnosis


@click.command("find")
@case_argument
@click.option("--format", "form", type=click.Choice(["text", "markdown", "json"]), default="text", show_default=True)
@unit_option
@click.option(
    "--width", type=click.IntRange(60, 80), default=None, help="Columns of the text; the terminal's if left out."
)
@rules_options
def command(case_file: str, form: str, unit: str, width: int | None, rules: Path | None, no_cache: bool) -> None:
    """From a case file to ranked causes, reasons and what to do.

    CASE is a YAML file, or - for standard input.
    """
    ready, case = load_case(case_file, library(rules, no_cache))
    result = Diagnosis(ready, case)
    if form == "json":
        from diagnose.sheet.data import as_json

        click.echo(as_json(result))
        return
    from diagnose.sheet.page import sheet

    if form == "markdown":
        from diagnose.sheet.markdown import as_markdown

        click.echo(as_markdown(sheet(result, unit)), nl=False)
        return
    from diagnose.sheet.text import as_text

    click.echo(as_text(sheet(result, unit), width or terminal_width()), nl=False)
