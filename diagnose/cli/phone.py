"""`diagnose phone`."""

from __future__ import annotations

import signal
from pathlib import Path

import click

from diagnose.cli.shared import ChosenRules, rules_options, unit_option

PORT = 8765


@click.command("phone")
@click.option("-o", "--output", type=click.Path(path_type=Path, file_okay=False), help="The folder to write.")
@click.option(
    "--runtime",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    metavar="FOLDER",
    help="Where the runtime for browsers stands already; fetched by the npm client if left out.",
)
@click.option("--serve", is_flag=True, help="Try it at once, on this machine only, until Ctrl-C.")
@click.option("--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="Port of --serve.")
@unit_option
@rules_options
def command(output: Path | None, runtime: Path | None, serve: bool, port: int, unit: str, chosen: ChosenRules) -> None:
    """Make a folder with the consultation for a phone.

    Any static web host serves it, under any path, by https. A phone that has opened it once goes on without a signal:
    the consultation of `diagnose ask`, the cases it was asked about, the sheet. Nothing leaves the phone unless its
    owner sends it. Overlays are laid over the rules when the folder is made; make it again to bring a change.

    Ends with 2 where there are problems in the rules, or the runtime cannot be had.
    """
    from diagnose.model.places import if_allowed
    from diagnose.phone.folder import must_be_ours, phone_files, write_folder
    from diagnose.phone.serving import served

    if output is None and not serve:
        raise click.UsageError("say where to write with -o FOLDER, or try it with --serve")
    if output is not None:
        must_be_ours(output)
    files = phone_files(chosen.library(), unit, runtime)
    if output is not None:
        write_folder(files, output)
        size = sum(map(len, files.values())) / 1e6
        click.echo(f"{output}: {len(files)} files, {size:.1f} MB. Put it on a host that serves it by https.")
    if serve:
        with if_allowed(f"port {port}", "served at"), served(files, port) as address:
            click.echo(f"Serving on {address} for this machine only; Ctrl-C ends it.")
            try:
                signal.pause()
            except KeyboardInterrupt:
                click.echo()
