"""The look of drawings, of which looks.yaml has the tables.

Colors: the eight that Okabe and Ito (2008), "Color Universal Design", https://jfly.uni-koeln.de/color/, published as
distinguishable with every common kind of color vision. Fills are the same hues mixed with white, so that black text
stands out on them and a black and white print loses nothing but the tint.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from diagnose.drawing.graph import MOST_DECIBANS, Edge, Kind, Manner
from diagnose.knowledge.yamltext import data_of, read_file

BLACK = "#000000"
ORANGE = "#E69F00"
SKY_BLUE = "#56B4E9"
BLUISH_GREEN = "#009E73"
BLUE = "#0072B2"
VERMILLION = "#D55E00"
REDDISH_PURPLE = "#CC79A7"

THINNEST, THICKEST = 1.2, 7.0
THINNEST_STEP, THICKEST_STEP = 1.1, 3.4
# Widths on the main road and beside it; a cause has two outlines, which must not run into each other.
MAIN_LINE, PALE_LINE = 4.0, 1.1
MAIN_FRAME, MAIN_TWICE = 3.4, 2.4
# How much of its color what lies beside the main road keeps.
PALE = 0.55
LEAST_LABELLED = 1.0


def tint(color: str, share: float = 0.18) -> str:
    """The color mixed with white; `share` is how much of the color stays, 0 to 1."""
    parts = (int(color[place : place + 2], 16) for place in (1, 3, 5))
    return "#" + "".join(f"{round(255 - (255 - part) * share):02X}" for part in parts)


LOOKS: dict[str, Any] = data_of(read_file(Path(__file__).with_name("looks.yaml")))
SHAPES: dict[Kind, dict[str, str]] = LOOKS["shapes"]
LINES: dict[Manner, dict[str, str]] = LOOKS["lines"]
OTHERS: dict[str, dict[str, str]] = LOOKS["others"]
# A second outline is drawn outside the size that a node is given; so much in all, in points.
OUTLINE = 8.0
HEADING_REACH = 98.0


def box(kind: Kind, *, main: bool, road: bool) -> dict[str, str]:
    """How a node is drawn, heavy on the main road, paler beside it; what is not known yet is neither."""
    drawn = SHAPES[kind]
    if main:
        return drawn | {"penwidth": f"{MAIN_TWICE if 'peripheries' in drawn else MAIN_FRAME:g}"}
    if road and kind not in {"question", "open finding"}:
        return drawn | {"penwidth": f"{PALE_LINE:g}", "color": tint(drawn["color"], PALE)}
    return drawn


def line(edge: Edge, *, road: bool = False) -> dict[str, str]:
    """How an edge is drawn, by how much it counts; of a picture with a main road, by whether it is on it."""
    drawn = LINES[edge.manner]
    if edge.main:
        return drawn | {"penwidth": f"{MAIN_LINE:g}", "arrowhead": "normal", "arrowsize": "0.7"}
    if road and edge.manner != "open":
        return drawn | {"penwidth": f"{PALE_LINE:g}", "color": tint(drawn["color"], PALE), "arrowsize": "0.8"}
    if edge.manner == "leads" and edge.share:
        wide = THINNEST_STEP + (THICKEST_STEP - THINNEST_STEP) * edge.share
        return drawn | {"penwidth": f"{wide:.1f}", "arrowsize": f"{0.7 + 0.1 * wide:.1f}"}
    if edge.manner in {"for", "against"}:
        size = 0.9 if edge.counts() < 10 else 0.6
        wide = THINNEST + (THICKEST - THINNEST) * edge.counts() / MOST_DECIBANS
        return drawn | {"penwidth": f"{wide:.1f}", "arrowsize": f"{size:g}"}
    return drawn
