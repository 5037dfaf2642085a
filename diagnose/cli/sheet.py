"""`diagnose sheet`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import case_argument, library, load_case, put_out, rules_options, unit_option


@click.command("sheet")
@case_argument
@click.option(
    "-o", "--output", metavar="FILE", default="-", help="The page, an .html file. Standard output if left out."
)
@unit_option
@rules_options
def command(case_file: str, output: str, unit: str, rules: Path | None, no_cache: bool) -> None:
    """Make one page of a case, for the phone and for paper.

    CASE is a YAML file, or - for standard input. The page stands alone, in one file: the answer, the cautions, what was
    seen, what to do, two drawings, and a record of the test to fill in. It prints on one or two sheets of A4 or Letter.
    """
    types = library(rules, no_cache)
    ready, case = load_case(case_file, types)

    from diagnose.diagnosis.result import Diagnosis
    from diagnose.pages.sheet import sheet_page

    put_out(output, sheet_page(Diagnosis(ready, case), unit), types, case_file)
