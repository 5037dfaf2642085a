"""`diagnose practice`."""

from __future__ import annotations

import gc

import click

from diagnose.cli.ask import Terminal
from diagnose.cli.ending import CTRL_C, ending, perhaps_unseen
from diagnose.cli.shared import ChosenRules, load_type, rules_options, terminal_width, unit_option, width_option
from diagnose.model.places import refused
from diagnose.sheet.blocks import KeptLines, Paragraph

MOST = 999_999


@click.command("practice")
@click.argument("type_name", metavar="TYPE")
@click.option("--level", metavar="LEVEL", default="", help="Name or number of a level.")
@click.option("--number", type=click.IntRange(1, MOST), help="Which case of it; any if left out.")
@unit_option
@width_option(60)
@rules_options
@click.pass_context
def command(
    ctx: click.Context,
    type_name: str,
    level: str,
    number: int | None,
    unit: str,
    width: int | None,
    chosen: ChosenRules,
) -> None:
    """Practice with the roles turned: the tool hides a fault, you look for it.

    You choose what to look at, the assembly answers, minutes run. Once you name part, cause and first repair, your way
    stands beside the tool's on the same assembly, with marks. Cases are invented: drawn from the rule base.

    Levels: 1 plain (one plain fault), 2 near (two leading causes near each other), 3 void (something voids a test at
    first), 4 two-faults, 5 sound (nothing wrong). The same TYPE, level and number give the same case for as long as the
    rules stay the same; a number without a level has a level of its own, which is told in the end.

    Ends with 0, also after q or the end of the input; 2 if there are problems in the input; 130 after Ctrl-C.
    """
    from diagnose.consulting.talking import Stopped, hold
    from diagnose.practice.levels import hidden_assembly, meant
    from diagnose.practice.practising import Practising

    gc.enable()  # a practice lasts longer than the other commands
    terminal, ready = Terminal(width or terminal_width()), load_type(type_name, chosen.library())
    try:
        kind, number = meant(level, number)
    except ValueError as error:
        raise refused("--level", str(error)) from error
    try:
        hidden = hidden_assembly(ready, kind, number)
    except ValueError as error:
        raise refused("--number", str(error)) from error
    # Kept whole: a command that is broken in two cannot be copied.
    again = KeptLines((f"diagnose practice {ready.assembly.type} --level {kind.name} --number {number}",), inset=True)
    code = 0
    with ending() as end:
        try:
            terminal.tell(f"Type h to see what can be typed, q to stop. Number {number}.")
            hold(terminal, Practising(hidden, terminal, again, unit).conversing())
            stopped = False
        except (Stopped, EOFError):
            stopped = True
        except KeyboardInterrupt:
            stopped, code = True, CTRL_C
        end.heard = True
        if stopped:
            with perhaps_unseen():
                terminal.say([Paragraph("Stopped without marks. The same case again:"), again])
        ctx.exit(end.code or code)
