"""What several commands take and do."""

from __future__ import annotations

import math
import os
import re
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import wraps
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar, cast

import click

from diagnose.cases.reading import no_such_type, read_case, read_type
from diagnose.cli.defaults import UNITS
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.ready import Ready
from diagnose.knowledge.fields import Problems, no_such
from diagnose.knowledge.files import STANDARD_INPUT, files_below, write_output
from diagnose.knowledge.shipped import RULES_ENDING
from diagnose.knowledge.yamltext import MOST_BYTES, Node, read_bytes, read_file
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.places import Place, Problem, ProblemsFoundError, if_allowed

if TYPE_CHECKING:
    from diagnose.cases.beside import BesideCase
    from diagnose.sheet.blocks import Block

Command = TypeVar("Command", bound=Callable[..., Any])
T = TypeVar("T")
OVERLAY_VARIABLE = "DIAGNOSE_OVERLAY"
ANY_PATH = click.Path(path_type=Path)
FOLDER_PATH = click.Path(path_type=Path, file_okay=False)
# What several commands take: a file or `-` for standard input, and options.
case_argument = click.argument("case_file", metavar="CASE", type=click.Path(dir_okay=False, allow_dash=True))
page_option = click.option(
    "-o", "--output", metavar="FILE", default="-", help="The page, an .html file. Standard output if left out."
)
unit_option = click.option(
    "--unit", type=click.Choice(UNITS), default="psid", show_default=True, help="Unit of pressures shown."
)
profile_option = click.option(
    "--profile", metavar="NAME", help="The limits to judge by; those that are usual for the type if left out."
)
_LEADS = re.compile(r"^( +)([A-Z]{2,}(?: [A-Z]+)*|!)(?= {2})", re.MULTILINE)
_COLORS = {"!": "yellow", "FAIL": "red"}


class NumberRange(click.FloatRange):
    """A number within a range; "nan" is none, though it is neither below nor above anything."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number."""
        number = float(super().convert(value, param, ctx))
        if math.isnan(number):
            self.fail(f"{value!r} is not a number.", param, ctx)
        return number


class ChosenRules(NamedTuple):
    """What the options say of the rule base: its folder, None for the shipped one, and what is laid over it."""

    folder: Path | None
    overlays: tuple[Path, ...]
    keep: bool

    def library(self) -> Library:
        """The types of the rule base."""
        return Library(self.folder, keep=self.keep, overlays=self.overlays)


def rules_options(command: Command) -> Command:
    """`--rules`, `--overlay` and `--no-cache`, which the command gets as one, `chosen`."""
    return _folder_options(command, "--rules", "--rule-base")


def rule_base_options(command: Command) -> Command:
    """The same with `--rule-base` alone, for commands in which `--rules` means something else."""
    return _folder_options(command, "--rule-base")


def _folder_options(command: Command, *names: str) -> Command:
    @wraps(command)
    def packed(*arguments: Any, rules: Path | None, overlays: tuple[Path, ...], no_cache: bool, **options: Any) -> Any:
        return command(*arguments, chosen=ChosenRules(rules, overlays, not no_cache), **options)

    packed = click.option("--no-cache", is_flag=True, help="Read the rule base afresh and keep nothing.")(packed)
    packed = click.option(
        "--overlay",
        "overlays",
        type=ANY_PATH,
        metavar="FOLDER",
        multiple=True,
        envvar=OVERLAY_VARIABLE,
        help=f"Your own rules, laid over the rule base; may be given twice. Else what {OVERLAY_VARIABLE} names.",
    )(packed)
    shown = "Another rule base than the shipped one."
    return cast("Command", click.option(*names, "rules", type=FOLDER_PATH, help=shown)(packed))


def with_options(*options: Callable[[Command], Command]) -> Callable[[Command], Command]:
    """Several options at once, in the order in which help shows them."""

    def optioned(command: Command) -> Command:
        for option in reversed(options):
            command = option(command)
        return command

    return optioned


def form_option(*more: str) -> Callable[[Command], Command]:
    """`--format`: text, Markdown or JSON, or one of `more`."""
    forms = click.Choice(["text", "markdown", "json", *more])
    return click.option("--format", "form", type=forms, default="text", show_default=True)


def width_option(least: int) -> Callable[[Command], Command]:
    """`--width`, from so many columns on."""
    columns = click.IntRange(least, 80)
    return click.option("--width", type=columns, help="Columns of the text; the terminal's if left out.")


def load_case(case_file: str, types: Library, *, piped: bool = True) -> tuple[Ready, Case]:
    """A case and its type, ready; unless `piped` is False, it may come through a pipe.

    Raises:
        ProblemsFoundError: with every problem of the file.
    """
    node = _node(case_file, piped)
    ready = types.get(read_type(node, types.names()))
    return ready, read_case(node, ready.assembly)


