"""Looking an overlay over: what it adds and changes, how its own cases come out, what an upgrade changed under it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.cases.beside import BesideCase, read_beside
from diagnose.diagnosis.compiling import compiled
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.trial import differences
from diagnose.knowledge.accepted import Moved, moved
from diagnose.knowledge.overlay import Overlay
from diagnose.knowledge.rulebase import read_rule_base


class OverlayReview(NamedTuple):
    """One overlay: `otherwise` are its own cases that come out otherwise than expected, each with how.

    `moved` are the changes whose shipped value is not the one that they were accepted against.
    """

    overlay: Overlay
    cases: int
    otherwise: tuple[tuple[BesideCase, tuple[str, ...]], ...]
    moved: tuple[Moved, ...]

    @property
    def stale(self) -> tuple[Moved, ...]:
        """Changes under which the rule base has changed since they were accepted."""
        return tuple(row for row in self.moved if row.accepted is not None)


def review_overlays(folder: Path, overlays: Sequence[Path]) -> tuple[OverlayReview, ...]:
    """Reads and compiles everything, and tries the cases of the overlays.

    Raises:
        ProblemsFoundError: with every problem of the rule base, of the overlays and of their cases.
    """
    base = read_rule_base(folder, overlays)
    ready = {name: compiled(assembly, "") for name, assembly in base.assemblies.items()}
    return tuple(_review(overlay, ready) for overlay in base.overlays)


def _review(overlay: Overlay, ready: dict[str, Ready]) -> OverlayReview:
    rows = read_beside(Path(overlay.folder), {name: row.assembly for name, row in ready.items()})
    tried = ((row, tuple(differences(ready[row.case.type], row))) for row in rows)
    return OverlayReview(overlay, len(rows), tuple(pair for pair in tried if pair[1]), moved(overlay))
