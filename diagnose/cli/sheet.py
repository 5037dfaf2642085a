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

    CASE is a YAML file, or - for standard input. The page stands alone, in one file: the answer, what to do now, the
    work step by step with each caution in its step, and a record of the test to fill in. All causes, reasons and
    drawings are folded below. What is filled in is kept by the browser, saved as text or CSV, and sent nowhere. It
    prints on two sheets of A4 or Letter, for a detector assembly or two faults on three.
    """
    types = chosen.library()
    result = Diagnosis(*load_case(case_file, types))

    from diagnose.pages.sheet import sheet_page

    put_out(output, sheet_page(result, unit), types, case_file)
