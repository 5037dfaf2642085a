"""`diagnose lesson`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import ChosenRules, case_argument, load_case, page_option, put_out, rules_options, unit_option
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.foreign import cut
from diagnose.model.places import refused

DRAWN, MOST_DIGITS = "-drawn", 6


@click.command("lesson")
@case_argument
@page_option
@click.option("--title", default="", help="What stands over the page until the end, in the place of the type alone.")
@unit_option
@rules_options
def command(case_file: str, output: str, title: str, unit: str, chosen: ChosenRules) -> None:
    """Make a page that takes a class through a case, one answer at a time.

    CASE is a YAML file, or - for standard input, or a case of the bank such as RP-3771 (`diagnose bank`), or one that
    is drawn for any number, such as RP-drawn-12. At each answer the class guesses what to look at next, what the answer
    means and which part it is; then come the reasons, the standings and the reasoning as they are by then. The answers
    come in the order of the case file: change it there. The case's own title is told at the end. The page stands alone,
    in one file; keys, buttons or a finger turn it. It prints as a practice sheet with the answers behind it.
    """
    types = chosen.library()
    banked = _from_bank(case_file, types)
    result, name = banked or (Diagnosis(*load_case(case_file, types)), "")

    from diagnose.pages.lesson import lesson_page

    put_out(output, lesson_page(result, unit, title or name), types, *(() if banked else (case_file,)))


def _from_bank(name: str, types: Library) -> tuple[Diagnosis, str] | None:
    """The case of the bank that is called so, or the one that is drawn, with its title; None where it names no case.

    Raises:
        ProblemsFoundError: it is called as a case of a type is, and there is none of that number.
    """
    kind, _, number = name.casefold().rpartition("-")
    drawn = kind.endswith(DRAWN)
    kind = types.names().meant(kind.removesuffix(DRAWN))
    if not kind or not number.isdecimal() or Path(name).exists():
        return None
    if drawn:
        from diagnose.practice.bank import drawn_case
        from diagnose.practice.levels import MOST_NUMBER

        if not 1 <= int(number[: MOST_DIGITS + 1]) <= MOST_NUMBER:
            raise refused(cut(name), f"no such case is drawn; its number is from 1 to {MOST_NUMBER}")
        try:
            return drawn_case(types.get(kind), int(number)), f"{kind}, drawn case {int(number)}"
        except ValueError as error:
            raise refused(cut(name), str(error)) from error

    from diagnose.cli.bank import open_bank

    bank = open_bank(types)
    found = bank.named(f"{kind}-{number}")
    if found is None:
        raise refused(cut(name), f"the bank has no such case; `diagnose bank --type {kind}` lists them")
    return bank.practice(found).result, found.title
