"""`diagnose sheet`."""

from __future__ import annotations

import click

from diagnose.cli.shared import ChosenRules, case_argument, load_case, page_option, put_out, rules_options, unit_option
from diagnose.diagnosis.result import Diagnosis


@click.command("sheet")
@case_argument
@page_option
@unit_option
@rules_options
def command(case_file: str, output: str, unit: str, chosen: ChosenRules) -> None:
    """Make one page of a case, for the phone and for paper.

    CASE is a YAML file, or - for standard input. The page stands alone, in one file: the answer, the cautions, what was
    seen, what to do, two drawings, and a record of the test to fill in. It prints on one or two sheets of A4 or Letter.
    """
    types = chosen.library()
    result = Diagnosis(*load_case(case_file, types))

    from diagnose.pages.sheet import sheet_page

    put_out(output, sheet_page(result, unit), types, case_file)
