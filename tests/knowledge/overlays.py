"""Making overlays in tests, and comparing what comes of them."""

from __future__ import annotations

from pathlib import Path

from diagnose.model.assembly import Assembly
from tests.knowledge.writing import orderless

HEAD = "overlay: ours\ntitle: Ours, invented\n"
# An overlay of the tiny rule base that is sound.
GOOD = {
    "overlay.yaml": HEAD,
    "accepted.yaml": 'accepted:\n  "parts/flap.yaml / causes / grit / share": "30"\n',
    "scales.yaml": "words: {rarely: 0.05}\nchanged: {unlisted: {rate: rarely, source: estimate}}\n",
    "parts/flap.yaml": "part: flap\ncauses:\n  bent:\n    text: bent {component}\n    kind: wear\n    share: 3\n"
    "    brings: {leaks: often}\n    source: estimate\nchanged:\n  causes:\n    grit: {share: 50, source: estimate}\n"
    "  repairs:\n    clean: {cures: {bent: seldom}, source: estimate}\n",
    "limits/plain_town.yaml": "changed: {default: no}\n",
    "limits/our_town.yaml": "profile: our_town\ntitle: Ours\ndefault: yes\nexplains: x\nlimits:\n"
    "  flap_minimum: {at least: 2 psid, source: estimate, checked: 2026-11}\n",
}


def written(folder: Path, files: dict[str, str], head: str = HEAD) -> Path:
    """An overlay of these files."""
    for name, text in {"overlay.yaml": head, **files}.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def plain(assemblies: dict[str, Assembly]) -> object:
    """Assemblies without places and order."""
    return {name: orderless(assembly) for name, assembly in assemblies.items()}
