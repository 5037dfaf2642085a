"""The command `diagnose`. A subcommand's module is imported when it is called, so that none pays for another."""

from __future__ import annotations

import gc
import importlib
import os
import sys
from collections.abc import Mapping, Sequence
from typing import Any

import click

from diagnose import __version__
from diagnose.model.places import Place, Problem, ProblemsFoundError


def group_of(package: str, commands: Mapping[str, str]) -> type[click.Group]:
    """A group whose commands stand in modules of `package` that carry their names.

    `commands` gives each command's name with the sentence that the list of commands shows, in the order in which
    a newcomer needs them. A name's hyphens are underscores in the module's name; where it would be a word of
    Python, the module's name ends in an underscore.
    """

    class Commands(click.Group):
        def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  click's signature
            return list(commands)

        def invoke(self, ctx: click.Context) -> Any:
            if ctx.default_map and ctx.parent is not None:  # what holds for a group holds for each command in it
                ctx.default_map = dict.fromkeys(commands, ctx.default_map)
            return super().invoke(ctx)

        def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
            if cmd_name not in commands:
                return None
            name = {"try": "try_"}.get(cmd_name, cmd_name.replace("-", "_"))
            module = importlib.import_module(f"{package}.{name}")
            command: click.Command = module.command
            return command

        def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
            with formatter.section("Commands"):
                formatter.write_dl(list(commands.items()))

    return Commands


# Command -> the sentence that the list of commands shows.
COMMANDS = {
    "find": "From a case file to ranked causes, reasons and what to do.",
    "ask": "A consultation: one question at a time, then what to do.",
    "close": "Write into a case file what was found and done, and how it ended.",
    "why": "Why a cause or finding is held: down to observations and limits.",
    "why-not": "What speaks against a cause, and what would decide.",
    "triage": "A year of test reports: what failed, why, which to see to first.",
    "history": "The years of an assembly, from a folder of case files.",
    "plan": "What to check next, what to repair first, what to bring.",
    "draw": "Draw the reasoning of a case, or a map of the rules, as a graph.",
    "sheet": "The sheet of a case as one page for the phone and for paper.",
    "phone": "The consultation as a folder for phones, which works without a signal.",
    "practice": "Practice with the roles turned: find the fault that the tool hides.",
    "lesson": "The reasoning of a case as a page that a class goes through step by step.",
    "bank": "List practice cases for a class, by type, theme and difficulty.",
    "exam": "Practice cases as a paper without answers, and the key apart.",
    "questions": "What can be observed on a type of assembly.",
    "new": "An empty case file, ready to fill in.",
    "learn": "From the outcomes of closed jobs to rates and shares of your own.",
    "rules": "For who writes rules: check, try, compare, look up, add your own.",
}
PROBLEM_EXIT = 2
UNHEARD_EXIT = 1


def _tell_versions(context: click.Context, _: click.Parameter, asked: bool) -> None:
    if not asked or context.resilient_parsing:
        return
    from diagnose.cli.defaults import defaults_file, read_defaults, told
    from diagnose.knowledge.settings import edition_of
    from diagnose.knowledge.shipped import fingerprint, shipped_folder

    folder = shipped_folder()
    stands = "installed with the tool" if folder.parent.name == "diagnose" else f"in the folder {folder}"
    click.echo(f"diagnose, version {__version__}")
    click.echo(f"rule base, version {edition_of(folder) or 'not stated'} ({fingerprint(folder)[:12]}), {stands}")
    path = defaults_file()
    own = ", ".join(f"{key} {told(value)}" for key, value in read_defaults(path).items())
    click.echo(f"defaults: {own}, from {path}" if own else f"defaults: none of your own ({path} sets some)")
    context.exit()


@click.group(cls=group_of("diagnose.cli", COMMANDS), context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_tell_versions,
    help="Show the versions of the tool and of the shipped rule base, and exit.",
)
@click.pass_context
def root(context: click.Context) -> None:
    """Fault diagnosis of backflow prevention assemblies.

    Write down what was seen in a case file (`diagnose new RP > case.yaml`), then ask `diagnose find case.yaml`.
    This is advice: local code, the water supplier and the maker's instructions govern.
    """
    from diagnose.cli.defaults import defaults_file, for_commands, read_defaults

    found = read_defaults(defaults_file())
    if found:
        context.default_map = for_commands(found, COMMANDS)


def main(arguments: Sequence[str] | None = None) -> None:
    """Runs a command; problems in the input are printed one a line and end with exit code 2.

    So does a file or folder that the system does not give. Where standard output cannot be written the code is 1.
    """
    # A command builds much and drops little before it ends; looking for garbage would only take time.
    gc.disable()
    _open_what_is_closed()
    try:
        root.main(args=arguments, prog_name="diagnose")
    except ProblemsFoundError as error:
        click.echo(str(error), err=True)
        sys.exit(PROBLEM_EXIT)
    except OSError as error:
        sys.exit(_refused_by_the_system(error))


def _open_what_is_closed() -> None:
    """Opens standard streams that are closed, so that no file takes their number; what is put out still fails."""
    for name, flags, mode in (("stdin", os.O_RDONLY, "r"), ("stdout", os.O_RDONLY, "w"), ("stderr", os.O_WRONLY, "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, flags), mode, encoding="utf-8"))


def _refused_by_the_system(error: OSError) -> int:
    """Says what the system refused; the exit code. An error without a path comes from writing to standard output."""
    reason = error.strerror or type(error).__name__
    if error.filename is not None:
        problem = Problem(Place(os.fsdecode(error.filename)), f"cannot be used: {reason}")
        click.echo("\n".join(problem.lines()), err=True)
        return PROBLEM_EXIT
    # Nothing is left to say where the reader of a pipe has gone.
    if not isinstance(error, BrokenPipeError):
        click.echo(f"standard output: error: cannot be written: {reason}", err=True)
    # Python must not try again at exit.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return UNHEARD_EXIT
