"""The page of all commands, from their own help."""

from __future__ import annotations

from collections.abc import Iterator

import click
from click.testing import CliRunner

from diagnose.cli.main import root

TOP = """\
# Commands

Made from the commands' own help by `python docs/make.py`. A command of a group is written behind the group's name:
`diagnose rules check`.
"""


def commands_page() -> str:
    """Every command with its help, and below a group each of its commands."""
    return "\n".join([TOP, *(_section(path) for path in _paths((), root))])


def _paths(path: tuple[str, ...], command: click.Command) -> Iterator[tuple[str, ...]]:
    yield path
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            if inner is not None:
                yield from _paths((*path, name), inner)


def _section(path: tuple[str, ...]) -> str:
    shown = CliRunner().invoke(root, [*path, "--help"], prog_name="diagnose", terminal_width=100)
    lines = (f"    {line}".rstrip() for line in shown.output.splitlines())
    return "\n".join([f"## {' '.join(('diagnose', *path))}", "", *lines, ""])
