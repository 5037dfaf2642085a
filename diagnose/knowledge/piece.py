"""What one rule file contributes, and writing it out under a prefix and for a component."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

from diagnose.model.causes import Cause, Finding, Mode
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
    no_protection: tuple[Premise, ...] = ()

    def joined(self, other: Piece) -> Piece:
        """Both pieces together."""
        rows = {key: mine + getattr(other, key) for key, mine in self._asdict().items() if key != "drawn"}
        return Piece(**rows, drawn=self.drawn.joined(other.drawn))

    def names(self) -> frozenset[str]:
        """Every name that the piece defines, but for its rules: nothing refers to them, so they may share a name."""
        named = (self.components, self.observations, self.findings, self.modes, self.causes, self.repairs)
        return frozenset(row.name for rows in named for row in rows)


Renaming = Callable[[str], str]


class Wording(NamedTuple):
    """What happens to texts: `heads` to those read on their own, `inner` to those under one, `parts` to spare parts."""

    heads: Renaming
    inner: Renaming
    parts: Renaming


def of_component(title: str) -> Wording:
    """Texts of a kind of part as those of one component."""
    return Wording(*[lambda text: text.replace("{component}", title)] * 3)


# How titles begin before which no noun can stand.
NO_NOUN = ("how ", "what ", "the ", "two ", "no ", "neither ")


def of_line(piece: Piece, title: str) -> Wording:
    """Texts of a type as those of a line called `title` in another: of its components, or else of that line.

    A sentence begins with where that is; a title begins with the line's own, or ends with where where that cannot be.
    """
    titles = sorted((row.title for row in piece.components), key=len, reverse=True)
    own = re.compile(rf"\b({'|'.join(map(re.escape, titles))})\b") if titles else re.compile("(?!)")

    def told(text: str) -> str:
        named, count = own.subn(rf"{title} \1", text)
        if count or not text:
            return named
        if not text.endswith((".", "?")):
            return f"{text} in the {title}" if text.startswith((*NO_NOUN, title)) else f"{title} {text}"
        # A capital goes, but for that of a short form.
        return f"In the {title}, {text[0].lower() if text[1:2].islower() or text[1:2] == ' ' else text[0]}{text[1:]}"

    def same(text: str) -> str:
        return text

    return Wording(told, same, lambda text: f"{title} {text}") if title else Wording(same, same, same)


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

    def names(rows: Iterable[str]) -> tuple[str, ...]:
        return tuple(map(name, rows))

    def by_name(rows: Iterable[tuple[str, float]]) -> tuple[tuple[str, float], ...]:
        return tuple((name(one), number) for one, number in rows)

    heads, inner, parts = word
    # What is done to a field of this name, whatever it is a field of; all others stay as they are.
    changes: dict[str, Callable[[Any], Any]] = {
        **dict.fromkeys(("name", "finding"), name),
        "component": home,
        **dict.fromkeys(("title", "text", "question", "retest"), heads),
        **dict.fromkeys(("how", "reason", "confused_with", "disputed"), inner),
        "says": lambda rows: tuple(map(heads, rows)),
        "parts": lambda rows: tuple(map(parts, rows)),
        "steps": lambda rows: tuple(map(inner, rows)),
        "answers": lambda rows: tuple((answer, inner(text)) for answer, text in rows),
        **dict.fromkeys(("observations", "weighs_on", "mends", "called_for"), names),
        "a_year_before": name,
        "computed": lambda pair: pair and names(pair),
        **dict.fromkeys(("hidden_by", "brings", "cures"), by_name),
        "reasons": lambda rows: tuple(row._replace(all_of=names(row.all_of)) for row in rows),
        "premise": lambda premise: renamed(premise, name),
    }
    others = {"drawn", "field_test", "asked_first", "no_protection"}
    rows = {kind: _changed(found, changes) for kind, found in piece._asdict().items() if kind not in others}
    # Nothing refers to a rule by its name, so that it may be the name of something else as well.
    rows["rules"] = _changed(piece.rules, changes | {"name": lambda text: prefix + text})
    rows |= {kind: names(getattr(piece, kind)) for kind in ("field_test", "asked_first")}
    rows["no_protection"] = tuple(renamed(premise, name) for premise in piece.no_protection)
    return Piece(**rows, drawn=_renamed_drawn(piece.drawn, prefix, name))


def _renamed_drawn(drawn: Schematic, prefix: str, name: Renaming) -> Schematic:
    """The picture with its components and readings renamed, and its lines under the prefix."""
    placed = dict.fromkeys(("component", "leads_to", "felt_before"), name)
    line: dict[str, Callable[[Any], Any]] = {
        "placed": lambda rows: _changed(rows, placed),
        "under": lambda text: prefix + text,
        **dict.fromkeys(("leaves_after", "returns_before"), name),
        "turns_at": lambda component: "" if prefix else component,
    }
    readings = _changed(drawn.readings, dict.fromkeys(("observation", "component"), name))
    # What happens to a type by itself does not happen to it as a bypass.
    return Schematic(_changed(drawn.lines, line), tuple(sorted(readings)), () if prefix else drawn.situations)


def _changed(rows: tuple[Any, ...], changes: Mapping[str, Callable[[Any], Any]]) -> tuple[Any, ...]:
    keys = [field for field in rows[0]._fields if field in changes] if rows else []
    return tuple(row._replace(**{key: changes[key](getattr(row, key)) for key in keys}) for row in rows)


def renamed(premise: Premise, name: Renaming) -> Premise:
    """The premise with every observation and finding renamed."""
    if isinstance(premise, (Answered, Measured)):
        return premise._replace(observation=name(premise.observation))
    if isinstance(premise, Holds):
        return premise._replace(finding=name(premise.finding))
    if isinstance(premise, Not):
        return Not(renamed(premise.part, name))
    parts = tuple(renamed(part, name) for part in premise.parts)
    return All(parts) if isinstance(premise, All) else AnyOf(parts)
