"""What a picture of reasoning is made of, before anything is drawn."""

from __future__ import annotations

from math import log10
from typing import Literal, NamedTuple

Kind = Literal[
    "observation", "question", "finding", "open finding", "mode", "cause", "condition", "nothing", "repair", "fold"
]
# "wrong" is as wide as "modes" and "causes" together, "below" as wide as the page, under all others.
Column = Literal["seen", "means", "modes", "causes", "wrong", "do", "below"]
Manner = Literal["leads", "for", "against", "open"]

MOST_NODES = 25
MOST_DECIBANS = 40.0
# The key of the node "nothing wrong".
NOTHING = "mode.nothing"
# From how many decibans on evidence has which word: twice and ten times the odds, this project's own choice.
STRENGTHS = ((10.0, "strong"), (3.0, "some"), (0.0, "little"))
FACTORS = "Heavy: the main road. strong, some, little: how much a line counts"
BANDS = ("1  Seen", "2  What it means", "3  Likely wrong: how it fails, and why", "4  Do")


class Node(NamedTuple):
    """One box. `paragraphs` are its text, not yet wrapped, and may come from a person.

    `part` names the frame that a failure mode or cause stands in; "" for none. `before` is an earlier probability.
    `main`: it stands on the main road. `says` is what is told of it where somebody points at it; "" for its text.
    `grown` is how many times its usual size its type is.
    """

    key: str
    kind: Kind
    column: Column
    paragraphs: tuple[str, ...]
    probability: float | None = None
    part: str = ""
    before: float | None = None
    main: bool = False
    says: str = ""
    grown: float = 1.0


class Edge(NamedTuple):
    """One line from left to right.

    `manner` "leads": a step of the reasoning that is not weighed; "open": not known yet; "for" and "against": evidence,
    which multiplied the odds of what the line ends at by `factor`. `share` (0 to 1) is how likely it is that what a
    line of the manner "leads" stands for is so; 0 where that is not asked. `main`: it runs along the main road.
    """

    start: str
    end: str
    manner: Manner
    factor: float = 1.0
    share: float = 0.0
    main: bool = False

    def counts(self) -> float:
        """How much the line weighs, in decibans of either sign, at most MOST_DECIBANS; 0 where it is not weighed."""
        if self.manner in {"leads", "open"}:
            return 0.0
        return min(abs(10 * log10(self.factor)), MOST_DECIBANS) if self.factor > 0 else MOST_DECIBANS


def strength_of(decibans: float) -> str:
    """How much so many decibans of either sign are, in a word."""
    return next(word for least, word in STRENGTHS if abs(decibans) >= least)


class PartFrame(NamedTuple):
    """A part of the assembly, drawn round its failure modes and causes."""

    part: str
    title: str


class Graph(NamedTuple):
    """A picture: nodes in their order from the top of each column, edges, and a frame for each part.

    `subtitle` is the answer, `against` the sentence on what speaks against it, `bands` the headings from left to
    right, `factors` what the words on the lines mean.
    """

    title: str
    subtitle: str
    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]
    notes: tuple[str, ...]
    against: str = ""
    frames: tuple[PartFrame, ...] = ()
    bands: tuple[str, str, str, str] = BANDS
    factors: str = FACTORS
