"""Where everything of the schematic stands: parts go along their line as close as their symbols and labels allow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from diagnose.drawing.schematic.symbols import Area, LabelRow, area_of, box_of, height_of, rows_of
from diagnose.model.schematic import PLAIN, FlowLine, Placed, Point, Symbol

GAP = 5.0
MARGIN = 6.0
LEAST_WIDTH = 390.0
# How far the plate behind a suspected part reaches beyond it, sideways and up and down.
PLATE = (4.0, 7.0)
LABEL_TOP = 28.0
LEAD, TAIL = 28.0, 24.0
ENDLESS = 1e4
# All below a joint stays free for the line that leaves or comes back.
BELOW = Area(-6, -7, 6, ENDLESS)

# Where a label begins: the place of its anchor (start, middle or end), and its top.
Label = tuple[float, float, str]


class PlacedPart(NamedTuple):
    """A part, or where a line starts, ends or is joined by another (no component, and `kind` says which), at its place.

    `boxes` is all the room it takes, the first of them that of its label if it has one; relative until it is placed.
    `leads_to` is where a tube leads, or which line is joined.
    """

    component: str
    kind: str
    rows: tuple[LabelRow, ...]
    x: float
    label: Label
    boxes: tuple[Area, ...]
    leads_to: str = ""
    symbol: Symbol = PLAIN

    def at(self, x: float, y: float) -> PlacedPart:
        """Moved by so much."""
        label = (self.label[0] + x, self.label[1] + y, self.label[2])
        return self._replace(x=self.x + x, label=label, boxes=tuple(box.moved(x, y) for box in self.boxes))


class LaidOutLine(NamedTuple):
    """One line laid out: the height of its pipe, what stands along it, and how far it reaches up and down.

    `hang` is how far below the line what hangs there begins.
    """

    y: float
    standing: tuple[PlacedPart, ...]
    top: float
    bottom: float
    hang: float

    def find(self, component: str) -> PlacedPart | None:
        """The part of this name."""
        return next((row for row in self.standing if row.component == component and component), None)

    @property
    def right(self) -> float:
        """How far the line reaches to the right."""
        return max(box.right for row in self.standing for box in row.boxes)

    def shifted(self, y: float) -> LaidOutLine:
        """The line lower by so much."""
        rows = tuple(row.at(0, y) for row in self.standing)
        return self._replace(y=self.y + y, standing=rows, top=self.top + y, bottom=self.bottom + y)

    def widened(self, width: float) -> LaidOutLine:
        """The line spread evenly to this width."""
        more = max(0.0, width - self.right) / (len(self.standing) - 1)
        return self._replace(standing=tuple(row.at(place * more, 0) for place, row in enumerate(self.standing)))


def laid_out(
    line: FlowLine, labels: Mapping[str, tuple[LabelRow, ...]], beside: Sequence[FlowLine] = ()
) -> LaidOutLine:
    """A line at height 0, packed to the left.

    `labels` are by component; `beside` are the lines that leave this one and return to it.
    """
    symbols = {row.component: row.symbol for row in line.placed}
    on_line = [labels[name] for name, row in symbols.items() if row.stands == "on the line" and not row.leads]
    hang = LABEL_TOP + max(map(height_of, on_line), default=0.0) + GAP + PLATE[1]
    tubes = {row.leads_to: labels[row.component] for row in line.placed if row.leads_to}
    entries = {name: row.tube for name, row in symbols.items()}
    rows = [_start(line.title or "flow", bool(line.under))]
    for placed in line.placed:
        rows += [_joint("return", BELOW, other.under) for other in beside if other.returns_before == placed.component]
        entry = entries.get(placed.leads_to) or placed.symbol.tube
        rows.append(_part(placed, labels[placed.component], hang, entry, tubes.get(placed.component, ())))
        rows += [_joint("leave", BELOW, other.under) for other in beside if other.leaves_after == placed.component]
    # A line beside the main one goes up to it where it ends.
    rows.append(_joint("end", Area(0, -ENDLESS, 12, 8) if line.under else Area(0, -8, TAIL, 8)))
    standing = packed(rows)
    boxes = [box for row in standing for box in row.boxes if max(-box.top, box.bottom) < ENDLESS]
    return LaidOutLine(0.0, standing, min(box.top for box in boxes), max(box.bottom for box in boxes), hang)


def packed(rows: Sequence[PlacedPart]) -> tuple[PlacedPart, ...]:
    """The rows from left to right, each as far left as its boxes can go without touching earlier ones."""
    done: list[PlacedPart] = []
    for row in rows:
        x = max((MARGIN - box.left for box in row.boxes), default=0.0)
        for box in row.boxes:
            beside = (
                other
                for one in done
                for other in one.boxes
                if other.top < box.bottom + GAP and box.top < other.bottom + GAP
            )
            x = max([x, *(other.right - box.left + GAP for other in beside)])
        done.append(row.at(x, 0))
    return tuple(done)


def _start(lead: str, beside: bool) -> PlacedPart:
    """Where a line begins; a line beside the main one comes down to it there."""
    rows, x, bottom = rows_of(lead), *((16.0, -46.0) if beside else (0.0, -12.0))
    label = (x, bottom - height_of(rows), "start")
    boxes = (box_of(rows, *label), Area(0, -ENDLESS if beside else -8, 12, 8), Area(0, -8, LEAD, 8))
    return PlacedPart("", "start", rows, 0.0, label, boxes)


def _joint(kind: str, box: Area, under: str = "") -> PlacedPart:
    """Where a line ends, or another one leaves it or comes back: it takes this room and has no label."""
    return PlacedPart("", kind, (), 0.0, (0.0, 0.0, "start"), (box,), under)


def _part(
    placed: Placed, rows: tuple[LabelRow, ...], hang: float, entry: Point | None, led: tuple[LabelRow, ...]
) -> PlacedPart:
    """A part; `entry` is where the tube that it is, or that leads to it, comes in, and `led` the label of that tube."""
    name, symbol = placed.component, placed.symbol
    if symbol.leads:
        tall = hang + (entry[1] if entry else 0.0) + 4
        return PlacedPart(name, "tube", (), 0.0, (0.0, 0.0, "end"), (Area(-5, -7, 5, tall),), placed.leads_to, symbol)
    room = area_of(symbol.room, 0.0, hang if symbol.stands == "below" else 0.0)
    body = [room.grown(*PLATE)]
    if symbol.stands == "below":  # its body, the label of the tube that leads to it, and its stem
        label: Label = (room.right + 6, hang, "start")
        tube = (box_of(led, *_led(symbol, hang), "end"),) if symbol.tube else ()
        body += [*tube, Area(-7, -7, 7, hang)]
    elif symbol.stands == "on top":
        label = (0.0, room.top - PLATE[1] - 1 - height_of(rows), "middle")
        body.append(Area(-7, -7, 7, 7))
    else:
        label = (0.0, LABEL_TOP, "middle")
    return PlacedPart(name, symbol.stands, rows, 0.0, label, (box_of(rows, *label), *body), "", symbol)


def _led(symbol: Symbol, hang: float) -> tuple[float, float]:
    """Where the label of the tube that leads to a symbol below the line ends and begins, from its point on the line."""
    right, down = symbol.tube or (0.0, 0.0)
    return right - PLATE[0] - 4, hang + down + 12


def with_tube_labels(run: LaidOutLine, labels: Mapping[str, tuple[LabelRow, ...]]) -> LaidOutLine:
    """The line with the label of each tube below its level stretch, beside what it leads to."""
    standing = list(run.standing)
    for place, tube in enumerate(standing):
        if tube.kind == "tube":
            target, rows = run.find(tube.leads_to) or tube, labels[tube.component]
            x, top = _led(target.symbol, run.hang)
            label = (target.x + x, run.y + top, "end")
            standing[place] = tube._replace(rows=rows, label=label, boxes=(box_of(rows, *label), *tube.boxes))
    return run._replace(standing=tuple(standing))


def tube_end(run: LaidOutLine, tube: PlacedPart) -> Point:
    """Where a tube comes in at what it leads to."""
    target = run.find(tube.leads_to) or tube
    right, down = target.symbol.tube or (0.0, 0.0)
    return target.x + right, run.y + run.hang + down
