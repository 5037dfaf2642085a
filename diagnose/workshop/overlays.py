"""For who writes an overlay: a folder to begin with, and a review of what it adds, changes and leads to."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.cases.beside import BesideCase, read_beside
from diagnose.diagnosis.compiling import compiled
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.trial import differences
from diagnose.knowledge.files import write_whole
from diagnose.knowledge.overlay import Moved, Overlay, Touch, likely_name, moved
from diagnose.knowledge.rulebase import read_nodes, read_rule_base
from diagnose.knowledge.shipped import OVERLAY_FILE
from diagnose.knowledge.yamltext import Node, entries_of, flat, value_of
from diagnose.model.foreign import clean, cut
from diagnose.model.places import if_allowed, refused
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph

MOST_TEXT = 300
START = Path(__file__).with_name("overlay_start")


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


def overlays_page(rows: Sequence[OverlayReview]) -> list[Block]:
    """The blocks of the page."""
    return [block for row in rows for block in _overlay(row)]


def _overlay(row: OverlayReview) -> Iterator[Block]:
    overlay = row.overlay
    added = [touch for touch in overlay.touches if touch.added]
    changed = [touch for touch in overlay.touches if not touch.added]
    yield Heading(clean(str(overlay)), 1)
    yield Paragraph(f"{clean(overlay.folder)} adds {len(added)} and changes {len(changed)}.")
    if added:
        yield Heading("Adds")
        yield Entries(tuple(Entry("", _named(touch), (clean(str(touch.place)),)) for touch in added))
    if changed:
        yield Heading("Changes")
        yield Entries(tuple(_change(touch) for touch in changed))
    yield from _cases(row)
    yield from _moved(row)


def _named(touch: Touch) -> str:
    return clean(": ".join(filter(None, (touch.file, ", ".join(touch.path)))))


def _change(touch: Touch) -> Entry:
    same = touch.before is not None and flat(touch.before) == flat(touch.after)
    told = "as the rule base has it already" if same else f"{_short(flat(touch.before))} -> {_short(flat(touch.after))}"
    return Entry("", f"{_named(touch)}: {told}", _both(touch))


def _both(touch: Touch) -> tuple[str, str]:
    return clean(f"here: {touch.place}"), clean(f"rule base: {touch.shipped}")


def _short(text: str) -> str:
    return cut(clean(text), MOST_TEXT) or "(nothing)"


def _cases(row: OverlayReview) -> Iterator[Block]:
    yield Heading("Cases of its own")
    if not row.cases:
        yield Paragraph("None. Put some beside its files (NAME.cases.yaml), so that an upgrade is tried on them.")
        return
    yield Paragraph(f"{row.cases}; {row.cases - len(row.otherwise)} come out as expected.")
    if row.otherwise:
        yield Entries(
            tuple(
                Entry("", clean(case.name), (clean(str(case.place)), *map(clean, told))) for case, told in row.otherwise
            )
        )
        yield Paragraph(
            "Why, finding by finding: `diagnose rules try FOLDER --overlay FOLDER`, with --rules and an --overlay for "
            "each further folder as here."
        )


def _moved(row: OverlayReview) -> Iterator[Block]:
    fresh = [moved for moved in row.moved if moved.accepted is None]
    if row.stale:
        yield Heading("Look at these again")
        yield Paragraph(
            "The rule base has changed what these change. Decide anew, then: diagnose rules overlay accept FOLDER"
        )
        yield Entries(tuple(_again(moved) for moved in row.stale))
    if fresh:
        yield Paragraph(
            f"Not accepted yet: {len(fresh)} of its changes. `diagnose rules overlay accept FOLDER` keeps what the "
            "rule base says now, so that an upgrade which changes it is noticed."
        )


def _again(moved: Moved) -> Entry:
    touch = moved.touch
    told = (
        f"was {_short(moved.accepted or '')}, is {_short(flat(touch.before))} in the rule base; "
        f"{_short(flat(touch.after))} here"
    )
    return Entry("", f"{_named(touch)}: {told}", _both(touch))


def overlays_data(rows: Sequence[OverlayReview]) -> list[dict[str, Any]]:
    """Plain dictionaries and lists."""
    return [
        {
            "overlay": row.overlay.name,
            "title": row.overlay.title,
            "folder": row.overlay.folder,
            "adds": [_touch(touch) for touch in row.overlay.touches if touch.added],
            "changes": [_touch(touch) for touch in row.overlay.touches if not touch.added],
            "cases": row.cases,
            "cases_otherwise": [
                {"name": case.name, "place": str(case.place), "differences": list(told)} for case, told in row.otherwise
            ],
            "look_again": [{**_touch(moved.touch), "accepted": moved.accepted} for moved in row.stale],
        }
        for row in rows
    ]


def _touch(touch: Touch) -> dict[str, Any]:
    data: dict[str, Any] = {"file": touch.file, "path": list(touch.path), "place": str(touch.place)}
    if not touch.added:
        before = None if touch.before is None else flat(touch.before)
        data |= {"rule_base_place": str(touch.shipped), "rule_base": before, "overlay": flat(touch.after)}
    return data


def start_overlay(folder: Path, rules: Path) -> tuple[Path, ...]:
    """Makes the folder with its first files, taking its examples from the rule base; the files made.

    Raises:
        ProblemsFoundError: the folder holds something already, cannot be written, or the rule base cannot be read.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise refused(folder, "holds something already; nothing was written")
    written = dict(_files(folder, read_nodes(rules)))
    with if_allowed(folder, "written"):
        for name, text in written.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            write_whole(folder / name, text.encode())
    return tuple(folder / name for name in written)


def _files(folder: Path, nodes: dict[str, Node]) -> Iterator[tuple[str, str]]:
    name = likely_name(folder)
    title = json.dumps(f"{name.replace('_', ' ')}, own rules")
    yield OVERLAY_FILE, _begun("overlay", name=name, title=title)
    yield "sources.yaml", _begun("sources")
    yield from islice(_examples(nodes), 1)
    yield from islice(_profiles(name, nodes), 1)


def _begun(kind: str, **filled: str) -> str:
    """A first file of an overlay; what stands in braces in it is filled in."""
    return (START / f"{kind}.yaml").read_text(encoding="utf-8").format_map(filled)


def _examples(nodes: dict[str, Node]) -> Iterator[tuple[str, str]]:
    """Part files whose causes have shares, with a change of one share and of the minutes of a repair."""
    for file in sorted(nodes):
        lines = []
        for section, key in (("causes", "share"), ("repairs", "minutes")):
            for thing, value in entries_of(nodes[file], section)[:1]:
                changed = f"{{{key}: {flat(value_of(value, key))}, source: estimate}}"
                lines += [f"  {section}:", f"    {thing.text}: {changed}"]
        if file.startswith("parts/") and lines:
            yield file, _begun("part") + "".join(f"# {line}\n" for line in ("changed:", *lines))


def _profiles(name: str, nodes: dict[str, Node]) -> Iterator[tuple[str, str]]:
    """A profile with one limit of the default one."""
    for file in sorted(nodes):
        if file.startswith("limits/") and flat(value_of(nodes[file], "default")) == "yes":
            for limit, value in entries_of(nodes[file], "limits"):
                relation = "above" if flat(value_of(value, "above")) else "at least"
                amount, checked = (flat(value_of(value, key)) for key in (relation, "checked"))
                stated = {"limit": limit.text, "relation": relation, "amount": amount, "checked": checked}
                yield f"limits/{name}.yaml", _begun("profile", name=name, default=Path(file).stem, **stated)
