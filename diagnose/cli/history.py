"""`diagnose history`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import ChosenRules, form_option, put_out, report, rules_options, tell_problems, unit_option


@click.command("history")
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path, file_okay=False, exists=True))
@click.argument("tag", metavar="[TAG]", required=False)
@click.option("--page", metavar="FILE", help="The years of TAG with a chart of each reading, an .html file.")
@form_option()
@unit_option
@rules_options
def command(folder: Path, tag: str | None, page: str | None, form: str, unit: str, chosen: ChosenRules) -> None:
    """The years of an assembly, from the case files below FOLDER that carry a tag and a day.

    With TAG: each test with its readings and limits, what was found and done, and where the readings lead: wear, a
    step, or level, since the last repair. Without: all assemblies, those first that come to a limit soonest.

    Files that are no cases are told; ends with 2 if nothing is found.
    """
    if page and tag is None:
        raise click.UsageError("--page shows one assembly: name its TAG.")
    from diagnose.knowledge.fields import no_such
    from diagnose.model.places import refused
    from diagnose.records.history import histories, read_years
    from diagnose.records.history_page import list_page, years_data, years_page

    library = chosen.library()
    cases, problems = read_years(folder, library)
    tell_problems(problems)
    if not cases:
        raise refused(folder, "holds no case file with a tag and a day (tested_on, or closed_on in its record)")
    rows = histories([case for case in cases if tag in (None, case.tag)], library)
    if not rows:
        raise no_such("TAG", "no case has the tag", str(tag), {case.tag for case in cases})
    if page:
        from diagnose.pages.years import history_page

        put_out(page, history_page(rows, library, unit), library, *(case.file for case in cases))
        if page == "-":
            return
    blocks = list_page(rows, unit) if tag is None else [block for row in rows for block in years_page(row, unit)]
    click.echo(report(form, lambda: blocks, lambda: [years_data(row) for row in rows]), nl=False)
