"""`diagnose ask`."""

from __future__ import annotations

import errno
import gc
import shlex
import sys
from collections.abc import Iterable
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from diagnose.cli.ending import CTRL_C, ending, perhaps_unseen
from diagnose.cli.shared import (
    ChosenRules,
    emphasized,
    load_case,
    load_type,
    profile_option,
    rules_options,
    takes_emphasis,
    terminal_width,
    unit_option,
    width_option,
    with_profile,
)
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.wording import capital, clean
from diagnose.model.case import Case
from diagnose.model.foreign import in_message
from diagnose.model.places import refused
from diagnose.sheet.blocks import Block, Heading, Paragraph
from diagnose.sheet.text import as_text

if TYPE_CHECKING:
    from diagnose.consulting.dialogue import Consultation
    from diagnose.consulting.keeping import Keeper

UNSAVED = 1


class Terminal:
    """Shows text and reads lines. What comes from a pipe is shown as it is read, so that the record is whole."""

    def __init__(self, width: int) -> None:
        self.width = max(60, min(width, 80))
        self.broken_line = False  # a prompt stands there, with no answer to it
        self._piped = sys.stdin is not None and not sys.stdin.isatty()
        if isinstance(sys.stdin, TextIOWrapper):
            sys.stdin.reconfigure(errors="replace")

    def say(self, blocks: Iterable[Block]) -> None:
        """Prints blocks after an empty line."""
        shown = list(blocks)
        if shown:
            text = as_text(shown, self.width)
            click.echo("\n" + (emphasized(text) if takes_emphasis() else text), nl=False)

    def tell(self, text: str) -> None:
        """Prints a sentence."""
        self.say([Paragraph(clean(capital(text)))])

    def hear(self, prompt: str) -> str:
        """One line that was typed."""
        click.echo()
        if sys.stdin is None:  # closed from the start
            raise EOFError
        try:
            line = input(prompt)
        except OSError as error:
            if error.errno != errno.EIO:
                raise
            raise EOFError from error  # the terminal is gone
        if self._piped:
            click.echo(clean(line)[: self.width - len(prompt)])
        return line


class Start(NamedTuple):
    """What a sitting starts from: the type, the case, the text that the case was read from, and where it is kept."""

    ready: Ready
    case: Case
    before: bytes
    path: Path
    fresh: bool


@click.command("ask")
@click.argument("start", metavar="[TYPE | CASE]", required=False, default="")
@click.option("--save", type=click.Path(path_type=Path, dir_okay=False), help="Where the case is kept.")
@unit_option
@profile_option
@width_option(60)
@rules_options
@click.pass_context
def command(
    ctx: click.Context,
    start: str,
    save: Path | None,
    unit: str,
    profile: str | None,
    width: int | None,
    chosen: ChosenRules,
) -> None:
    """A consultation: one question at a time, the best one first.

    TYPE starts an empty case (`diagnose ask RP`); CASE goes on with a case file and writes to it. The case is kept
    after each answer: in the file it came from, in the one that --save names, or in case.yaml or the next free name.
    What others write meanwhile is never written over: the case then moves on to the next free name, and says so.

    Ends with 0 after q or the end of the input, 1 if the case could not be saved and was printed, 2 if there are
    problems in the input, 130 after Ctrl-C, and with 143 or 129 when it was ended or its terminal closed.
    """
    gc.enable()  # a sitting can last an hour, unlike the other commands
    terminal, types = Terminal(width or terminal_width()), chosen.library()
    with ending() as end:
        keeper, code = _sitting(terminal, types, start, save, profile, unit)
        end.heard = True
        with perhaps_unseen():
            _farewell(terminal, keeper, chosen.folder)
        ctx.exit(UNSAVED if keeper is not None and keeper.unsaved else end.code or code)


def _sitting(
    terminal: Terminal, types: Library, start: str, save: Path | None, profile: str | None, unit: str
) -> tuple[Keeper | None, int]:
    """The consultation without its farewell: who has kept the case, and the exit code."""
    from diagnose.consulting.keeping import Keeper
    from diagnose.consulting.talking import Stopped

    keeper, code = None, 0
    try:
        begun = _start(start or _type(types, terminal), save, profile, types)
        keeper = Keeper(begun.path, terminal.tell, fresh=begun.fresh, before=begun.before)
        talk = _consultation(begun, terminal, keeper, unit)
        terminal.tell(f"{begun.case.type}: {begun.ready.assembly.title}. The case is kept in {begun.path}")
        terminal.tell("Type h to see what can be typed; q stops, and nothing that was answered is lost.")
        talk.run()
    except (Stopped, EOFError):
        terminal.broken_line = True
    except KeyboardInterrupt:
        terminal.broken_line, code = True, CTRL_C
    return keeper, code


