"""What one rule file contributes, and writing it out under a prefix and for a component."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from diagnose.knowledge.drawn import renamed_drawn
from diagnose.model.causes import Cause, Finding, Mode, Reason
from diagnose.model.premises import All, Answered, AnyOf, Gate, Holds, Measured, Not, Premise, Rule
from diagnose.model.schematic import Schematic
from diagnose.model.work import Component, Observation, Repair


class Piece(NamedTuple):
    """Parts of an assembly's description. In a part's own file names are short and rates are shares."""

    components: tuple[Component, ...] = ()
    observations: tuple[Observation, ...] = ()
    findings: tuple[Finding, ...] = ()
    rules: tuple[Rule, ...] = ()
    gates: tuple[Gate, ...] = ()
    modes: tuple[Mode, ...] = ()
    causes: tuple[Cause, ...] = ()
    repairs: tuple[Repair, ...] = ()
    drawn: Schematic = Schematic()
    field_test: tuple[str, ...] = ()
    asked_first: tuple[str, ...] = ()

    def joined(self, other: Piece) -> Piece:
        """Both pieces together."""
        return Piece(
            self.components + other.components,
            self.observations + other.observations,
            self.findings + other.findings,
            self.rules + other.rules,
            self.gates + other.gates,
            self.modes + other.modes,
            self.causes + other.causes,
            self.repairs + other.repairs,
            self.drawn.joined(other.drawn),
            self.field_test + other.field_test,
            self.asked_first + other.asked_first,
        )

    def names(self) -> frozenset[str]:
        """Every name that the piece defines, but for its rules: nothing refers to them, so they may share a name."""
        named = (self.components, self.observations, self.findings, self.modes, self.causes, self.repairs)
        return frozenset(row.name for rows in named for row in rows)


Naming = Callable[[str], str]


class Wording(NamedTuple):
    """What happens to texts: `heads` to those that are read on their own, `inner` to those that stand under one."""

    heads: Callable[[str], str]
    inner: Callable[[str], str]


def own_name(name: str) -> str:
    """A name as it is written in its file: without the component or the prefix that it stands under."""
    return name.rpartition(".")[2]


def prefix_of(name: str) -> str:
    """What `own_name` leaves out, with its dot."""
    return name.removesuffix(own_name(name))


def under(piece: Piece, prefix: str, component: str | None, word: Wording) -> Piece:
    """The piece with `prefix` before each of its own names and every text put through `word`.

    `component` is the full name of the component the piece describes; None keeps each row's own, prefixed.
    """
    own = piece.names()

    def name(text: str) -> str:
        return prefix + text if text in own else text

    def home(text: str) -> str:
        return component if component is not None else name(text)

    return Piece(
        tuple(c._replace(name=name(c.name), title=word.heads(c.title)) for c in piece.components),
        tuple(_observation(o, name, home, word) for o in piece.observations),
        tuple(_finding(f, name, word) for f in piece.findings),
        tuple(_rule(r, prefix, name, word) for r in piece.rules),
        tuple(Gate(g.kind, renamed(g.premise, name), tuple(map(name, g.observations))) for g in piece.gates),
        tuple(m._replace(name=name(m.name), component=home(m.component), text=word.heads(m.text)) for m in piece.modes),
        tuple(_cause(c, name, home, word) for c in piece.causes),
        tuple(_repair(r, name, home, word) for r in piece.repairs),
        renamed_drawn(piece.drawn, prefix, name),
        tuple(map(name, piece.field_test)),
        tuple(map(name, piece.asked_first)),
    )


def renamed(premise: Premise, name: Naming) -> Premise:
    """The premise with every observation and finding renamed."""
    if isinstance(premise, (Answered, Measured)):
        return premise._replace(observation=name(premise.observation))
    if isinstance(premise, Holds):
        return premise._replace(finding=name(premise.finding))
    if isinstance(premise, Not):
        return Not(renamed(premise.part, name))
    parts = tuple(renamed(part, name) for part in premise.parts)
    return All(parts) if isinstance(premise, All) else AnyOf(parts)


def _observation(row: Observation, name: Naming, home: Naming, word: Wording) -> Observation:
    computed = (name(row.computed[0]), name(row.computed[1])) if row.computed else None
    return row._replace(
        name=name(row.name),
        component=home(row.component),
        title=word.heads(row.title),
        question=word.heads(row.question),
        how=word.inner(row.how),
        answers=tuple((answer, word.inner(text)) for answer, text in row.answers),
        computed=computed,
    )


def _finding(row: Finding, name: Naming, word: Wording) -> Finding:
    return row._replace(
        name=name(row.name),
        title=word.heads(row.title),
        says=tuple(map(word.heads, row.says)),
        reasons=tuple(Reason(tuple(map(name, r.all_of)), r.at_least) for r in row.reasons),
        hidden_by=tuple((name(mode), factor) for mode, factor in row.hidden_by),
        weighs_on=tuple(map(name, row.weighs_on)),
    )


def _rule(row: Rule, prefix: str, name: Naming, word: Wording) -> Rule:
    return row._replace(
        name=prefix + row.name,
        premise=renamed(row.premise, name),
        finding=name(row.finding),
        reason=word.inner(row.reason),
        confused_with=word.inner(row.confused_with),
        disputed=word.inner(row.disputed),
    )


def _cause(row: Cause, name: Naming, home: Naming, word: Wording) -> Cause:
    brings = tuple((name(mode), chance) for mode, chance in row.brings)
    return row._replace(name=name(row.name), component=home(row.component), text=word.heads(row.text), brings=brings)


def _repair(row: Repair, name: Naming, home: Naming, word: Wording) -> Repair:
    return row._replace(
        name=name(row.name),
        component=home(row.component),
        title=word.heads(row.title),
        steps=tuple(map(word.inner, row.steps)),
        parts=tuple(map(word.heads, row.parts)),
        retest=word.heads(row.retest),
        cures=tuple((name(cause), chance) for cause, chance in row.cures),
        mends=tuple(map(name, row.mends)),
        called_for=tuple(map(name, row.called_for)),
    )
