"""The drawings of example cases that README and docs/ show."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import click
from click.testing import CliRunner

from diagnose.cli.main import root

DRAWN = ("relief-runs-stops-on-draw", "two-faults", "sound-but-spits")


def pictures(docs: Path) -> Iterator[tuple[Path, bytes]]:
    """Each drawing's path in docs/ with its content."""
    for name in DRAWN:
        for ending in ("svg", "png"):
            yield docs / "pictures" / f"{name}.{ending}", _drawn(docs.parent / "examples" / f"{name}.yaml", ending)


def _drawn(case: Path, ending: str) -> bytes:
    with TemporaryDirectory() as folder:
        out = Path(folder) / f"out.{ending}"
        shown = CliRunner().invoke(root, ["draw", str(case), "-o", str(out), "--no-cache"], catch_exceptions=False)
        if shown.exit_code:
            raise click.ClickException(shown.output)
        return out.read_bytes()
