"""Reading `symbol` and `record` in parts/<kind>.yaml: how a part is drawn, and what the record of a test asks of it."""

from __future__ import annotations

import re
from typing import TypeVar, get_args

from diagnose.knowledge.context import is_name
from diagnose.knowledge.fields import Fields, as_choice, as_items, complain
from diagnose.knowledge.yamltext import Node, Scalar
from diagnose.model.foreign import cut
from diagnose.model.schematic import PLAIN, Point, Stand, Stroke, StrokeKind, Symbol, Tone
from diagnose.model.work import Recorded

# Right and down from the symbol's own point.
POINT = r"-?[0-9]{1,2}(\.[0-9])? +-?[0-9]{1,2}(\.[0-9])?"
KINDS: tuple[StrokeKind, ...] = get_args(StrokeKind)
TONES: tuple[Tone, ...] = get_args(Tone)
STANDS: tuple[Stand, ...] = get_args(Stand)
# How many points a shape has, at least and at most.
POINTS = {"line": (2, 99), "area": (3, 99), "box": (2, 2), "circle": (2, 2), "spring": (2, 2), "curve": (3, 3)}
# The size that some kinds have besides their points, and what it is unless given.
SIZES = {"box": ("round", 0.0), "spring": ("wide", 6.0)}
LARGEST, THICKEST, USUAL = 20, 20, 1.6
NO_POINTS: tuple[Point, ...] = ()
NO_WORDS: tuple[str, ...] = ()

# What a file of an earlier version says with a name alone; so that versions can be compared, it is still read.
NAMED = PLAIN._replace(tube=PLAIN.room[0])

W = TypeVar("W", bound=str)


def read_symbol(file: Fields) -> Symbol:
    """How a kind of part is drawn; a plain box where the file does not say."""
    node = file.get("symbol")
    if node is None:
        return PLAIN
    if isinstance(node, Scalar) and node.text and is_name(node.text):
        return NAMED
    fields = Fields(node, f"{file.what}, symbol", file.problems)
    leads, drawn = _word(fields, "leads", ("yes",), ""), fields.get("shapes")
    if fields.has("leads") == fields.has("shapes"):
        fields.miss(f"{fields.what}: exactly one of 'shapes' and 'leads: yes' is needed", "shapes", "leads")
    items = as_items(drawn, f"{fields.what}, shapes", file.problems) if drawn is not None else ()
    strokes = tuple(_stroke(item, fields) for item in items)
    room = fields.parsed("room", _corners, _around(strokes))
    symbol = Symbol(
        strokes,
        room,
        fields.parsed("shaded", _corners, room),
        _word(fields, "stands", STANDS, "on the line"),
        fields.parsed("pipe to", _point, (0.0, 0.0)),
        fields.parsed("tube to", _point, None),
        leads == "yes",
    )
    fields.done()
    return symbol


def read_record(file: Fields) -> Recorded:
    """What the record of a test asks of a kind of part; nothing where the file does not say."""
    node = file.get("record")
    if node is None:
        return Recorded()
    fields = Fields(node, f"{file.what}, record", file.problems)
    tick = fields.parsed("tick", _two, NO_WORDS)
    recorded = Recorded(tick, fields.text("confirm", ""), fields.yes("in one line"))
    fields.done()
    return recorded


def _stroke(node: Node, symbol: Fields) -> Stroke:
    fields = Fields(node, f"{symbol.what}, shape", symbol.problems)
    ways = {kind: fields.parsed(kind, _ways, NO_POINTS) for kind in KINDS}
    given = [kind for kind in KINDS if fields.has(kind)]
    if len(given) != 1:
        fields.miss(f"{fields.what}: exactly one of {', '.join(map(repr, KINDS))} is needed", *KINDS)
    kind = given[0] if given else "line"
    least, most = POINTS[kind]
    if ways[kind] and not least <= len(ways[kind]) <= most:
        wanted = f"{least} points" if least == most else f"{least} points or more"
        complain(symbol.problems, fields.at(kind), f"{fields.what}, {kind}: expected {wanted}, as in '-6 -10 to 6 10'")
    key, usual = SIZES.get(kind, ("", 0.0))
    stroke = Stroke(
        kind,
        ways[kind],
        fields.number("thick", 0, THICKEST, USUAL),
        _word(fields, "filled", TONES, "none"),
        _word(fields, "colour", TONES, "ink"),
        fields.yes("dashed"),
        fields.number(key, 0, LARGEST, usual) if key else 0.0,
    )
    fields.done()
    return stroke


def _two(text: str) -> tuple[str, ...]:
    words = tuple(text.split(" or "))
    if len(words) != 2 or not all(map(str.strip, words)):
        raise ValueError(f"expected two words as in 'tight or leaked', found '{cut(text)}'")
    return tuple(map(str.strip, words))


def _word(fields: Fields, key: str, words: tuple[W, ...], usual: W) -> W:
    node = fields.get(key)
    found = as_choice(node, f"{fields.what}, {key}", fields.problems, words) if node is not None else usual
    return next((word for word in words if word == found), usual)


def _ways(text: str) -> tuple[Point, ...]:
    return tuple(_point(part) for part in re.split(r" +to +", text))


def _point(text: str) -> Point:
    if not re.fullmatch(POINT, text.strip()):
        raise ValueError(f"expected a point as in '-6 10', right and down at most 99.9 each, found '{cut(text)}'")
    right, down = map(float, text.split())
    return right, down


def _corners(text: str) -> tuple[Point, Point]:
    points = _ways(text)
    if len(points) != 2 or points[0][0] >= points[1][0] or points[0][1] >= points[1][1]:
        raise ValueError(f"expected two corners as in '-20 -14 to 20 14', left and upper first, found '{cut(text)}'")
    return points[0], points[1]


def _around(strokes: tuple[Stroke, ...]) -> tuple[Point, Point]:
    """The room that the shapes take, with a little to spare."""
    reached = [point for stroke in strokes for point in _reached(stroke)]
    if not reached:
        return PLAIN.room
    across, down = [x for x, _ in reached], [y for _, y in reached]
    return (min(across) - 1, min(down) - 1), (max(across) + 1, max(down) + 1)


def _reached(stroke: Stroke) -> tuple[Point, ...]:
    if stroke.kind != "circle" or len(stroke.points) != 2:
        return stroke.points
    (x, y), (right, down) = stroke.points
    far = ((right - x) ** 2 + (down - y) ** 2) ** 0.5
    return (x - far, y - far), (x + far, y + far)
