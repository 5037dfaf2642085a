"""`diagnose lesson`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import ChosenRules, case_argument, load_case, page_option, put_out, rules_options, unit_option
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.result import Diagnosis


@click.command("lesson")
@case_argument
@page_option
@click.option("--title", default="", help="What stands over the page until the end, in the place of the type alone.")
@unit_option
@rules_options
def command(case_file: str, output: str, title: str, unit: str, chosen: ChosenRules) -> None:
    """Make a page that takes a class through a case, one answer at a time.

    CASE is a YAML file, or - for standard input, or a case of the bank such as RP-3771 (`diagnose bank`). At each
    answer the class guesses what to look at next, what the answer means and which part it is; then come the reasons,
    the standings and the reasoning as they are by then. The answers come in the order of the case file: change it
    there. The case's own title is told at the end. The page stands alone, in one file; keys, buttons or a finger turn
    it. It prints as a practice sheet with the answers behind it.
    """
    types = chosen.library()
    banked = _from_bank(case_file, types)
    result, name = banked or (Diagnosis(*load_case(case_file, types)), "")

    from diagnose.pages.lesson import lesson_page

    put_out(output, lesson_page(result, unit, title or name), types, *(() if banked else (case_file,)))


def _from_bank(name: str, types: Library) -> tuple[Diagnosis, str] | None:
    """The case of the bank that is called so, with its title; None where it is a file, or no such name."""
    kind, _, number = name.rpartition("-")
    if not number.isdecimal() or not types.names().meant(kind) or Path(name).exists():
        return None

    from diagnose.cli.bank import open_bank

    bank = open_bank(types)
    found = bank.named(f"{types.names().meant(kind)}-{number}")
    return (bank.practice(found).result, found.title) if found else None
