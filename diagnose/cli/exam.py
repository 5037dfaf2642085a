"""`diagnose exam`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.bank import open_bank, wanted_of, wanted_options
from diagnose.cli.shared import ChosenRules, page_option, put_out, rules_options, unit_option
from diagnose.model.places import refused

MOST_CASES, MOST_NUMBER = 40, 999_999


@click.command("exam")
@click.argument("count", metavar="CASES", type=click.IntRange(1, MOST_CASES))
@click.option(
    "--number",
    type=click.IntRange(0, MOST_NUMBER),
    default=1,
    show_default=True,
    help="Which exam: the same number gives the same cases, as long as the rules stay.",
)
@wanted_options
@page_option
@click.option("--key", metavar="FILE", default="", help="The key, an .html file; the paper has no word of it.")
@unit_option
@rules_options
def command(
    count: int,
    number: int,
    kinds: tuple[str, ...],
    themes: tuple[str, ...],
    difficulties: tuple[str, ...],
    output: str,
    key: str,
    unit: str,
    chosen: ChosenRules,
) -> None:
    """Make a paper of so many practice cases, one a page, and the key to it.

    The paper has what was seen and lines to write on: the part, the cause, the next check, cautions. The key has what
    is right, the marks and the reasons in short. Both print on A4 and Letter. Cases come as `diagnose bank` lists them.
    """
    if key and output != "-" and Path(key).resolve() == Path(output).resolve():
        raise click.UsageError("paper and key cannot be the same file")
    types = chosen.library()
    rows = open_bank(types).drawn(wanted_of(types, kinds, themes, difficulties), number, count)
    if len(rows) < count:
        raise refused("CASES", f"there are {len(rows)} such cases, and {count} are asked for")

    from diagnose.pages.exam import key_page, paper_page

    paper = paper_page([row.result for row in rows], number, unit)
    answers = key_page([(row.case.title, row.result) for row in rows], number) if key else ""
    put_out(output, paper, types)
    if key:
        put_out(key, answers, types)
