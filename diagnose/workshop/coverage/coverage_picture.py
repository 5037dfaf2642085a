"""What the cases exercise, as a picture: a row a file, a column a kind, a square for each side of each thing written.

A filled square is exercised; an empty one with a heavy outline is not. Squares of one thing touch each other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from diagnose.diagnosis.wording import clean
from diagnose.drawing import styles
from diagnose.drawing.canvas import Canvas, PlacedBox
from diagnose.drawing.ink import Area, around
from diagnose.workshop.coverage.counting import KINDS, Coverage, CoverageItem, CoveredItems

SQUARE, GAP, TEXT_HEIGHT = 7.0, 3.0, 14.4
MARGIN, NAMES, SHARE = 24.0, 190.0, 52.0
TITLE, HEAD = 54.0, 46.0
BETWEEN_COLUMNS, BETWEEN_ROWS = 22.0, 14.0
LINE = SQUARE + GAP
# Squares side by side before a column starts a new line.
WIDE = {"rule": 22, "premise": 30, "answer": 20, "limit": 12, "grade": 22, "cause": 10, "repair": 10}
MOST_NAME = 34

Placed = tuple[float, float, int, CoverageItem]


def coverage_picture(coverage: Coverage, root: str = "") -> Canvas:
    """The picture; file names are shown below the folder `root`."""
    rows = [{kind: _block(file, kind) for kind in KINDS} for file in coverage.files]
    heights = [max(LINE * lines for _, lines in blocks.values()) for blocks in rows]
    height = TITLE + HEAD + sum(heights) + BETWEEN_ROWS * len(rows) + MARGIN
    sheet = _CoverageSheet(coverage, height)
    sheet.heading(coverage)
    top = TITLE + HEAD
    for file, blocks, tall in zip(coverage.files, rows, heights, strict=True):
        sheet.row(file, blocks, top, root)
        top += tall + BETWEEN_ROWS
    return sheet


Block = tuple[tuple[Placed, ...], int]


def _block(file: CoveredItems, kind: str) -> Block:
    """Every square of one kind with its place in the block, and how many lines the block has."""
    placed: list[Placed] = []
    x, line = 0.0, 0
    for item in (item for item in file.items if item.kind == kind):
        length = SQUARE * len(item.sides)
        if x and x + length > WIDE[kind] * SQUARE:
            x, line = 0.0, line + 1
        placed += [(x + SQUARE * place, line * LINE, place, item) for place in range(len(item.sides))]
        x += length + GAP
    return tuple(placed), line + 1


def _columns() -> Iterator[tuple[str, float]]:
    """Every kind with the left edge of its column."""
    x = MARGIN + NAMES + SHARE + BETWEEN_COLUMNS
    for kind in KINDS:
        yield kind, x
        x += WIDE[kind] * SQUARE + BETWEEN_COLUMNS


PAGE_WIDTH = max(x + WIDE[kind] * SQUARE for kind, x in _columns()) + MARGIN


class _CoverageSheet(Canvas):
    """The drawing under way."""

    def __init__(self, coverage: Coverage, height: float) -> None:
        node = {"fixedsize": "true", "margin": "0"}
        whole = coverage.whole
        title = f"What {coverage.cases} cases exercise: {whole.met} of {whole.sides} sides of what is written"
        super().__init__("coverage", (PAGE_WIDTH, height), node, title)
        self.drawn = 0

    def heading(self, coverage: Coverage) -> None:
        """Title, key and the head of each column."""
        self._text(self.title, MARGIN, 24, 16, PAGE_WIDTH - 2 * MARGIN)
        key = (
            "filled: some case exercises it",
            "empty, heavy outline: none does",
            "from left: true, false; below, at, above",
        )
        self._text("     ".join(key), MARGIN, 46, 10, PAGE_WIDTH - 2 * MARGIN)
        totals = coverage.by_kind()
        for kind, x in _columns():
            self._text(f"{kind}s", x, TITLE + 16, 11, WIDE[kind] * SQUARE + BETWEEN_COLUMNS)
            part = totals[kind]
            self._text(f"{part.met} of {part.sides}", x, TITLE + 30, 9, WIDE[kind] * SQUARE + BETWEEN_COLUMNS)

    def row(self, file: CoveredItems, blocks: dict[str, Block], top: float, root: str) -> None:
        """A file: its name, its share, its squares."""
        self._text(_short(file.name, root), MARGIN, top + SQUARE / 2, 10, NAMES)
        self._text(f"{file.share * 100:.0f} %", MARGIN + NAMES, top + SQUARE / 2, 10, SHARE)
        for kind, left in _columns():
            for x, y, place, item in blocks[kind][0]:
                self._square(left + x, top + y, place, item)

    def _square(self, x: float, y: float, place: int, item: CoverageItem) -> None:
        side, cases = item.sides[place]
        fill = styles.BLUE if cases else "#FFFFFF"
        outline = (
            {"color": styles.BLUE, "penwidth": "0.5"} if cases else {"color": styles.VERMILLION, "penwidth": "1.8"}
        )
        told = f"{item.place}: {item.name}: {side}: {cases} {'case' if cases == 1 else 'cases'}"
        square = around(x + SQUARE / 2, y + SQUARE / 2, SQUARE - 1.0, SQUARE - 1.0)
        self._next(square, {"shape": "box", "style": "filled", "fillcolor": fill} | outline, told=told)

    def _text(self, text: str, x: float, y: float, size: float, width: float) -> None:
        """Text that starts at x, its middle at y."""
        box = around(x + width / 2, y, width, TEXT_HEIGHT)
        self._next(box, {"shape": "plaintext", "fontsize": f"{size:g}"}, [text], told="")

    def _next(self, box: Area, look: dict[str, str], rows: Sequence[str] = (), *, told: str) -> None:
        self.drawn += 1
        self.put(PlacedBox(f"n{self.drawn}", box, look, rows, left=True, told=told))


def _short(file: str, root: str) -> str:
    path = Path(file)
    shown = clean(path.relative_to(root).as_posix() if root and path.is_relative_to(root) else file)
    return shown if len(shown) <= MOST_NAME else f"…{shown[1 - MOST_NAME :]}"
