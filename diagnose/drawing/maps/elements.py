"""What a map is made of: boxes in columns, frames round them, nets that join boxes of neighboring columns; its builder.

Every map is built alike: pieces of a rule base go into boxes, alone or with others, and boxes are joined.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any, Literal, NamedTuple

from diagnose.drawing.maps.marks import NO_MARKS, Marks
from diagnose.knowledge.yamltext import data_of, read_file

Kind = Literal["observation", "finding", "mode", "cause", "condition", "pair", "fold"]
# "open": no case has it; "hides": it keeps the other from being seen.
Manner = Literal["plain", "open", "hides"]

WORDS: dict[str, dict[str, Any]] = data_of(read_file(Path(__file__).with_name("map_words.yaml")))
KINDS = "kinds of cause"
SITE = "site conditions"
SITE_FILES = ("site/conditions", "site/validity", "site/circumstances")


class MapBox(NamedTuple):
    """A box. `text` is not yet wrapped; `marks` say what is wrong with it.

    `unreached` draws a heavy outline, `caseless` a dashed one.
    """

    key: str
    kind: Kind
    column: int
    frame: str
    text: str
    marks: tuple[str, ...] = ()
    unreached: bool = False
    caseless: bool = False


class MapFrame(NamedTuple):
    """A frame round boxes, over the columns `first` to `last`; frames of one `stack` stand below each other.

    The boxes of the column `lead` keep their order; the others stand as near as they can to what they are joined to.
    """

    key: str
    title: str
    first: int
    last: int
    stack: int
    lead: int


class Tap(NamedTuple):
    """Where a box joins a net. `text` stands at the joint; `weight` (0 to 1) widens the line into it."""

    key: str
    text: str = ""
    weight: float = 0.0
    manner: Manner = "plain"


class Net(NamedTuple):
    """An upright line in the gap right of column `gap`; all boxes on its left are joined to all on its right.

    `leftward` points it to the left. `back`: boxes on its right that lead into it as well.
    """

    key: str
    gap: int
    left: tuple[Tap, ...]
    right: tuple[Tap, ...]
    back: tuple[Tap, ...] = ()
    leftward: bool = False


class Map(NamedTuple):
    """A whole map; `legend` and `joints` say what boxes and dots mean, `notes` what is folded, left out and marked.

    `columns` have widths in points, by headings. Frames and boxes of the stack 0 stand in the order given; in later
    ones boxes are sorted by what they are joined to.
    """

    title: str
    subtitle: str
    columns: dict[str, float]
    frames: tuple[MapFrame, ...]
    items: tuple[MapBox, ...]
    nets: tuple[Net, ...]
    legend: dict[Kind, str]
    joints: dict[Manner, str]
    notes: tuple[str, ...]


class MapBuilder:
    """A map under way. `box_of` has the box of each piece, `members` the pieces in each, `boxes` each by name."""

    def __init__(self, kind: str, marks: Marks = NO_MARKS) -> None:
        self.words, self.marks = WORDS[kind], marks
        self.box_of: dict[str, str] = {}
        self.boxes: dict[str, MapBox] = {}
        self.members: dict[str, list[str]] = {}
        self._taps: dict[tuple[str, int, bool], tuple[dict[str, Tap], ...]] = {}

    def add(self, box: MapBox, piece: str = "") -> None:
        """Puts a piece, itself if none is named, into a box, which is added where it is not there yet."""
        self.box_of[piece or box.key] = box.key
        self.boxes.setdefault(box.key, box)
        self.members.setdefault(box.key, []).append(piece or box.key)

    def join(self, net: str, gap: int, *taps: Tap | None, leftward: bool = False) -> None:
        """Joins what is on the left of a net to what is on its right, and to what leads back into it.

        Of two joints of one box the plain one stays.
        """
        sides = self._taps.setdefault((net, gap, leftward), ({}, {}, {}))
        for side, tap in zip(sides, taps, strict=False):
            if tap is not None and (tap.key not in side or side[tap.key].manner != "plain"):
                side[tap.key] = tap

    def frames(
        self, parts: Iterable[MapFrame], others: Iterable[MapFrame], files: tuple[int, int]
    ) -> tuple[MapFrame, ...]:
        """Those of the parts, the others that hold something, then in a stack of its own one a file, the site last.

        What stands in none of the first two stands in the frame of its file, over the columns `files`.
        """
        used = {box.frame for box in self.boxes.values()}
        inner = [*parts, *(frame for frame in others if frame.key in used)]
        left = used - {frame.key for frame in inner}
        files_left = [*sorted(left - set(SITE_FILES)), *(file for file in SITE_FILES if file in left)]
        return (*inner, *(MapFrame(file, f"{file}.yaml", *files, 1, files[1]) for file in files_left))

    def map(self, title: str, subtitle: str, frames: tuple[MapFrame, ...], *notes: str) -> Map:
        """The whole of it."""
        nets = []
        for (name, gap, leftward), sides in sorted(self._taps.items()):
            left, right, back = (tuple(sorted(side.values())) for side in sides)
            nets.append(Net(name, gap, left, right, back, leftward))
        columns = {heading: float(width) for heading, width in self.words["columns"].items()}
        items = tuple(map(self._marked, self.boxes.values()))
        return Map(
            title, subtitle, columns, frames, items, tuple(nets), self.words["legend"], self.words["joints"], notes
        )

    def _marked(self, box: MapBox) -> MapBox:
        """One piece tells how it is marked, of several it is counted."""
        members = self.members.get(box.key, ())
        tables = (self.marks.unreached, self.marks.caseless)
        heavy, dashed = ([key for key in members if key in table] for table in tables)
        said = [f"[{table[key]}]" for key in members for table in tables if key in table]
        if len(members) > 1:
            told = ((heavy, "marked with a heavy outline"), (dashed, "with a dashed one, without a case"))
            said = [f"[{len(rows)} {text}]" for rows, text in told if rows]
        return box._replace(marks=tuple(said), unreached=bool(heavy), caseless=bool(dashed))
