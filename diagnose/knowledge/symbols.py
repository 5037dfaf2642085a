"""Reading `symbol` and `record` in parts/<kind>.yaml: how a part is drawn, and what the record of a test asks of it."""

from __future__ import annotations

from diagnose.knowledge.fields import Fields
from diagnose.knowledge.shapes import is_name
from diagnose.knowledge.yamltext import Scalar
from diagnose.model.schematic import PLAIN, Point, Stand, Stroke, StrokeKind, Symbol
from diagnose.model.work import Recorded

# How many points a shape has, at least and at most.
POINTS: dict[StrokeKind, tuple[int, int]] = {
    "line": (2, 99),
    "area": (3, 99),
    "box": (2, 2),
    "circle": (2, 2),
    "spring": (2, 2),
    "curve": (3, 3),
}
# The size that some kinds have besides their points, and what it is unless given.
SIZES = {"box": ("round", 0.0), "spring": ("wide", 6.0)}
USUAL = 1.6

# What a file of an earlier version says with a name alone; so that versions can be compared, it is still read.
NAMED = PLAIN._replace(tube=PLAIN.room[0])


def read_symbol(file: Fields) -> Symbol:
    """How a kind of part is drawn; a plain box where the file does not say."""
    node = file.get("symbol")
    if isinstance(node, Scalar) and node.text and is_name(node.text):
        return NAMED
    fields = file.inner("symbol")
    if fields is None:
        return PLAIN
    strokes = tuple(map(_stroke, fields.listed("shapes")))
    room = fields["room"] or _around(strokes)
    stands: Stand = fields["stands"] or "on the line"
    return Symbol(
        strokes,
        room,
        fields["shaded"] or room,
        stands,
        fields["pipe to"] or (0.0, 0.0),
        fields["tube to"],
        fields["leads"] == "yes",
    )


def read_record(file: Fields) -> Recorded:
    """What the record of a test asks of a kind of part; nothing where the file does not say."""
    fields = file.inner("record")
    return Recorded() if fields is None else Recorded(fields["tick"], fields["confirm"], fields["in one line"])


def _stroke(fields: Fields) -> Stroke:
    kind: StrokeKind = next((kind for kind in POINTS if fields.has(kind)), "line")
    least, most = POINTS[kind]
    if fields[kind] and not least <= len(fields[kind]) <= most:
        wanted = f"{least} points" if least == most else f"{least} points or more"
        fields.miss(f"expected {wanted}, as in '-6 -10 to 6 10'", kind)
    key, usual = SIZES.get(kind, ("", 0.0))
    return Stroke(
        kind,
        fields[kind],
        fields["thick"] if fields.has("thick") else USUAL,
        fields["filled"] or "none",
        fields["colour"] or "ink",
        fields["dashed"],
        fields[key] if key and fields.has(key) else usual,
    )


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
