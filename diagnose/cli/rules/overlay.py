"""`diagnose rules overlay`."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import ANY_PATH, FOLDER_PATH, OVERLAY_VARIABLE, form_option, report
from diagnose.knowledge.shipped import shipped_folder

DIFFERENT_EXIT = 1


@click.group("overlay")
def command() -> None:
    """Your own rules beside the shipped ones.

    An overlay is a folder of your own that adds to the shipped rules and changes values in them; an upgrade of the
    tool leaves it alone. Every command takes it by --overlay FOLDER, or by the environment variable DIAGNOSE_OVERLAY.
    """


_rules = click.option("--rules", type=FOLDER_PATH, help="Another rule base than the shipped one.")
_folders = click.argument(
    "folders", metavar="FOLDER...", nargs=-1, required=True, type=ANY_PATH, envvar=OVERLAY_VARIABLE
)


@command.command("new", short_help="A folder to begin with; nothing is overwritten.")
@click.argument("folder", type=ANY_PATH)
@_rules
def new(folder: Path, rules: Path | None) -> None:
    """A folder to begin with, its examples all comments. Nothing is ever overwritten."""
    from diagnose.workshop.overlays import start_overlay

    for path in start_overlay(folder, rules or shipped_folder()):
        click.echo(f"{path}")


@command.command("check", short_help="What it adds and changes, and what is wrong with it.")
@_folders
@form_option()
@_rules
def check(folders: tuple[Path, ...], form: str, rules: Path | None) -> None:
    """What it adds and changes, both places each; how its cases come out; what an upgrade changed under it.

    Exit code 1: a case comes out otherwise than expected, or the rule base has changed what the overlay changes.
    """
    from diagnose.workshop.overlays import overlays_data, overlays_page, review_overlays

    rows = review_overlays(rules or shipped_folder(), folders)
    click.echo(report(form, lambda: overlays_page(rows), lambda: overlays_data(rows)), nl=False)
    if any(row.stale or row.otherwise for row in rows):
        raise SystemExit(DIFFERENT_EXIT)


@command.command("accept", short_help="Note what it changes, to notice upgrades.")
@_folders
@_rules
def accept(folders: tuple[Path, ...], rules: Path | None) -> None:
    """Keep what the rule base says now under each change, so that `check` notices when an upgrade changes it."""
    from diagnose.knowledge.overlay import accept as keep
    from diagnose.knowledge.rulebase import read_rule_base

    for overlay in read_rule_base(rules or shipped_folder(), folders).overlays:
        click.echo(f"{overlay.folder}: {keep(overlay)} changes accepted")
