"""`diagnose questions`."""

from __future__ import annotations

import click

from diagnose.cli.shared import ChosenRules, load_type, rules_options, shown
from diagnose.sheet.asking import questions_page


@click.command("questions")
@click.argument("type_name", metavar="TYPE")
@click.option("--format", "form", type=click.Choice(["text", "markdown"]), default="text", show_default=True)
@rules_options
def command(type_name: str, form: str, chosen: ChosenRules) -> None:
    """What can be observed on a type of assembly: the question, the answers, when and how."""
    page = questions_page(load_type(type_name, chosen.library()).assembly)
    click.echo(shown(form, page), nl=False)