def _consultation(begun: Start, terminal: Terminal, keeper: Keeper, unit: str) -> Consultation:
    """The consultation, its case worked through.

    Raises:
        ProblemsFoundError: the case cannot be.
    """
    from diagnose.consulting.dialogue import Consultation

    try:
        return Consultation(begun.ready, begun.case, terminal, keeper.keep, unit)
    except ValueError as error:
        message = in_message(f"what is observed cannot be together: {error}")
        raise refused(begun.case.file, message) from error


def _type(types: Library, terminal: Terminal) -> str:
    """Asks for the type of the assembly."""
    from diagnose.consulting.dialogue import NUMBER
    from diagnose.consulting.screens import help_page, numbered
    from diagnose.consulting.talking import Stopped, choice_in, command_in

    options = [(name, types.get(name).assembly.title) for name in types.types()]
    terminal.say([Heading("Which type of assembly is it?", 1), numbered(options)])
    while True:
        line = terminal.hear(NUMBER)
        try:
            given = command_in(line, options)
            if given is None:
                return choice_in(line, options)
            if given.key == "q":
                raise Stopped
            if given.key != "h":
                raise ValueError("first the type; choose from the list, or q to stop")
            terminal.say(help_page())
        except ValueError as error:
            terminal.tell(f"{error}.")


def _start(start: str, save: Path | None, profile: str | None, types: Library) -> Start:
    """What the argument means: a type by its name, else a case file.

    Raises:
        ProblemsFoundError: neither, or the file has problems, or `save` would take the place of another file.
    """
    from diagnose.consulting.keeping import USUAL, free_name
    from diagnose.consulting.sitting import empty_case

    path = Path(start)
    if types.names().meant(start) or not _looks_like_a_file(start):
        ready = load_type(start, types)
        _must_be_free(save)
        return Start(
            ready, empty_case(with_profile(ready.assembly, profile)), b"", save or free_name(Path(USUAL)), fresh=True
        )
    if start == "-":
        raise click.UsageError("a consultation needs standard input for the answers; name a case file")
    before = _content(path)
    ready, case = load_case(start, types, piped=False)  # it is written to
    if save is not None and not (save.exists() and save.samefile(path)):
        _must_be_free(save)
        return Start(ready, case, before, save, fresh=True)
    return Start(ready, case, before, path, fresh=False)


def _looks_like_a_file(start: str) -> bool:
    path = Path(start)
    return start == "-" or path.exists() or path.suffix.lower() in {".yaml", ".yml"} or len(path.parts) > 1


def _content(path: Path) -> bytes:
    """What a file holds, looked at before the case is read: what is written between the two is found to be new."""
    try:
        return path.read_bytes() if path.is_file() else b""
    except OSError:
        return b""  # reading the case tells it


def _must_be_free(save: Path | None) -> None:
    if save is not None and save.exists():
        raise refused(save, "exists already and is not written over; to go on with it, name it as CASE")


def _farewell(terminal: Terminal, keeper: Keeper | None, rules: Path | None) -> None:
    """Says where the case is and how to go on; prints it where it cannot be saved."""
    problem = keeper.settle() if keeper is not None else ""
    if terminal.broken_line:
        click.echo()
    if keeper is None:
        return
    if problem:
        terminal.tell(f"The case could not be saved in {keeper.path}: {problem}. Keep what follows:")
        click.echo(f"\n{keeper.unsaved}", nl=False)
        return
    if not keeper.path.exists():
        removed = "" if keeper.fresh else f"Meanwhile {keeper.path} was removed outside this sitting. "
        terminal.tell(f"{removed}Nothing was answered, so no file was written.")
        return
    options = f" --rules {shlex.quote(str(rules))}" if rules else ""
    terminal.tell(f"The case is kept in {keeper.path}. To go on:")
    # Not wrapped: a command that is broken in two cannot be copied.
    click.echo(f"\n  diagnose ask {shlex.quote(clean(str(keeper.path)))}{options}")
