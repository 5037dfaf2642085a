"""What a picture of reasoning is made of, before anything is drawn."""

from __future__ import annotations

from typing import Literal, NamedTuple

Kind = Literal["observation", "question", "finding", "open finding", "mode", "cause", "nothing", "repair", "fold"]
Column = Literal["seen", "means", "modes", "causes", "do"]
Manner = Literal["leads", "for", "against", "open"]

MOST_NODES = 25
# The key of the node "nothing wrong".
NOTHING = "mode.nothing"


class Node(NamedTuple):
    """One box. `paragraphs` are its text, not yet wrapped, and may come from a person."""

    key: str
    kind: Kind
    column: Column
    paragraphs: tuple[str, ...]
    probability: float | None = None


class Edge(NamedTuple):
    """One line from left to right.

    `manner` "leads": a step of the reasoning that is not weighed; "open": not known yet; "for" and "against": evidence,
    which multiplied the odds of what the line ends at by `factor`.
    """

    start: str
    end: str
    manner: Manner
    factor: float = 1.0


class Graph(NamedTuple):
    """A picture: nodes in their order from the top of each column, and edges."""

    title: str
    subtitle: str
    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]
    notes: tuple[str, ...]
