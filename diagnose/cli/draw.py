"""`diagnose draw`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from diagnose.cli.shared import case_argument, library, load_case, rules_options, unit_option
from diagnose.diagnosis.examine import examine
from diagnose.drawing.dot import as_dot
from diagnose.drawing.reasoning import draw_reasoning
from diagnose.drawing.render import rendered, write_drawing

FORMS = ("svg", "png", "dot")


@click.command("draw")
@case_argument
@click.option(
    "-o", "--output", metavar="FILE", default="-", help="Where to; .svg, .png or .dot. Standard output if left out."
)
@click.option("--format", "form", type=click.Choice(FORMS), default=None, help="Instead of the suffix; dot if neither.")
@click.option(
    "--layout-by",
    type=click.Choice(["package", "system"]),
    default="package",
    show_default=True,
    help="Draw with the program installed along with this one, or with the system's Graphviz.",
)
@unit_option
@rules_options
def command(
    case_file: str, output: str, form: str | None, layout_by: str, unit: str, rules: Path | None, no_cache: bool
) -> None:
    """Draw the reasoning of a case as a graph: seen, means, likely wrong, do.

    CASE is a YAML file, or - for standard input. Boxes that hardly matter are folded together and say so.
    """
    form = form or _by_suffix(output)
    if output == "-" and form == "png" and sys.stdout.isatty():
        raise click.UsageError("a png is no text for a terminal; name a file with -o, or use --format dot")
    ready, case = load_case(case_file, library(rules, no_cache))
    content = rendered(as_dot(draw_reasoning(examine(ready, case), unit)), form, layout_by)
    if output == "-":
        click.echo(content, nl=False)
    else:
        write_drawing(Path(output), content)


def _by_suffix(output: str) -> str:
    if output == "-":
        return "dot"
    suffix = Path(output).suffix.casefold().lstrip(".")
    if suffix not in FORMS:
        raise click.UsageError(f"'{output}' ends in none of .svg, .png, .dot; rename it or add --format")
    return suffix
