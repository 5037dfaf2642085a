"""Reading parts/<kind>.yaml and site/*.yaml: failure modes, causes, repairs, and what is seen of them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Literal, NamedTuple

from diagnose.knowledge.context import Context, Vocabulary
from diagnose.knowledge.drawn import read_record, read_symbol
from diagnose.knowledge.fields import Fields, complain, unknown
from diagnose.knowledge.findings import declare_findings, read_finding, read_premises, read_rules, rule_less_findings
from diagnose.knowledge.format import rule_format
from diagnose.knowledge.piece import Piece
from diagnose.knowledge.yamltext import Node, Scalar, scalars
from diagnose.model.causes import Cause, Mode
from diagnose.model.foreign import cut
from diagnose.model.premises import Gate
from diagnose.model.schematic import PLAIN, Symbol
from diagnose.model.work import Observation, Recorded, Repair


def _cause(key: Scalar, row: Fields) -> Cause:
    """A cause of a part; `rate` holds the share until the part becomes a component."""
    brings = tuple((mode.text, chance) for mode, chance in row["brings"])
    return row.into(Cause, key, component="", rate=row["share"], brings=brings)


def _declared(file: Fields, key: str, context: Context, *sets: set[str]) -> Iterator[tuple[Scalar, Fields]]:
    """What is defined under a key, its names added to `sets`."""
    for name, row in file.things(key):
        context.declare(name.text, name.place)
        for names in sets:
            names.add(name.text)
        yield name, row


class WayIn(NamedTuple):
    """The steps before and after whatever is done to a part that is taken apart."""

    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()


def read_ways(file: Fields) -> dict[str, WayIn]:
    """How a part is reached: "" -> the usual way, and the others by name."""
    fields = file.inner("taking apart")
    if fields is None:
        return {"": WayIn()}
    others = {key.text: row for key, row in fields.things("otherwise")}
    return {name: WayIn(row["before"], row["after"]) for name, row in {"": fields, **others}.items()}


def read_repairs(file: Fields, context: Context, ways: Mapping[str, WayIn]) -> dict[str, tuple[Repair, ...]]:
    """What is done about causes, for each of the ways; `cures` may name causes of the same file only."""
    rows = list(_declared(file, "repairs", context))
    return {name: tuple(_repair(key, row, way, context) for key, row in rows) for name, way in ways.items()}


def _repair(key: Scalar, row: Fields, way: WayIn, context: Context) -> Repair:
    states = [state for state in context.settings.states if state.name in row["states"]]
    apart = row["taken apart"] != "no" and any(state.takes_apart for state in states)
    at_all = row["cures all"] if row.get("cures all") is not None else None
    every = dict.fromkeys(sorted(context.vocabulary.causes), at_all) if at_all is not None else {}
    called_for: dict[str, float] = {cause.text: chance for cause, chance in row["cures"]}
    before = way.before if apart and row["taken apart"] != "end only" else ()
    # Work ends as it does in the deepest of its states.
    last = max(states, key=lambda row: row.minutes).last_steps if states else ()
    return row.into(
        Repair,
        key,
        component="",
        steps=row["first"] + before + row["steps"] + (way.after if apart else ()) + last,
        cures=tuple((every | called_for).items()),
        called_for=tuple(sorted(called_for)) if every else (),
    )


STANDS_FOR = re.compile(r"\{[^{}]*\}")
COMPONENT = "{component}"
GATES: tuple[Literal["asked when", "void when", "not asked when"], ...] = ("asked when", "void when", "not asked when")
ObservationRows = list[tuple[Observation, Fields]]


class PartFile(NamedTuple):
    """A kind of part, with the names that it makes known (`words`) once it is a component.

    `repairs` has those of `piece` as they are where the part is reached in another way, by its name.
    """

    kind: str
    title: str
    piece: Piece
    words: Vocabulary
    symbol: Symbol
    recorded: Recorded
    repairs: dict[str, tuple[Repair, ...]]

    def reached(self, way: str) -> Piece:
        """What it contributes where it is reached in this way; "" for the usual one."""
        return self.piece._replace(repairs=self.repairs.get(way, self.piece.repairs))


def read_part(node: Node, kind: str, context: Context) -> PartFile:
    """One file of parts/. Its names are its own: other parts may use the same."""
    context = context._replace(vocabulary=_fresh(context))
    file = Fields(node, f"part '{kind}'", rule_format().sections["part"], context)
    _same_name(file, "part", kind)
    # Other braces in its texts would be shown as they stand.
    for _, scalar in scalars(node):
        for found in set(STANDS_FOR.findall(scalar.text)) - {COMPONENT}:
            complain(context.problems, scalar.place, f"'{cut(found)}' stands for nothing; write '{COMPONENT}'")
    words = context.vocabulary
    modes = _declared(file, "modes", context, words.modes, words.reasons)
    piece = Piece(modes=tuple(row.into(Mode, key, component="") for key, row in modes))
    causes = _declared(file, "causes", context, words.causes, words.reasons)
    piece = piece._replace(causes=tuple(_cause(key, row) for key, row in causes)).joined(read_common(file, context))
    repairs = read_repairs(file, context, read_ways(file))
    context.vocabulary.ways = set(repairs) - {""}
    piece = piece._replace(repairs=repairs.pop(""))
    context.vocabulary.reasons = context.vocabulary.modes
    return PartFile(kind, file["title"], piece, context.vocabulary, read_symbol(file), read_record(file), repairs)


def read_common(file: Fields, context: Context) -> Piece:
    """Observations, findings and rules: what every kind of rule file may hold."""
    observations = _declare_observations(file, context)
    findings = declare_findings(file, context)
    rules = read_rules(file, context)
    if not file.misspelt("rules"):
        rule_less_findings(findings, rules, context)
    return Piece(
        observations=tuple(row for row, _ in observations),
        findings=tuple(read_finding(row, fields, context) for row, fields in findings),
        rules=rules,
        gates=_read_gates(observations, context),
    )


def _declare_observations(file: Fields, context: Context) -> ObservationRows:
    """Reads every observation and makes its name known; gates are read later, when all names are known."""
    rows: ObservationRows = []
    for key, fields in file.things("observations"):
        row = _observation(key, fields)
        if context.declare(row.name, key.place):
            rows.append((row, fields))
            if row.answers:
                context.vocabulary.answers[row.name] = tuple(answer for answer, _ in row.answers)
            else:
                context.vocabulary.readings.add(row.name)
    return rows


def _read_gates(rows: ObservationRows, context: Context) -> tuple[Gate, ...]:
    """What decides when answers count or are asked for; also checks names that only now are known."""
    gates = []
    for row, fields in rows:
        for kind in GATES:
            node = fields.get(kind)
            if node is not None:
                gates.append(Gate(kind, read_premises(node, f"{fields.what}, {kind}", context), (row.name,)))
        for part in row.computed or ():
            if part not in context.vocabulary.readings:
                sentence = f"{fields.what}: there is no reading"
                unknown(context.problems, fields.at("computed"), sentence, part, context.vocabulary.readings)
        known, later = context.vocabulary.readings, row.a_year_before
        if later and later not in known:
            sentence = f"{fields.what}, a year before: there is no reading"
            unknown(context.problems, fields.at("a year before"), sentence, later, known)
    return tuple(gates)


def _observation(key: Scalar, fields: Fields) -> Observation:
    computed, (low, high) = fields["computed"], fields["range"]
    return fields.into(
        Observation,
        key,
        component="",
        answers=tuple((answer.text, text) for answer, text in fields["answers"]),
        answers_with_parts=tuple((answer.text, parts) for answer, parts in fields["answers with parts"]),
        unit="psid" if computed else fields["unit"],
        low=-high if computed else low,
        high=high,
    )


def read_site(nodes: list[tuple[str, Node]], context: Context) -> PartFile:
    """The files of site/, which share their names and apply to every type of assembly."""
    context = context._replace(vocabulary=_fresh(context))
    section = rule_format().sections["site"]
    files = [(name, Fields(node, f"site/{name}.yaml", section, context)) for name, node in nodes]
    words, piece = context.vocabulary, Piece()
    for name, file in files:
        _same_name(file, "site", name)
        # A site condition is a cause that belongs to no component, and its own failure mode.
        rows = _declared(file, "conditions", context, words.causes, words.modes, words.reasons)
        found = tuple(row.into(Cause, key, component="", brings=()) for key, row in rows)
        piece = piece._replace(causes=piece.causes + found)
    for _, file in files:
        piece = piece.joined(read_common(file, context))
        piece = piece._replace(repairs=piece.repairs + read_repairs(file, context, {"": WayIn()})[""])
    return PartFile("site", "site", piece, context.vocabulary, PLAIN, Recorded(), {})


def _fresh(context: Context) -> Vocabulary:
    words = Vocabulary()
    words.limits = context.vocabulary.limits
    return words


def _same_name(file: Fields, key: str, name: str) -> None:
    if file[key] not in ("", name):
        file.miss(f"'{key}: {cut(file[key])}' does not match the file's name '{name}'")
