"""`diagnose close`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from diagnose.cli.ask import Terminal
from diagnose.cli.shared import ChosenRules, load_case, rules_options, terminal_width, unit_option, with_options
from diagnose.diagnosis.ready import Ready
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.places import refused

SAID = ("found", "done", "minutes", "parts_used", "final_test", "passed", "closed_on")


# One option for each key of the record; each replaces what stands there.
_record_options = with_options(
    click.option("--found", multiple=True, metavar="CAUSE", help="A cause, a part, 'not determined', or words."),
    click.option("--done", multiple=True, metavar="REPAIR", help="A repair, or words; in the order of the work."),
    click.option("--minutes", multiple=True, type=(str, float), metavar="REPAIR N", help="How long one took."),
    click.option("--part", "parts_used", multiple=True, metavar="PART", help="A part that was used up."),
    click.option("--reading", "final_test", multiple=True, type=(str, str), metavar="NAME VALUE", help="Afterwards."),
    click.option("--passed/--failed", "passed", default=None, help="Whether the whole test was passed afterwards."),
    click.option("--on", "closed_on", default="", metavar="DAY", help="The day the work ended, as in 2026-11-29."),
)


@click.command("close")
@click.argument("case_file", metavar="CASE", type=click.Path(path_type=Path, dir_okay=False))
@_record_options
@unit_option
@rules_options
def command(case_file: Path, unit: str, chosen: ChosenRules, **said: Any) -> None:
    """Write into a case file what was found and done, and whether the assembly passed.

    Without options it asks, and every question may be left out. Options are for scripts: each replaces what the file
    says under its key, and is given once for each of several. Comments at the top of the file stay.

    Ends with 0, also after q; with 1 if the file could not be written, 2 if there are problems in the input.
    """
    from diagnose.consulting.keeping import Keeper

    before = case_file.read_bytes() if case_file.is_file() else b""
    ready, case = load_case(str(case_file), chosen.library(), piped=False)  # it is written to
    terminal = Terminal(terminal_width())
    keeper = Keeper(case_file, terminal.tell, fresh=False, before=before)
    if any(said[key] not in ((), "", None) for key in SAID):
        keeper.keep(_told(case, ready.assembly, said))
    else:
        _asked(ready, case, terminal, keeper.keep, unit)
    problem = keeper.settle()
    if problem:
        click.echo(keeper.unsaved, nl=False)
        raise SystemExit(1)
    if keeper.written:
        click.echo(f"\nKept in {keeper.path}")


def _asked(ready: Ready, case: Case, terminal: Terminal, keep: Callable[[Case], None], unit: str) -> None:
    from diagnose.consulting.closing import Closing
    from diagnose.consulting.talking import Stopped, hold
    from diagnose.diagnosis.result import Diagnosis

    try:
        hold(terminal, Closing(Diagnosis(ready, case), terminal, keep, unit).take())
    except (Stopped, EOFError, KeyboardInterrupt):
        click.echo()
    except ValueError as error:
        raise refused(case.file, f"what is observed cannot be together: {error}") from error


def _told(case: Case, assembly: Assembly, said: dict[str, Any]) -> Case:
    """The case with what the options say.

    Raises:
        ProblemsFoundError: an option holds what a case file may not.
    """
    from diagnose.records.outcomes import record_with

    passed = {} if said["passed"] is None else {"passed": "yes" if said["passed"] else "no"}
    told = {key: said[key] for key in SAID if key != "passed" and said[key]} | passed
    tested = bool(told.keys() & {"final_test", "passed"})  # it was put together for that
    state, parts = ("", ()) if tested else (case.state, case.parts)
    return case._replace(record=record_with(case, told, assembly), state=state, parts=parts)
