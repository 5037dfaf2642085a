"""`diagnose questions`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import library, load_type, rules_options, terminal_width
from diagnose.sheet.asking import questions_page
from diagnose.sheet.markdown import as_markdown
from diagnose.sheet.text import as_text


@click.command("questions")
@click.argument("type_name", metavar="TYPE")
@click.option("--format", "form", type=click.Choice(["text", "markdown"]), default="text", show_default=True)
@rules_options
def command(type_name: str, form: str, rules: Path | None, no_cache: bool) -> None:
    """What can be observed on a type of assembly: the question, the answers, when and how."""
    page = questions_page(load_type(type_name, library(rules, no_cache)).assembly)
    click.echo(as_markdown(page) if form == "markdown" else as_text(page, terminal_width()), nl=False)
