"""`diagnose why-not`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.explaining import explained_page, show_page
from diagnose.cli.shared import case_argument, rules_options, unit_option


@click.command("why-not")
@case_argument
@click.argument("name", metavar="NAME")
@unit_option
@rules_options
def command(case_file: str, name: str, unit: str, rules: Path | None, no_cache: bool) -> None:
    """What speaks against a cause, what it would show, and what would decide.

    NAME is a cause (check_1.debris), a site condition, a part (then its likeliest cause), or a finding.
    """
    show_page(explained_page(case_file, name, unit, rules, no_cache, against=True))