def _node(case_file: str, piped: bool) -> Node:
    if case_file == STANDARD_INPUT:
        name = "<standard input>"
        with if_allowed(name, "read"):
            return read_bytes(sys.stdin.buffer.read(MOST_BYTES + 1), name)
    return read_file(Path(case_file), piped=piped)


def tell_problems(problems: Iterable[Problem]) -> None:
    """What is wrong with some of the input, on standard error, while the rest is worked with."""
    for problem in problems:
        click.echo("\n".join(problem.lines()), err=True)


def put_out(output: str, content: str | bytes, types: Library, *cases: str) -> None:
    """Writes what was made from the rule base and from `cases` to a file, or to standard output where that is `-`.

    Raises:
        ProblemsFoundError: the file is one of those it was made from, or cannot be written.
    """
    if output == "-":
        click.echo(content, nl=False)
        return
    rules = (path for folder in types.folders() for path in files_below(folder, RULES_ENDING, hidden=False))
    data = content.encode() if isinstance(content, str) else content
    write_output(Path(output), data, chain(cases, rules))


def load_type(name: str, types: Library) -> Ready:
    """A type of assembly by its name or another that it is called, in capitals or not.

    Raises:
        ProblemsFoundError: there is no such type.
    """
    found = types.names().meant(name)
    if not found:
        problems: Problems = []
        no_such_type(problems, Place("TYPE"), "there is no type of assembly", name, types.names())
        raise ProblemsFoundError(problems)
    return types.get(found)


def with_profile(assembly: Assembly, name: str | None) -> Assembly:
    """The type with this profile as the one that new cases are judged by.

    Raises:
        ProblemsFoundError: it has none of that name.
    """
    known = [row.name for row in assembly.profiles]
    if name and name not in known:
        raise no_such("--profile", f"{assembly.type} has no profile", name, known)
    return assembly._replace(default_profile=name or assembly.default_profile)


def cases_beside(types: Library) -> list[BesideCase]:
    """The cases beside the rules, and those of what is laid over them.

    Raises:
        ProblemsFoundError: with all problems of the first folder that has any.
    """
    from diagnose.cases.beside import all_cases

    return all_cases(types.folders(), {name: ready.assembly for name, ready in types.all().items()})


def terminal_width() -> int:
    """Columns of the terminal; 80 where it is not known."""
    if os.environ.get("COLUMNS", "").isdecimal():
        return int(os.environ["COLUMNS"])
    try:
        return os.get_terminal_size(sys.stdout.fileno()).columns or 80
    except (OSError, ValueError):
        return 80


def form_of(output: str, given: str | None, forms: Mapping[str, str], usual: str, or_else: str = "") -> str:
    """The form of what is put out: as given, else by the suffix of the file; `usual` on standard output.

    Raises:
        UsageError: the suffix tells none, or a terminal would get a picture; `or_else` is what else to do then.
    """
    form = given or (usual if output == "-" else forms.get(Path(output).suffix.casefold()))
    if form is None:
        raise click.UsageError(f"'{output}' ends in none of {', '.join(forms)}; give it another name{or_else}")
    if output == "-" and form == "png" and sys.stdout.isatty():
        raise click.UsageError(f"a png is no text for a terminal; name a file with -o{or_else}")
    return form


def report(form: str, blocks: Callable[[], Iterable[Block]], data: Callable[[], Any]) -> str:
    """A report as "text" as wide as the terminal, as "markdown", or its data as "json"."""
    if form == "json":
        import json

        return json.dumps(data(), indent=2, ensure_ascii=False) + "\n"
    return shown(form, blocks())


def shown(form: str, blocks: Iterable[Block], width: int | None = None) -> str:
    """A page as "markdown", or as "text" of so many columns: the terminal's, 60 to 80, where none are given."""
    from diagnose.sheet.text import as_markdown, as_text

    if form == "markdown":
        return as_markdown(blocks)
    text = as_text(blocks, width or terminal_width())
    return emphasized(text) if takes_emphasis() else text


def takes_emphasis() -> bool:
    """Whether standard output is a terminal that shows bold and color, and nobody has said no (no-color.org)."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def emphasized(text: str) -> str:
    """The words at the margin that lead the eye in bold, what fails or warns in color too; nothing but that changes."""
    return _LEADS.sub(lambda found: found[1] + click.style(found[2], bold=True, fg=_COLORS.get(found[2])), text)


def watched(doing: str, rows: Sequence[T], /) -> Iterable[T]:
    """The rows, with a bar on the terminal that says what is being done and how much of it."""
    if not sys.stderr.isatty():
        yield from rows
        return
    with click.progressbar(rows, label=doing, show_pos=True, file=sys.stderr) as bar:
        yield from bar
