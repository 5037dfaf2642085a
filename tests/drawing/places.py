"""What must be so of the places on any map: nothing overlaps, nothing lies on another line, all is on the page."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from diagnose.drawing.ink import Area
from diagnose.drawing.maps.elements import Map
from diagnose.drawing.maps.placed_map import PlacedMap, placed

Sides = tuple[float, float, float, float]


def sides(rect: Area) -> Sides:
    """Left, top, right, bottom."""
    half, tall = rect.width / 2, rect.height / 2
    return rect.x - half, rect.y - tall, rect.x + half, rect.y + tall


def crossing(rects: Iterable[tuple[str, Area]]) -> list[tuple[str, str]]:
    """Pairs of names whose rectangles share more than an edge."""
    rows = sorted((sides(rect), name) for name, rect in rects)
    found = []
    for place, ((_, top, right, bottom), name) in enumerate(rows):
        for (left, other_top, _, other_bottom), other in rows[place + 1 :]:
            if left >= right - 0.01:
                break
            if top < other_bottom - 0.01 and other_top < bottom - 0.01:
                found.append((name, other))
    return found


def assert_readable(drawn: Map) -> PlacedMap:
    """Every box in its frame, no two on each other, no two lines on each other, all on the page."""
    at = placed(drawn)
    assert len({item.key for item in drawn.items}) == len(drawn.items)
    assert crossing(at.boxes.items()) == []
    assert crossing(at.frames.items()) == []
    assert crossing([*at.boxes.items(), *at.texts.items()]) == []
    for item in drawn.items:
        inner, outer = sides(at.boxes[item.key]), sides(at.frames[item.frame])
        assert outer[0] <= inner[0]
        assert outer[1] < inner[1]
        assert inner[2] <= outer[2]
        assert inner[3] < outer[3] + 0.01
    for rect in (*at.boxes.values(), *at.frames.values(), *at.texts.values()):
        left, top, right, bottom = sides(rect)
        assert min(left, top) >= 0
        assert right <= at.width
        assert bottom <= at.height
    assert_lines_apart(at)
    assert words_on_lines(at) == []
    return at


def words_on_lines(at: PlacedMap) -> list[tuple[str, str]]:
    """Words that a line runs through, their own among them, and words on words."""
    lines = [
        (
            f"line of {row.tap.key}",
            Area(min(row.start[0], row.end[0]), row.start[1], max(row.start[0], row.end[0]), row.start[1]),
        )
        for row in at.lines.joints
    ]
    lines += [(f"upright of {net.key}", Area(x, top, x, bottom)) for net, x, top, bottom in at.lines.uprights]
    words = {name: rect.grown(-0.1, 0.5) for name, rect in at.texts.items()}
    return [
        (name, line)
        for name, word in words.items()
        for line, way in lines
        if word.left < way.right
        and way.left < word.right
        and word.top < way.bottom + 0.01
        and way.top - 0.01 < word.bottom
    ] + crossing(at.texts.items())


def assert_lines_apart(at: PlacedMap) -> None:
    """Two level lines on each other belong to one box; two uprights on each other do not meet."""
    level: dict[tuple[int, float], list[tuple[float, float, str]]] = {}
    for joint in at.lines.joints:
        (start, y), (end, other) = joint.start, joint.end
        assert y == other
        row = (min(start, end), max(start, end), joint.tap.key)
        level.setdefault((joint.net.gap, round(y, 1)), []).append(row)
    for rows in level.values():
        for (_, end, name), (start, _, other_name) in pairwise(sorted(rows)):
            assert name == other_name or end <= start
    upright: dict[float, list[tuple[float, float]]] = {}
    for _, x, top, bottom in at.lines.uprights:
        upright.setdefault(round(x, 1), []).append((top, bottom))
    for spans in upright.values():
        assert all(one[1] < other[0] for one, other in pairwise(sorted(spans)))
