"""What a compiled program consists of.

Every test and every composite premise, rule and grade is a node. A literal is a node's number n, or ~n for
its negation. Equal nodes are one node. Node 0 is false and node 1 unknown for ever; the tests follow,
sorted by observation; then the composite nodes, level by level, so a node's number is above those of all it
rests on.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

from diagnose.model.premises import Relation

Joining = Literal["all", "any"]

FALSE_NODE: Final = 0
UNKNOWN_NODE: Final = 1
FIRST_TEST: Final = 2
IN_WORDS: Final = "is one of"


class Test(NamedTuple):
    """A question to an observation, in words or by measure.

    With the relation "is one of": is the answer one of `names`? Else: does the reading stand in the
    relation to `amount` (psi) plus the limits that `names` lists?
    """

    relation: Relation | Literal["is one of"]
    amount: float
    names: tuple[str, ...]


class Group(NamedTuple):
    """Nodes of one level that join equally many literals: node k joins `columns[i][k]` for every i."""

    joining: Joining
    columns: tuple[tuple[int, ...], ...]


class Program(NamedTuple):
    """Compiled rules in tuples, text and numbers only: `Program(*json.loads(json.dumps(program)))` works.

    `tests`: each observation with its tests.
    `groups`: the composite nodes in the order of their numbers.
    `findings`: each finding with its grades, lowest first, and their literals.
    `rules`: each rule's name with its literal.
    """

    tests: tuple[tuple[str, tuple[Test, ...]], ...]
    groups: tuple[Group, ...]
    findings: tuple[tuple[str, tuple[str, ...], tuple[int, ...]], ...]
    rules: tuple[tuple[str, int], ...]
