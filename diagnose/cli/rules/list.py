"""`diagnose rules list`."""

from __future__ import annotations

import click

from diagnose.cli.shared import ChosenRules, form_option, load_type, report, rules_options
from diagnose.diagnosis.wording import plural
from diagnose.index.things import KINDS
from diagnose.workshop.views import list_page, listed, plain_data


@click.command("list")
@click.argument("kind", metavar="[KIND]", required=False, type=click.Choice(list(KINDS)))
@click.option("--type", "type_name", metavar="TYPE", default="", help="Of one type of assembly, with full names.")
@click.option("--part", metavar="NAME", default="", help="Of a component (check_1) or a kind of part (check_valve).")
@click.option("--words", metavar="TEXT", default="", help="Whose name or text holds these words.")
@form_option()
@rules_options
def command(kind: str | None, type_name: str, part: str, words: str, form: str, chosen: ChosenRules) -> None:
    """The names of what the rule base holds: kind, name, types, place, title; of causes and components the rate too.

    KIND is one of type, component, part, observation, finding, rule, mode, cause, condition, repair, profile, limit,
    state, caution, source; all of them if left out.
    """
    shelf = chosen.library()
    only = load_type(type_name, shelf).assembly.type if type_name else ""
    types = shelf.all()
    rows = listed([ready.assembly for ready in types.values()], kind or "", only, part, words)
    if rows or form == "json":
        click.echo(report(form, lambda: list_page(rows, list(types)), lambda: plain_data(rows)), nl=False)
    if form != "json":
        click.echo(plural(len(rows), "name"), err=True)
