"""`diagnose rules coverage`."""

from __future__ import annotations

import click

from diagnose.cli.shared import ChosenRules, cases_beside, form_of, put_out, report, rules_options
from diagnose.workshop.coverage import coverage

FORMS = {".txt": "text", ".md": "markdown", ".json": "json", ".svg": "svg", ".png": "png"}


@click.command("coverage")
@click.option(
    "--format",
    "form",
    type=click.Choice(list(FORMS.values())),
    help="Text if left out and no FILE says it.",
)
@click.option("-o", "--output", metavar="FILE", default="-", help="Where to; .txt, .md, .json, .svg or .png.")
@rules_options
def command(form: str | None, output: str, chosen: ChosenRules) -> None:
    """Which rules, answers and limits the cases exercise, on which side; what is missing, the worst file first."""
    form = form_of(output, form, FORMS, "text", ", or use --format")
    shelf = chosen.library()
    found = coverage(shelf.all(), cases_beside(shelf))
    if form in ("svg", "png"):
        from diagnose.drawing.render import rendered
        from diagnose.workshop.coverage_picture import coverage_picture

        content = rendered(coverage_picture(found, str(shelf.folder)), form)
    else:
        from diagnose.workshop.coverage import coverage_data, coverage_page

        content = report(form, lambda: coverage_page(found), lambda: coverage_data(found, shelf.version)).encode()
    put_out(output, content, shelf)
