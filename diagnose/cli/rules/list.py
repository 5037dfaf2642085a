"""`diagnose rules list`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import library, load_type, rules_options
from diagnose.index.things import KINDS
from diagnose.workshop.showing.listing import Filter, as_json, as_text, listed


@click.command("list")
@click.argument("kind", metavar="[KIND]", required=False, type=click.Choice(list(KINDS)))
@click.option("--type", "type_name", metavar="TYPE", default="", help="Of one type of assembly, with full names.")
@click.option("--part", metavar="NAME", default="", help="Of a component (check_1) or a kind of part (check_valve).")
@click.option("--words", metavar="TEXT", default="", help="Whose name or text holds these words.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@rules_options
def command(
    kind: str | None, type_name: str, part: str, words: str, form: str, rules: Path | None, no_cache: bool
) -> None:
    """The names of what the rule base holds: kind, name, types, place, title; of causes and components the rate too.

    KIND is one of type, component, part, observation, finding, rule, mode, cause, condition, repair, profile, limit,
    state, caution, source; all of them if left out.
    """
    shelf = library(rules, no_cache)
    chosen = load_type(type_name, shelf).assembly.type if type_name else ""
    types = shelf.all()
    rows = listed([ready.assembly for ready in types.values()], Filter(kind or "", chosen, part, words))
    if form == "json":
        click.echo(as_json(rows))
    else:
        click.echo(as_text(rows, list(types)), nl=False)
        click.echo(f"{len(rows)} name{'' if len(rows) == 1 else 's'}", err=True)
