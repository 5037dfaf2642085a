"""`diagnose rules show`."""

from __future__ import annotations

import click

from diagnose.cli.shared import ChosenRules, cases_beside, form_option, load_type, report, rules_options
from diagnose.workshop.views import ShownFrom, plain_data, views, views_page


@click.command("show")
@click.argument("name", metavar="NAME")
@click.option("--type", "type_name", metavar="TYPE", default="", help="As one type of assembly has it.")
@click.option("--all", "whole", is_flag=True, help="Cut no list.")
@form_option()
@rules_options
def command(name: str, type_name: str, whole: bool, form: str, chosen: ChosenRules) -> None:
    """Everything about one name: where it is written, what feeds it, what it feeds, its cases, its sources.

    NAME is a rule, finding, observation, failure mode, cause, site condition, repair, component (check_1), kind of part
    (check_valve), limit, profile, state, caution, source, type or mark (estimate). A full name (check_1.debris) shows
    full names round it; a name as it stands in its file (debris) shows the file's.
    """
    shelf = chosen.library()
    only = load_type(type_name, shelf).assembly.type if type_name else ""
    types = shelf.all()
    kept = {known: ready for known, ready in types.items() if only in ("", known)}
    found = views(name, ShownFrom(kept, [row for row in cases_beside(shelf) if row.case.type in kept]))
    shown = report(form, lambda: views_page(found, list(types), whole=whole), lambda: plain_data(found))
    click.echo(shown, nl=False)
