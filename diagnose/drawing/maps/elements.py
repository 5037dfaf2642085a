"""What a map is made of: boxes in columns, frames round them, and nets that join boxes of neighboring columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from pathlib import Path
from typing import Any, Literal, NamedTuple

from diagnose.knowledge.yamltext import data_of, read_file

Kind = Literal["observation", "finding", "mode", "cause", "condition", "pair", "fold"]
# "open": no case has it; "hides": it keeps the other from being seen.
Manner = Literal["plain", "open", "hides"]

Links = dict[tuple[str, str], Manner]
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
    leftward: bool = False
    back: tuple[Tap, ...] = ()


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


def columns_of(kind: str) -> dict[str, float]:
    """The columns of a kind of map."""
    return {heading: float(width) for heading, width in WORDS[kind]["columns"].items()}


def all_frames(
    boxes: Iterable[MapBox], parts: Iterable[MapFrame], others: Iterable[MapFrame], files: tuple[int, int]
) -> tuple[MapFrame, ...]:
    """Those of the parts, the others that hold something, and in a stack of its own one for each file, the site last.

    What stands in none of the first two stands in the frame of its file, over the columns `files`.
    """
    used = {box.frame for box in boxes}
    inner = [*parts, *(frame for frame in others if frame.key in used)]
    left = used - {frame.key for frame in inner}
    files_left = [*sorted(left - set(SITE_FILES)), *(file for file in SITE_FILES if file in left)]
    return (*inner, *(MapFrame(file, f"{file}.yaml", *files, 1, files[1]) for file in files_left))


def into_right(links: Links, gap: int, name: str, *, leftward: bool = False) -> Iterator[Net]:
    """A net for each box on the right, joined to all that its links, (left, right), name on the left."""
    turned = sorted((right, left, manner) for (left, right), manner in links.items())
    for right, rows in groupby(turned, lambda row: row[0]):
        taps = tuple(Tap(left, manner=manner) for _, left, manner in rows)
        yield Net(f"{name} {right}", gap, taps, (Tap(right),), leftward)
