"""What stands in each node of a picture, in plain words, and how wide and tall a box it needs. Points."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found, Weight
from diagnose.diagnosis.verdicts import Verdict
from diagnose.diagnosis.wording import clean, first_sentence, percent, value_text
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS, is_sound
from diagnose.drawing.graph import Column, Kind, Node, strength_of
from diagnose.drawing.ink import Area, around
from diagnose.drawing.lettering import BOLD, measured, wrapped
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.work import Observation
from diagnose.plan.order import Order
from diagnose.plan.repairs import Option

PAGE_WIDTH = 1280.0
MARGIN = 18.0
# Shares of the height of a page: 2.4 % on the main road, which the back row of a class reads, 1.7 % at the least.
MAIN_SIZE, FONT_SIZE, SMALL_SIZE = 17.5, 14.0, 12.5
LINE_HEIGHT = 1.16
PADDING = 13.0
# Height that the drawing of a shape takes from its text: a folder's flap, an arrow's shoulders, a second outline.
EXTRA: dict[Kind, float] = {"fold": 6.0, "repair": 16.0, "cause": 6.0}
INSET = 9.0
NODE_WIDTH = 196.0
COLUMNS: dict[Column, float] = {
    "seen": 116.0,
    "means": 358.0,
    "modes": 652.0,
    "causes": 912.0,
    "wrong": 782.0,
    "do": 1164.0,
    "below": PAGE_WIDTH / 2,
}
WIDE = COLUMNS["causes"] - COLUMNS["modes"] + NODE_WIDTH
WIDTHS: dict[Column, float] = {"wrong": WIDE, "below": PAGE_WIDTH - 2 * MARGIN}
BAR_LEAST = 40.0
# What the bar at the right end of a wide box takes, text and all; with an earlier probability beside it.
WIDE_BAR, WIDE_BAR_BEFORE = 150.0, 236.0
LONGEST_LIST = 96
LONGEST_WIDE_LIST = 90
LONGEST_TITLE = 90
# Letters that one line of the head holds.
LONGEST_NOTE = 140
MOST_AGAINST = 2


def font_size(node: Node) -> float:
    """The size of a node's text, in points."""
    usual = MAIN_SIZE if node.main else SMALL_SIZE if node.kind == "fold" else FONT_SIZE
    return usual * node.grown


def bar_box(node: Node, box: Area) -> Area:
    """Where the bar of a node's probability stands: in its last line, or at the right end of a wide box."""
    size = font_size(node)
    text = measured(standing(node), size) * BOLD + 8
    if node.column == "wrong":
        left, right = box.right - INSET - _bar_room(node), box.right - INSET - text
        return around((left + right) / 2, box.y, right - left, size * 0.7)
    width = max(BAR_LEAST, NODE_WIDTH - 4 * INSET - text)
    left = box.x - (width + text) / 2
    bottom = box.bottom - (PADDING + EXTRA.get(node.kind, 0.0)) / 2
    return around(left + width / 2, bottom - size * LINE_HEIGHT / 2, width, size * 0.7)


def node_lines(node: Node) -> tuple[str, ...]:
    """The lines of a node; where a bar stands below them, a last empty one."""
    size = font_size(node)
    if node.column in WIDTHS:
        room = WIDTHS[node.column] - 4 * INSET - _bar_room(node)
        return wrapped(" ".join(node.paragraphs), room, size)
    # The pointed end and the tabs of some shapes take room from the text.
    room = NODE_WIDTH - 2 * INSET - (14 if node.kind in {"repair", "mode"} else 0)
    lines = [line for paragraph in node.paragraphs for line in wrapped(paragraph, room, size)]
    return (*lines, " ") if node.probability is not None else tuple(lines)


def _bar_room(node: Node) -> float:
    if node.probability is None:
        return 0.0
    return (WIDE_BAR if node.before is None else WIDE_BAR_BEFORE) * node.grown


def node_height(node: Node, lines: Sequence[str]) -> float:
    """How tall a node is with these lines."""
    return len(lines) * font_size(node) * LINE_HEIGHT + PADDING + EXTRA.get(node.kind, 0.0)


def short(text: str, most: int) -> str:
    """Text on one line, made harmless, cut at a word where it is longer than `most` characters."""
    line = " ".join(clean(text[: 4 * most]).split())
    if len(line) <= most:
        return line
    return line[:most].rsplit(" ", 1)[0].rstrip(" ,;:") + " …"


