"""Making overlays in tests, and comparing what comes of them."""

from __future__ import annotations

from pathlib import Path

from diagnose.model.assembly import Assembly
from tests.knowledge.writing import orderless

HEAD = "overlay: ours\ntitle: Ours, invented\n"


def written(folder: Path, files: dict[str, str], head: str = HEAD) -> Path:
    """An overlay of these files."""
    for name, text in {"overlay.yaml": head, **files}.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def plain(assemblies: dict[str, Assembly]) -> object:
    """Assemblies without places and order."""
    return {name: orderless(assembly) for name, assembly in assemblies.items()}
