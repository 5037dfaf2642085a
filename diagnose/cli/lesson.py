"""`diagnose lesson`."""

from __future__ import annotations

import click

from diagnose.cli.shared import ChosenRules, case_argument, load_case, page_option, put_out, rules_options, unit_option
from diagnose.diagnosis.result import Diagnosis


@click.command("lesson")
@case_argument
@page_option
@click.option("--title", default="", help="In the place of the case's title, where that gives the answer away.")
@unit_option
@rules_options
def command(case_file: str, output: str, title: str, unit: str, chosen: ChosenRules) -> None:
    """Make a page that takes a class through a case, one answer at a time.

    CASE is a YAML file, or - for standard input. Each answer is asked first, with room for a guess; then come what it
    means, how the standings move, and the diagram as it grows. The answers come in the order of the case file: change
    it there. The page stands alone, in one file; arrow keys, buttons or a finger turn it. It prints as a hand-out.
    """
    types = chosen.library()
    result = Diagnosis(*load_case(case_file, types))

    from diagnose.pages.lesson import lesson_page

    put_out(output, lesson_page(result, unit, title), types, case_file)
