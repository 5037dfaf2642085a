"""Groups of commands. A command's module is imported when it is called, so that none pays for another."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import Any

import click


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
            module = importlib.import_module(f"{package}.{module_name(cmd_name)}")
            command: click.Command = module.command
            return command

        def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
            with formatter.section("Commands"):
                formatter.write_dl(list(commands.items()))

    return Commands


def module_name(command: str) -> str:
    """The name of the module of a command."""
    name = command.replace("-", "_")
    return f"{name}_" if name in {"try"} else name
