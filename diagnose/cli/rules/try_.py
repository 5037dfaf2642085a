"""`diagnose rules try`."""

from __future__ import annotations

import gc
import sys
from typing import TYPE_CHECKING

import click

from diagnose.cli.ending import ending, pause, perhaps_unseen
from diagnose.cli.shared import ChosenRules, form_option, report, rules_options, terminal_width
from diagnose.sheet.text import as_text
from diagnose.workshop.trying import chosen_cases, counted, tried_data, tried_page, try_cases

if TYPE_CHECKING:
    from diagnose.workshop.watching import Round

DIFFERENCES_EXIT = 1


@click.command("try")
@click.argument("wanted", metavar="[FILE|CASE]...", nargs=-1)
@click.option("--update", is_flag=True, help="Show the new ranking beside each expectation of one; writes nothing.")
@click.option("--watch", is_flag=True, help="Go on, and try again what a saved file concerns; Ctrl-C ends.")
@form_option()
@rules_options
def command(wanted: tuple[str, ...], update: bool, watch: bool, form: str, chosen: ChosenRules) -> None:
    """Run the cases beside the rules; tell what came out otherwise, and why.

    FILE is a file of cases, a rule file, a folder, or FILE:LINE; CASE is some words of a case's name. All cases where
    neither is given. Ends with 0 if all came out as expected, 1 if some did not, 2 if a file has problems.

    --watch goes on until Ctrl-C, SIGTERM, or the end of standard input where that is a terminal (Ctrl-D) or a pipe;
    started with `</dev/null` it stays in the background. It ends with the code of its last round.
    """
    if watch and form != "text":
        raise click.UsageError(f"--watch prints text; leave out --format {form}")
    if watch:
        sys.exit(_watch(wanted, update, chosen))
    shelf = chosen.library()
    types = shelf.all()
    rows = chosen_cases(shelf.folders(), {name: ready.assembly for name, ready in types.items()}, wanted)
    tried = try_cases(types, rows, rank=update)
    click.echo(report(form, lambda: tried_page(tried), lambda: tried_data(tried, shelf.version)), nl=False)
    sys.exit(DIFFERENCES_EXIT if any(one.differences for one in tried) else 0)


def _watch(wanted: tuple[str, ...], update: bool, chosen: ChosenRules) -> int:
    """Prints round after round until it is ended; the exit code is that of the last round."""
    from diagnose.workshop.watching import Watch

    gc.enable()  # a watch goes on for hours, and a command starts without it
    code = 0
    watch = Watch(chosen.library, wanted, rank=update)
    with ending() as end, perhaps_unseen():
        click.echo(f"Watching {', '.join(map(str, watch.folders))}; Ctrl-C ends.", err=True)
        try:
            for found in watch.rounds(pause):
                code = 2 if found.problem else DIFFERENCES_EXIT if any(one.differences for one in found.standing) else 0
                for path in found.changed:
                    click.echo(f"--- saved: {path}")
                click.echo(_told(found))
        except (KeyboardInterrupt, EOFError):
            end.heard = True
            click.echo("")
    return code


def _told(found: Round) -> str:
    """A round in text. Over files that cannot be read it says nothing of the cases but that they wait."""
    if found.problem:
        return f"{found.problem}\nNo case is tried until this is mended."
    page = as_text(tried_page(found.tried), terminal_width()).rstrip("\n")
    return page if len(found.standing) == len(found.tried) else f"{page}\n{counted(found.standing, 'altogether')}"