def standing(node: Node) -> str:
    """What stands beside the bar of a node: its probability, and where there was another one before, that too."""
    now = percent(node.probability or 0.0)
    return now if node.before is None else f"{percent(node.before)} to {now}"


def answer_text(row: Observation, result: Diagnosis, unit: str) -> str:
    """An observation with what was answered; pressures in `unit`."""
    return f"{row.title}: {value_text(row, result.chaining.kept(row.name), unit)}"


def verdict_text(row: Verdict, unit: str) -> str:
    """How a reading stands to its limit, in capitals where it fails; empty where there is nothing to compare."""
    if row.limit is None or row.outcome not in {"pass", "fail"}:
        return ""
    said = "FAILS" if row.outcome == "fail" else "passes"
    close = ", close call" if row.near else ""
    return f"{said}: {row.limit.relation} {show_pressure(row.limit.amount, unit)}{close}"


def in_short(row: Found) -> str:
    """The first sentence of what a finding says, which is true whatever its title asks; without the full stop."""
    return first_sentence(row.says)


def folded(noun: str, titles: Sequence[str], others: bool, says: str = "", most: int = LONGEST_LIST) -> str:
    """What a fold holds: how many, what is said of them, and their titles; `others`: some are drawn as well."""
    count = f"{len(titles)} {'more ' if others else ''}{noun}{'s' if len(titles) != 1 else ''}"
    return f"{count}{says}: {listed(titles, most)}"


def repair_text(place: int, option: Option, order: Order) -> tuple[str, str, str]:
    """A repair with its place, its chance, and its minutes: by itself, and in its place with the retest, if it has one.

    What is open by then is not opened again: only those in its place are told where they are no more.
    """
    alone = f"{option.minutes:.0f}"
    taken = next((step for step in order.steps if step.attempt.name == option.repair.name), None)
    retested = f"{taken.minutes - taken.attempt.parts_minutes:.0f}" if taken else ""
    minutes = f"{alone} min"
    if taken and not taken.retest:
        minutes = f"{retested} min, tested with the next"
    elif retested:
        both = float(alone) < float(retested)
        minutes = f"{alone} min; {retested} with retest" if both else f"{retested} min with retest"
    return f"{place}. {option.repair.title}", f"chance of cure: {percent(option.chance)}", minutes


def first_note(result: Diagnosis, most: int = 2 * LONGEST_NOTE) -> str:
    """Where a conclusion is no evidence for a cause but has to be known, what it says; else "".

    What has more than so many letters is told by its last sentence: what to do.
    """
    said = next((row.says.rstrip(".") for row in result.found if row.is_note), "")
    told = said if len(said) <= most else said.rsplit(". ", 1)[-1]
    return f"Note: {told}." if said else ""


def speaks_against(result: Diagnosis) -> str:
    """What speaks against the leading answer, in one sentence; empty while nothing is known."""
    if not result.found or not result.parts:
        return ""
    if is_sound(result):
        return against_sentence("that nothing is wrong in it", result.nothing_weights)
    return against_sentence(result.parts[0].called, result.parts[0].weights)


def against_sentence(subject: str, weights: Sequence[Weight]) -> str:
    """The findings that speak most against a subject, each with how much it counts."""
    rows = sorted((row for row in weights if row.decibans <= -LEAST_DECIBANS), key=lambda row: (row.decibans, row.says))
    if not rows:
        return f"Against {subject}: nothing that was seen."
    said = "; ".join(f"{row.says.rstrip('.')} ({strength_of(row.decibans)} evidence)" for row in rows[:MOST_AGAINST])
    more = f"; and {len(rows) - MOST_AGAINST} more" if len(rows) > MOST_AGAINST else ""
    return f"Against {subject}: {said}{more}."


def listed(titles: Sequence[str], most: int = LONGEST_LIST) -> str:
    """As many of the titles as fit into so many characters, and how many do not."""
    kept: list[str] = []
    for title in titles:
        if kept and len("; ".join([*kept, title])) > most:
            rest = len(titles) - len(kept)
            return f"{'; '.join(kept)}; and {rest} other{'s' if rest > 1 else ''}"
        kept.append(title)
    return "; ".join(kept)
