"""The look: shapes tell the kind, line styles tell for, against and unknown; colors only help.

Colors: the eight that Okabe and Ito (2008), "Color Universal Design", https://jfly.uni-koeln.de/color/, published as
distinguishable with every common kind of color vision. Fills are the same hues mixed with white, so that black text
stands out on them and a black and white print loses nothing but the tint.
"""

from __future__ import annotations

from diagnose.drawing.graph import MOST_DECIBANS, Column, Edge, Kind, Manner

BLACK = "#000000"
ORANGE = "#E69F00"
SKY_BLUE = "#56B4E9"
BLUISH_GREEN = "#009E73"
BLUE = "#0072B2"
VERMILLION = "#D55E00"
REDDISH_PURPLE = "#CC79A7"

# Metrics and a drawn face come with the renderer; SVG viewers without it take what they have for sans-serif.
FONT = "Helvetica"
THINNEST, THICKEST = 1.2, 7.0
THINNEST_STEP, THICKEST_STEP = 1.1, 3.4
LEAST_LABELLED = 1.0


def tint(color: str, share: float = 0.18) -> str:
    """The color mixed with white; `share` is how much of the color stays, 0 to 1."""
    parts = (int(color[place : place + 2], 16) for place in (1, 3, 5))
    return "#" + "".join(f"{round(255 - (255 - part) * share):02X}" for part in parts)


SHAPES: dict[Kind, dict[str, str]] = {
    "observation": {"shape": "note", "color": BLACK, "fillcolor": "#FFFFFF"},
    "question": {"shape": "note", "color": BLACK, "fillcolor": "#FFFFFF", "style": "filled,dotted", "penwidth": "1.8"},
    "finding": {"shape": "box", "style": "filled,rounded", "color": BLUE, "fillcolor": tint(SKY_BLUE)},
    "open finding": {
        "shape": "box",
        "style": "filled,rounded,dotted",
        "color": BLACK,
        "fillcolor": "#FFFFFF",
        "penwidth": "1.8",
    },
    "mode": {"shape": "component", "color": VERMILLION, "fillcolor": tint(ORANGE)},
    "cause": {"shape": "box", "peripheries": "2", "color": VERMILLION, "fillcolor": tint(VERMILLION)},
    "condition": {"shape": "box3d", "color": REDDISH_PURPLE, "fillcolor": tint(REDDISH_PURPLE)},
    "nothing": {"shape": "box", "style": "filled,diagonals", "color": BLACK, "fillcolor": "#FFFFFF"},
    "repair": {"shape": "cds", "color": BLUISH_GREEN, "fillcolor": tint(BLUISH_GREEN)},
    "fold": {"shape": "folder", "color": "#555555", "fillcolor": "#F2F2F2"},
}

# A second outline is drawn outside the size that a node is given; so much in all, in points.
OUTLINE = 8.0

# First and last column of each band.
BANDS: tuple[tuple[str, Column, Column], ...] = (
    ("seen", "seen", "seen"),
    ("means", "means", "means"),
    ("wrong", "modes", "causes"),
    ("do", "do", "do"),
)
HEADING_REACH = 98.0
# A part of the assembly, behind its failure modes and causes.
FRAME = {"shape": "box", "style": "rounded", "color": "#8C8C8C", "penwidth": "1.2"}
BAR = {"shape": "box", "style": "filled", "color": "#333333", "fillcolor": "#FFFFFF", "penwidth": "0.8"}
BAR_FILLED = BAR | {"fillcolor": "#333333"}
BAR_BEFORE = BAR | {"fillcolor": "#B0B0B0"}
STRONG = {"fontname": "Helvetica-Bold"}
HEADING = {"shape": "cds", "color": BLACK, "fillcolor": "#E8E8E8", "fontsize": "16"}
TEXT = {"shape": "plaintext", "style": "", "margin": "0"}
FACTOR = {"shape": "plaintext", "fillcolor": "#FFFFFF", "fontsize": "12"}
INVISIBLE = {"shape": "point", "style": "invis"}
# A frame in the color of the paper keeps the page its full size.
SHEET = {"shape": "box", "style": "", "color": "#FFFFFF"}

LEGEND: tuple[tuple[Manner, str], ...] = (
    ("leads", "step of the reasoning (wider: likelier)"),
    ("for", "speaks for (wider: counts more)"),
    ("against", "speaks against"),
    ("open", "not known yet"),
)
# The shapes that the headings of the bands do not explain.
LEGEND_SHAPES: tuple[tuple[Kind, str], ...] = (
    ("mode", "how a part fails"),
    ("cause", "why"),
    ("condition", "outside the assembly"),
    ("fold", "folded together"),
)

LINES: dict[Manner, dict[str, str]] = {
    "leads": {"color": "#555555", "penwidth": "1.2", "arrowhead": "vee", "arrowsize": "0.7"},
    "for": {"color": BLUE, "arrowhead": "normal"},
    "against": {"color": VERMILLION, "style": "dashed", "arrowhead": "tee"},
    "open": {"color": BLACK, "style": "dotted", "penwidth": "1.8", "arrowhead": "odot", "arrowsize": "0.8"},
}


def line(edge: Edge, decibans: float) -> dict[str, str]:
    """How an edge is drawn that counts for so many decibans."""
    drawn = LINES[edge.manner]
    if edge.manner == "leads" and edge.share:
        wide = THINNEST_STEP + (THICKEST_STEP - THINNEST_STEP) * edge.share
        return drawn | {"penwidth": f"{wide:.1f}", "arrowsize": f"{0.7 + 0.1 * wide:.1f}"}
    if edge.manner in {"for", "against"}:
        size = 0.9 if abs(decibans) < 10 else 0.6
        wide = THINNEST + (THICKEST - THINNEST) * min(abs(decibans), MOST_DECIBANS) / MOST_DECIBANS
        return drawn | {"penwidth": f"{wide:.1f}", "arrowsize": f"{size:g}"}
    return drawn
