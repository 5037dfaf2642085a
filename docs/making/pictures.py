"""The drawings of example cases and of assemblies that README and docs/ show."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import click
from click.testing import CliRunner

from diagnose.cli.main import root

DRAWN = ("relief-runs-stops-on-draw", "two-faults", "sound-but-spits")

# Type -> the situation in which it is shown.
SECTIONS = {"RP": "first_check_fouled", "DC": "test_first_check", "PVB": "supply_lost"}


def pictures(docs: Path) -> Iterator[tuple[Path, bytes]]:
    """Each drawing's path in docs/ with its content."""
    for name in DRAWN:
        for ending in ("svg", "png"):
            yield (
                docs / "pictures" / f"{name}.{ending}",
                _drawn([str(docs.parent / "examples" / f"{name}.yaml")], ending),
            )
    for kind, situation in SECTIONS.items():
        drawn = _drawn(["--section", kind, "--situation", situation], "svg")
        yield docs / "pictures" / f"section-{kind.lower()}.svg", drawn


def _drawn(asked: list[str], ending: str) -> bytes:
    with TemporaryDirectory() as folder:
        out = Path(folder) / f"out.{ending}"
        shown = CliRunner().invoke(root, ["draw", *asked, "-o", str(out), "--no-cache"], catch_exceptions=False)
        if shown.exit_code:
            raise click.ClickException(shown.output)
        return out.read_bytes()
