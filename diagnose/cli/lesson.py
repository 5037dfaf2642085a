"""`diagnose lesson`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import case_argument, library, load_case, put_out, rules_options, unit_option


@click.command("lesson")
@case_argument
@click.option(
    "-o", "--output", metavar="FILE", default="-", help="The page, an .html file. Standard output if left out."
)
@click.option("--title", default="", help="In the place of the case's title, where that gives the answer away.")
@unit_option
@rules_options
def command(case_file: str, output: str, title: str, unit: str, rules: Path | None, no_cache: bool) -> None:
    """Make a page that takes a class through a case, one answer at a time.

    CASE is a YAML file, or - for standard input. Each answer is asked first, with room for a guess; then come what it
    means, how the standings move, and the diagram as it grows. The answers come in the order of the case file: change
    it there. The page stands alone, in one file; arrow keys, buttons or a finger turn it. It prints as a hand-out.
    """
    types = library(rules, no_cache)
    ready, case = load_case(case_file, types)

    from diagnose.diagnosis.result import Diagnosis
    from diagnose.pages.lesson import lesson_page

    put_out(output, lesson_page(Diagnosis(ready, case), unit, title), types, case_file)
