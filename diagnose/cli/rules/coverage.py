"""`diagnose rules coverage`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from diagnose.cases.beside import all_cases
from diagnose.cli.shared import library, put_out, report, rules_options
from diagnose.workshop.coverage.counting import coverage

FORMS = {".txt": "text", ".md": "markdown", ".json": "json", ".svg": "svg", ".png": "png"}


@click.command("coverage")
@click.option(
    "--format",
    "form",
    type=click.Choice(list(FORMS.values())),
    default=None,
    help="Text if left out and no FILE says it.",
)
@click.option("-o", "--output", metavar="FILE", default="-", help="Where to; .txt, .md, .json, .svg or .png.")
@rules_options
def command(form: str | None, output: str, rules: Path | None, no_cache: bool) -> None:
    """Which rules, answers and limits the cases exercise, on which side; what is missing, the worst file first."""
    form = form or _by_suffix(output)
    if output == "-" and form == "png" and sys.stdout.isatty():
        raise click.UsageError("a png is no text for a terminal; name a file with -o")
    shelf = library(rules, no_cache)
    types = shelf.all()
    cases = all_cases(shelf.folders(), {name: ready.assembly for name, ready in types.items()})
    found = coverage(types, cases)
    if form in ("svg", "png"):
        from diagnose.drawing.render import rendered
        from diagnose.workshop.coverage.coverage_picture import coverage_dot

        content = rendered(coverage_dot(found, str(shelf.folder)), form)
    else:
        from diagnose.workshop.coverage.counting import coverage_data, coverage_page

        content = report(form, lambda: coverage_page(found), lambda: coverage_data(found, shelf.version)).encode()
    put_out(output, content, shelf)


def _by_suffix(output: str) -> str:
    form = "text" if output == "-" else FORMS.get(Path(output).suffix.casefold())
    if form is None:
        raise click.UsageError(f"'{output}' ends in none of {', '.join(FORMS)}; rename it or add --format")
    return form
