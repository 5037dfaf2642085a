"""`diagnose plan`."""

from __future__ import annotations

import click

from diagnose.cli.shared import (
    ChosenRules,
    NumberRange,
    case_argument,
    form_option,
    load_case,
    rules_options,
    shown,
    width_option,
)
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.work import WrittenTerms, wishes_for, work_for


@click.command("plan")
@case_argument
@click.option("--minutes", type=NumberRange(0, 100_000), default=None, help="The time there is, at the clock.")
@click.option("--have", metavar="PARTS", default=None, help="Only with these parts, separated by commas; '' for none.")
@click.option("--state", metavar="STATE", default="", help="The state reached already; else what the case says.")
@click.option("--not-into", metavar="STATE", multiple=True, help="A state not to go into; may be given several times.")
@click.option(
    "--second-trip",
    type=NumberRange(0.1, 100),
    default=10,
    show_default=True,
    help="Bring parts so that the chance of a second trip is below this, in percent.",
)
@click.option(
    "--parts-count",
    type=NumberRange(0, 100),
    default=1,
    show_default=True,
    help="Times what parts cost, as minutes of work, in the order of repairs; 0 leaves their cost out.",
)
@form_option()
@width_option(60)
@rules_options
def command(
    case_file: str,
    minutes: float | None,
    have: str | None,
    state: str,
    not_into: tuple[str, ...],
    second_trip: float,
    parts_count: float,
    form: str,
    width: int | None,
    chosen: ChosenRules,
) -> None:
    """What to check next, what to repair first, what to bring; on your terms.

    CASE is a YAML file, or - for standard input. With --minutes the plan has the greatest chance to pass within them;
    without, the least expected minutes. States are named as by `diagnose questions`.
    """
    ready, case = load_case(case_file, chosen.library())
    terms = WrittenTerms(None if have is None else tuple(have.split(",")), state or case.state, not_into)
    wishes = wishes_for(terms, ready.assembly)._replace(second_trip=second_trip / 100, parts_count=parts_count)
    result = Diagnosis(ready, case)
    work = work_for(result, wishes, minutes)
    if form == "json":
        from diagnose.sheet.data import work_as_json

        click.echo(work_as_json(result, work))
        return
    from diagnose.sheet.planning import plan_page

    click.echo(shown(form, plan_page(result, work), width), nl=False)
