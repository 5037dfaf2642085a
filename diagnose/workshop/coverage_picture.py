"""What the cases exercise, as a picture: a row a file, a column a kind, a square for each side of each thing written.

A filled square is exercised; an empty one with a heavy outline is not. Squares of one thing touch each other.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from diagnose.diagnosis.wording import clean, plural
from diagnose.drawing import styles
from diagnose.drawing.canvas import Canvas, PlacedBox
from diagnose.drawing.ink import Area
from diagnose.workshop.coverage import KINDS, Coverage, CoverageItem, CoveredItems

SQUARE, GAP = 7.0, 3.0
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
    whole = coverage.whole
    title = f"What {coverage.cases} cases exercise: {whole.met} of {whole.sides} sides of what is written"
    sheet = Canvas("coverage", (PAGE_WIDTH, height), {"fixedsize": "true", "margin": "0"}, title)
    _heading(sheet, coverage)
    top = TITLE + HEAD
    for file, blocks, tall in zip(coverage.files, rows, heights, strict=True):
        _row(sheet, file, blocks, top, root)
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


def _heading(sheet: Canvas, coverage: Coverage) -> None:
    """Title, key and the head of each column."""
    sheet.write("title", (MARGIN, 24), 16, sheet.title)
    key = (
        "filled: some case exercises it",
        "empty, heavy outline: none does",
        "from left: true, false; below, at, above",
    )
    sheet.write("key", (MARGIN, 46), 10, "     ".join(key))
    totals = coverage.by_kind()
    for kind, x in _columns():
        sheet.write(kind, (x, TITLE + 16), 11, f"{kind}s")
        sheet.write(f"{kind} total", (x, TITLE + 30), 9, f"{totals[kind].met} of {totals[kind].sides}")


def _row(sheet: Canvas, file: CoveredItems, blocks: dict[str, Block], top: float, root: str) -> None:
    """A file: its name, its share, its squares."""
    sheet.write(file.name, (MARGIN, top + SQUARE / 2), 10, _short(file.name, root))
    sheet.write(f"{file.name} share", (MARGIN + NAMES, top + SQUARE / 2), 10, f"{file.share * 100:.0f} %")
    for kind, left in _columns():
        for x, y, place, item in blocks[kind][0]:
            sheet.put(_square(left + x, top + y, place, item))


def _square(x: float, y: float, place: int, item: CoverageItem) -> PlacedBox:
    side, cases = item.sides[place]
    told = f"{item.place}: {item.name}: {side}: {plural(cases, 'case')}"
    look = styles.LOOKS["coverage"]["some case" if cases else "no case"]
    return PlacedBox(f"square {x:g} {y:g}", Area(x, y, x + SQUARE - 1, y + SQUARE - 1), look, told=told)


def _short(file: str, root: str) -> str:
    path = Path(file)
    shown = clean(path.relative_to(root).as_posix() if root and path.is_relative_to(root) else file)
    return shown if len(shown) <= MOST_NAME else f"…{shown[1 - MOST_NAME :]}"
