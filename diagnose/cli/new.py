"""`diagnose new`."""

from __future__ import annotations

import click

from diagnose.cases.writing import blank_case
from diagnose.cli.shared import ChosenRules, load_type, profile_option, rules_options, with_profile
from diagnose.diagnosis.field_test import occasions


@click.command("new")
@click.argument("type_name", metavar="TYPE")
@click.option("--all", "every", is_flag=True, help="With all that can be observed, and its questions in full.")
@profile_option
@rules_options
def command(type_name: str, every: bool, profile: str | None, chosen: ChosenRules) -> None:
    """An empty case file, ready to fill in: `diagnose new RP > case.yaml`.

    It has what most visits meet, in its order: what the visit is for, the place, the field test, what is seen in
    passing. Anything else that `diagnose questions` lists may be added.
    """
    assembly = with_profile(load_type(type_name, chosen.library()).assembly, profile)
    groups = [(row.title, row.observations) for row in occasions(assembly) if row.usual or every]
    click.echo(blank_case(assembly, groups, in_full=every), nl=False)
