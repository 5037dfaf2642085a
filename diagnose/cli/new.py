"""`diagnose new`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cases.blank import blank_case
from diagnose.cli.shared import library, load_type, rules_options


@click.command("new")
@click.argument("type_name", metavar="TYPE")
@rules_options
def command(type_name: str, rules: Path | None, no_cache: bool) -> None:
    """An empty case file, ready to fill in: `diagnose new RP > case.yaml`."""
    click.echo(blank_case(load_type(type_name, library(rules, no_cache)).assembly), nl=False)
