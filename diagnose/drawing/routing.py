"""How the lines run between the columns: out at the right, in at the left, round what stands between.

Lines from failure modes of a part that lead to the same causes are drawn as one trunk with branches: one by one they
would be as many as modes times causes. Modes that lead to others have a trunk of their own beside it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import combinations, permutations
from typing import NamedTuple

from diagnose.drawing.graph import Edge, Node
from diagnose.drawing.ink import Area, around
from diagnose.drawing.lettering import measured
from diagnose.drawing.node_text import COLUMNS, MAIN_SIZE, NODE_WIDTH
from diagnose.drawing.placing import FRAME_HEAD, FRAME_INSET, NARROWEST_GAP, TOP, Page
from diagnose.model.schematic import Point

# Length of the arrow head, which a curve leaves free.
HEAD = 9.0
ROUND = 9.0

LANE = 10.0
CLEAR = 5.0
# How far a line keeps from the edge of a frame or a wide box, which may be no farther apart than twice that.
EDGE = NARROWEST_GAP / 2
# Trunks beside each other: how far apart at most, and how much room all have.
TRUNK, TRUNKS = 14.0, 48.0
# Farther than any page reaches.
BEYOND = 1e6
# Share of a node's side over which its lines are spread.
SPREAD = 0.9
FACTOR_SIZE = 12.5
FACTOR_HEIGHT = 1.2
# Where a word may stand: shares of its line from the middle outward; on the line, or moved by shares of its own width
# and height, so that it still touches it: across or aslant where lines run steeply.
TRIED = (0.5, *(0.5 + side * step / 50 for step in range(2, 23) for side in (-1, 1)))
ACROSS, DOWN = (0, 0.55, -0.55, 0.25, -0.25, 0.12, -0.12, 0.7, -0.7), (0, -0.75, 0.75, -1.1, 1.1)
BESIDE = tuple((across, down) for across in ACROSS for down in DOWN)
Interval = tuple[float, float]


class Curve(NamedTuple):
    """Cubic curves joined end to end (3n + 1 points), and the tip of the head after the last point."""

    points: tuple[Point, ...]
    tip: Point


class Join(NamedTuple):
    """Lines from failure modes of one part to the causes that each of them brings; they meet at the point `key`."""

    key: str
    part: str
    edges: tuple[Edge, ...]

    def one_each(self) -> Iterator[Edge]:
        """One of the lines that end at each cause."""
        yield from {edge.end: edge for edge in self.edges}.values()

    def curves(self, x: float, boxes: Mapping[str, Area], tips: Mapping[Edge, Point]) -> dict[Edge, Curve]:
        """Lines level out of the failure modes to the middle of the trunk at `x`, and from there level into the causes.

        They meet half-way between the upper and the lower end; on the main road between its own two ends, so that it
        has no loose end.
        """
        ends = {edge.end: tips[edge] for edge in self.one_each()}
        main = [edge for edge in self.edges if edge.main]
        road = {end for edge in main for end in (edge.start, edge.end)}
        heights = [y for edge in main or self.edges for y in (boxes[edge.start].y, ends[edge.end][1])]
        middle = x, (min(heights) + max(heights)) / 2
        curves = {}
        for start in sorted({edge.start for edge in self.edges}):
            into = Edge(start, self.key, "leads", main=start in road)
            curves[into] = Curve(_turned((boxes[start].right, boxes[start].y), middle), middle)
        for edge in sorted(self.one_each()):
            tip, out = ends[edge.end], edge._replace(start=self.key, main=edge.end in road)
            curves[out] = Curve(_turned((tip[0] - HEAD, tip[1]), middle)[::-1], tip)
        return curves


def joins_of(nodes: Sequence[Node], edges: Sequence[Edge]) -> list[Join]:
    """The lines from failure modes to causes of each part that has several; modes with the same causes are joined."""
    modes = {node.key: node.part for node in nodes if node.column == "modes"}
    causes = {node.key: node.part for node in nodes if node.column == "causes"}
    held: dict[str, list[Edge]] = {}
    for edge in sorted(edges):
        if edge.manner == "leads" and edge.start in modes and modes[edge.start] == causes.get(edge.end):
            held.setdefault(modes[edge.start], []).append(edge)
    joins = []
    for name, rows in sorted(held.items()):
        groups: dict[tuple[str, ...], list[Edge]] = {}
        for edge in rows:
            ends = tuple(other.end for other in rows if other.start == edge.start)
            groups.setdefault(ends, []).append(edge)
        if len(rows) > 1:
            joins += [Join(f"join {name} {place}", name, tuple(own)) for place, own in enumerate(groups.values(), 1)]
    return joins


def _trunks(joins: Sequence[Join], boxes: Mapping[str, Area], tips: Mapping[Edge, Point]) -> dict[str, float]:
    """Where the trunk of each join stands: those of a part beside each other, in the order that crosses least."""

    def crossed(left: Join, right: Join) -> int:
        leaving, arriving = [tips[edge][1] for edge in left.one_each()], [boxes[edge.start].y for edge in right.edges]
        spans = [[y for edge in row.edges for y in (boxes[edge.start].y, boxes[edge.end].y)] for row in (left, right)]
        left_span, right_span = ((min(span) - CLEAR, max(span) + CLEAR) for span in spans)
        over = sum(left_span[0] < y < left_span[1] for y in set(arriving))
        return over + sum(right_span[0] < y < right_span[1] for y in leaving)

    found = {}
    for part in sorted({join.part for join in joins}):
        rows = [join for join in joins if join.part == part]
        orders = permutations(rows)
        best = min(orders, key=lambda order: sum(crossed(*pair) for pair in combinations(order, 2)))
        apart = min(TRUNK, TRUNKS / len(rows))
        for place, join in enumerate(best):
            found[join.key] = COLUMNS["wrong"] + (place - (len(rows) - 1) / 2) * apart
    return found


def _turned(start: Point, end: Point) -> tuple[Point, ...]:
    """Level from the start, then round a corner and upright to the end."""
    (x, y), (over, to) = start, end
    side = 1 if over > x else -1
    bend = min(ROUND, abs(to - y))
    down = 1 if to > y else -1
    before, after = (over - side * min(ROUND, abs(over - x)), y), (over, y + down * bend)
    corner = (over, y)
    return (start, start, before, before, corner, corner, after, after, end, end)


def route(edges: Sequence[Edge], page: Page, joins: Sequence[Join] = ()) -> dict[Edge, Curve]:
    """A curve for every edge that is not joined with others, and for each join those to and from its middle."""
    boxes = page.boxes
    joined = {edge for join in joins for edge in join.edges}
    arriving = [edge for join in joins for edge in join.one_each()]
    single = [edge for edge in edges if edge not in joined]
    starts = _ports(single, boxes, leaving=True)
    ends = _ports([*single, *arriving], boxes, leaving=False)
    lanes = _lanes(single, page)
    curves = {edge: _curve(starts[edge], ends[edge], lanes.get(edge)) for edge in single}
    trunks = _trunks(joins, boxes, ends)
    for join in joins:
        curves |= join.curves(trunks[join.key], boxes, ends)
    return curves


def _ports(edges: Sequence[Edge], boxes: Mapping[str, Area], *, leaving: bool) -> dict[Edge, Point]:
    """Where each edge touches its node: spread over the side, in the order of the other ends."""
    sides: dict[Point, list[Edge]] = {}
    for edge in edges:
        box = boxes[edge.start if leaving else edge.end]
        within = boxes[edge.start].x == boxes[edge.end].x
        sides.setdefault((box.right if leaving or within else box.left, box.y), []).append(edge)
    found = {}
    for (x, y), touching in sides.items():
        touching.sort(key=lambda edge: (boxes[edge.end if leaving else edge.start].y, edge))
        height = boxes[touching[0].start if leaving else touching[0].end].height
        for place, edge in enumerate(touching):
            share = (place + 1) / (len(touching) + 1) - 0.5
            found[edge] = (x, y + share * SPREAD * height)
    return found


def _lanes(edges: Sequence[Edge], page: Page) -> dict[Edge, float]:
    """For edges that pass a column: the height at which they do, beside each other where nothing stands."""
    boxes = page.boxes
    passing = [edge for edge in edges if boxes[edge.start].x < COLUMNS["modes"] < boxes[edge.end].left]
    passing.sort(key=lambda edge: (boxes[edge.end].y, boxes[edge.start].y, edge))
    middle = COLUMNS["modes"], COLUMNS["wrong"]
    standing = sorted((box for box in boxes.values() if box.x in middle), key=lambda box: box.y)
    wide = [box for box in standing if box.x == COLUMNS["wrong"]]
    blocked = [(box.top - CLEAR, box.bottom + CLEAR) for box in standing]
    for frame in page.frames.values():
        blocked += [(frame.top - EDGE, frame.top + FRAME_HEAD), (frame.bottom - EDGE, frame.bottom + EDGE)]
    lanes: dict[Edge, float] = {}
    for edge in passing:
        end = boxes[edge.end]
        wanted = (end.y + boxes[edge.start].y) / 2
        # A wide box and another part's frame reach as far as the end: the lane has to be on the end's side of them.
        walls = [*wide, *(frame for frame in page.frames.values() if not frame.top < end.y < frame.bottom)]
        # Above all of them lie the headings.
        above = max((box.bottom + EDGE for box in walls if box.y < end.y), default=TOP - LANE)
        below = min((box.top - EDGE for box in walls if box.y > end.y), default=BEYOND)
        room = [*blocked, (-2 * BEYOND, above), (below, 2 * BEYOND)]
        lanes[edge] = _free(wanted, room, lanes.values())
    return lanes


def _free(wanted: float, blocked: Sequence[Interval], lanes: Collection[float]) -> float:
    """The height nearest to the wanted one that is in none of the open intervals, as far from other lanes as can be."""
    for apart in (LANE, LANE / 2, LANE / 4, 0.0):
        taken = [*blocked, *((y - apart, y + apart) for y in lanes)]
        choices = [wanted, *(edge for interval in taken for edge in interval)]
        free = [y for y in choices if not any(low < y < high for low, high in taken)]
        if free:
            return min(free, key=lambda y: (abs(y - wanted), y))
    return wanted


def _curve(start: Point, end: Point, lane: float | None) -> Curve:
    before = (end[0] - HEAD, end[1])
    if start[0] >= end[0]:
        out = start[0] + 30
        after = (end[0] + HEAD, end[1])
        return Curve((start, (out, start[1]), (out, end[1]), after), end)
    if lane is None:
        return Curve((start, *_bend(start, before)), end)
    enter = (COLUMNS["modes"] - NODE_WIDTH / 2 - FRAME_INSET - 2, lane)
    leave = (COLUMNS["modes"] + NODE_WIDTH / 2 + 6, lane)
    return Curve((start, *_bend(start, enter), *_bend(enter, leave), *_bend(leave, before)), end)


def _bend(start: Point, end: Point) -> tuple[Point, Point, Point]:
    """The rest of a cubic curve that leaves and arrives level."""
    reach = (end[0] - start[0]) * 0.5
    return (start[0] + reach, start[1]), (end[0] - reach, end[1]), end


def factor_size(edge: Edge) -> float:
    """The size of the word on a line, in points."""
    return MAIN_SIZE if edge.main else FACTOR_SIZE


def factor_boxes(
    texts: Mapping[Edge, str], curves: Mapping[Edge, Curve], boxes: Mapping[str, Area]
) -> dict[Edge, Area]:
    """For each text a place on the first stretch of its curve, as clear of everything else as can be."""
    placed: dict[Edge, Area] = {}
    sampled = {edge: list(samples(curve)) for edge, curve in curves.items()}
    for edge in sorted(texts):
        size = factor_size(edge)
        width, height = measured(texts[edge], size) + 4, size * FACTOR_HEIGHT
        points = [_at(curves[edge].points, share) for share in TRIED]
        spots = [
            around(x + across * width, y + down * height, width, height) for across, down in BESIDE for x, y in points
        ]
        left, right = min(spot.left for spot in spots), max(spot.right for spot in spots)
        others = [p for other, row in sampled.items() if other != edge for p in row if left < p[0] < right]
        taken = [box for box in (*placed.values(), *boxes.values()) if left < box.right and box.left < right]
        placed[edge] = _clearest(spots, taken, others)
    return placed


def _clearest(spots: Sequence[Area], taken: Sequence[Area], points: Sequence[Point]) -> Area:
    best, least = spots[0], 10**6
    for spot in spots:
        left, top, right, bottom = spot
        crowding = 100 * sum(left < b.right and b.left < right and top < b.bottom and b.top < bottom for b in taken)
        crowding += sum(left < x < right and top < y < bottom for x, y in points)
        if crowding < least:
            best, least = spot, crowding
        if not least:
            break
    return best


def samples(curve: Curve) -> Iterator[Point]:
    """Points along a curve, close to each other."""
    for first in range(0, len(curve.points) - 1, 3):
        for step in range(25):
            yield _at(curve.points[first : first + 4], step / 24)


def _at(points: Sequence[Point], share: float) -> Point:
    """The point of a cubic curve at a share (0 to 1) of its parameter, by Bernstein's polynomials."""
    rest = 1 - share
    parts = (rest**3, 3 * rest**2 * share, 3 * rest * share**2, share**3)
    weighed = list(zip(parts, points, strict=False))
    return sum(part * x for part, (x, _) in weighed), sum(part * y for part, (_, y) in weighed)
