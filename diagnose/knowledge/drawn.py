"""Reading what is drawn: `drawn` of a type, and `symbol` and `record` of a part.

`drawn` tells what lies where along the flow, and where readings are written; `symbol`, how a part is drawn; `record`,
what the record of a test asks of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from typing import Any, NamedTuple

from diagnose.knowledge.context import Vocabulary
from diagnose.knowledge.fields import Fields, Problems, as_choice, as_items, complain, unknown
from diagnose.knowledge.shapes import is_name
from diagnose.knowledge.words import misspelt
from diagnose.knowledge.yamltext import Mapping as MappingNode
from diagnose.knowledge.yamltext import Node, Scalar, Sequence, flat, value_of
from diagnose.model.foreign import cut
from diagnose.model.places import Place
from diagnose.model.schematic import (
    PLAIN,
    FlowLine,
    Placed,
    Point,
    Schematic,
    Situation,
    Stand,
    Stroke,
    StrokeKind,
    Symbol,
    WrittenReading,
)
from diagnose.model.work import Recorded

PLACES = ("leaves after", "returns before")
# How many points a shape has, at least and at most.
POINTS: dict[StrokeKind, tuple[int, int]] = {
    "line": (2, 99),
    "area": (3, 99),
    "box": (2, 2),
    "circle": (2, 2),
    "spring": (2, 2),
    "curve": (3, 3),
}
# The size that some kinds have besides their points, and what it is unless given.
SIZES = {"box": ("round", 0.0), "spring": ("wide", 6.0)}
USUAL = 1.6

# What a file of an earlier version says with a name alone; so that versions can be compared, it is still read.
NAMED = PLAIN._replace(tube=PLAIN.room[0])


class Drawable(NamedTuple):
    """What can be drawn: component -> the symbol of its part, and the names in reach."""

    symbols: Mapping[str, Symbol]
    words: Vocabulary
    problems: Problems

    def component(self, node: Node, what: str, among: Iterable[str] | None = None) -> str:
        """The name of a component, else ""."""
        return as_choice(node, what, self.problems, sorted(self.symbols) if among is None else among)


def read_drawn(file: Fields, included: Schematic, drawable: Drawable) -> Schematic:
    """The whole picture of a type: its own lines with those of the types it includes."""
    fields = file.inner("drawn")
    if fields is None:
        return included
    lines = list(included.lines)
    own = _placed(fields, "along the flow", drawable)
    if own:
        lines = [FlowLine(own), *(line for line in lines if line.under)]
    lines = _beside(fields, lines, drawable)
    lines = _told(fields, lines, drawable)
    readings = _readings(fields, drawable)
    situations = {row.name: row for row in included.situations}
    misspelt_situations(fields.get("situations"), situations.keys(), drawable.problems)
    for entry in fields.listed("situations"):
        held = tuple(sorted(_by_component(entry, "held open", drawable)))
        supply = Situation._field_defaults["supply"] if entry["supply"] is None else entry["supply"]
        key = Scalar(entry["name"], entry.place)
        situations[key.text] = entry.into(Situation, key, held_open=held, supply=supply)
    return Schematic(tuple(lines), tuple(sorted(included.readings + readings)), tuple(situations.values()))


def misspelt_situations(own: Node | None, there: Set[str], problems: Problems) -> None:
    """Tells names in a list of situations that are most likely meant for one of those `there`."""
    rows = named_situations(own)
    left = there - rows.keys()
    for name in rows.keys() - there:
        near = misspelt(name, left)
        if near:
            told = f"situation: there is no '{cut(name)}' whose place it could take; did you mean '{near}'?"
            complain(problems, rows[name], f"{told} A new one needs a name less like it")


def named_situations(node: Node | None) -> dict[str, Place]:
    """The names in a list of situations, and where each stands."""
    names = [value_of(row, "name") for row in (node.items if isinstance(node, Sequence) else ())]
    return {flat(name): name.place for name in names if name}


def _told(fields: Fields, lines: list[FlowLine], drawable: Drawable) -> list[FlowLine]:
    """The lines with what is said of the main one, and with what the springs of the parts hold."""
    if not lines:
        return lines
    own = {"places": fields["places"], "turns_at": fields["turns at"], "stands": fields["height"]}
    lines[0] = lines[0]._replace(**{key: value for key, value in own.items() if value})
    loads = {name: {"load": psi} for name, psi in _by_component(fields, "loads", drawable)}
    felt = {name: {"felt_before": other} for name, other in _by_component(fields, "felt before", drawable)}
    changed = {name: loads.get(name, {}) | felt.get(name, {}) for name in {*loads, *felt}}
    return [
        line._replace(placed=tuple(row._replace(**changed.get(row.component, {})) for row in line.placed))
        for line in lines
    ]


def _by_component(fields: Fields, key: str, drawable: Drawable) -> list[tuple[str, Any]]:
    """The entries of a table whose names are those of components."""
    rows = [(drawable.component(name, f"{fields.what}, {key}"), value) for name, value in fields[key]]
    return [(name, value) for name, value in rows if name and value not in {None, ""}]


def titled(drawn: Schematic, title: str) -> Schematic:
    """The picture with a title for every line that has none."""
    return drawn._replace(lines=tuple(line._replace(title=line.title or title) for line in drawn.lines))


def _placed(fields: Fields, key: str, drawable: Drawable) -> tuple[Placed, ...]:
    what, node = f"{fields.what}, {key}", fields.get(key)
    rows: dict[str, Placed] = {}
    leading: list[tuple[Placed, Node]] = []
    for item in as_items(node, what, drawable.problems) if node is not None else ():
        row = _leading(item, what, drawable) if isinstance(item, MappingNode) else _standing(item, what, drawable)
        if row.component in rows:
            complain(drawable.problems, item.place, f"{what}: '{row.component}' stands there twice")
        elif row.component:
            rows[row.component] = row
            leading += [(row, item)] if row.leads_to else []
    order = list(rows)
    for row, item in leading:
        if row.leads_to not in order[order.index(row.component) :]:
            message = (
                f"{what}: '{row.component}' leads to '{row.leads_to}', which does not stand further along the flow"
            )
            complain(drawable.problems, item.place, message)
    return tuple(rows.values())


def _standing(item: Node, what: str, drawable: Drawable) -> Placed:
    name = drawable.component(item, what)
    if name and drawable.symbols[name].leads:
        message = f"{what}: '{name}' leads somewhere; write {{{name}: the component that it leads to}}"
        complain(drawable.problems, item.place, message)
    return Placed(name, drawable.symbols[name]) if name else Placed("")


def _leading(item: MappingNode, what: str, drawable: Drawable) -> Placed:
    if len(item.entries) != 1:
        message = f"{what}: expected the name of one component, or one entry as in {{tube: where it leads}}"
        complain(drawable.problems, item.place, message)
        return Placed("")
    ((key, node),) = item.entries
    name = drawable.component(key, what)
    target = drawable.component(node, f"{what}, {key.text}")
    if name and not drawable.symbols[name].leads and drawable.symbols[name] != NAMED:
        message = f"{what}: '{name}' leads nowhere; only a part whose symbol says 'leads: yes' does"
        complain(drawable.problems, key.place, message)
    elif target and drawable.symbols[target].tube is None:
        message = f"{what}: '{name}' cannot lead to '{target}'; the symbol of its part has no 'tube to'"
        complain(drawable.problems, node.place, message)
        target = ""
    return Placed(name, drawable.symbols[name], target) if name else Placed("")


def _beside(fields: Fields, lines: list[FlowLine], drawable: Drawable) -> list[FlowLine]:
    """The lines with what the type says of those that lie beside the main one."""
    main = [row.component for row in lines[0].placed] if lines and not lines[0].under else []
    there = {line.under.removesuffix("."): place for place, line in enumerate(lines) if line.under}
    for key, entry in fields.things("beside"):
        if key.text not in there and not entry.has("along the flow"):
            sentence = f"{fields.what}, beside: 'along the flow' is missing, and no included type stands under"
            unknown(drawable.problems, key.place, sentence, key.text, there)
            continue
        nodes = [(word, entry.get(word)) for word in PLACES]
        ends = [drawable.component(node, f"{entry.what}, {word}", main) if node else "" for word, node in nodes]
        if all(ends) and main.index(ends[0]) >= main.index(ends[1]):
            message = f"{entry.what}: it leaves after '{ends[0]}', which does not stand before '{ends[1]}'"
            complain(drawable.problems, entry.at(PLACES[1]), message)
        if key.text in there:
            line = lines[there[key.text]]
            placed = _placed(entry, "before it", drawable) + line.placed + _placed(entry, "after it", drawable)
            lines[there[key.text]] = line._replace(placed=placed, leaves_after=ends[0], returns_before=ends[1])
        else:
            placed = _placed(entry, "along the flow", drawable)
            for row in placed:
                if row.component in main:
                    message = f"{entry.what}, along the flow: '{row.component}' stands on the main line"
                    complain(drawable.problems, entry.at("along the flow"), message)
            lines.append(FlowLine(placed, f"{key.text}.", entry["title"], ends[0], ends[1]))
    return lines


def _readings(fields: Fields, drawable: Drawable) -> tuple[WrittenReading, ...]:
    rows = []
    for key, entry in fields.things("readings"):
        name = as_choice(key, f"{fields.what}, readings", drawable.problems, sorted(drawable.words.readings))
        place = entry.get("at")
        component = drawable.component(place, f"{entry.what}, at") if place is not None else ""
        rows.append(WrittenReading(name, component, entry["says"]))
    return tuple(rows)


def read_symbol(file: Fields) -> Symbol:
    """How a kind of part is drawn; a plain box where the file does not say."""
    node = file.get("symbol")
    if isinstance(node, Scalar) and node.text and is_name(node.text):
        return NAMED
    fields = file.inner("symbol")
    if fields is None:
        return PLAIN
    strokes = tuple(map(_stroke, fields.listed("shapes")))
    room = fields["room"] or _around(strokes)
    stands: Stand = fields["stands"] or "on the line"
    return Symbol(
        strokes,
        room,
        fields["shaded"] or room,
        stands,
        fields["tube to"],
        fields["leads"] == "yes",
        fields["works as"] or "",
        fields["wide"],
        tuple(sorted((key.text, point) for key, point in fields["named"] if point is not None)),
    )


def read_record(file: Fields) -> Recorded:
    """What the record of a test asks of a kind of part; nothing where the file does not say."""
    fields = file.inner("record")
    return Recorded() if fields is None else Recorded(fields["tick"], fields["confirm"], fields["in one line"])


def _stroke(fields: Fields) -> Stroke:
    kind: StrokeKind = next((kind for kind in POINTS if fields.has(kind)), "line")
    least, most = POINTS[kind]
    if fields[kind] and not least <= len(fields[kind]) <= most:
        wanted = f"{least} points" if least == most else f"{least} points or more"
        fields.miss(f"expected {wanted}, as in '-6 -10 to 6 10'", kind)
    key, usual = SIZES.get(kind, ("", 0.0))
    return Stroke(
        kind,
        fields[kind],
        fields["thick"] if fields.has("thick") else USUAL,
        fields["filled"] or "none",
        fields["color"] or "ink",
        fields["dashed"],
        fields[key] if key and fields.has(key) else usual,
        fields["moves"] or (0.0, 0.0),
        fields["seen"] or "",
    )


def _around(strokes: tuple[Stroke, ...]) -> tuple[Point, Point]:
    """The room that the shapes take, with a little to spare."""
    reached = [point for stroke in strokes for point in _reached(stroke)]
    if not reached:
        return PLAIN.room
    across, down = [x for x, _ in reached], [y for _, y in reached]
    return (min(across) - 1, min(down) - 1), (max(across) + 1, max(down) + 1)


def _reached(stroke: Stroke) -> tuple[Point, ...]:
    if stroke.kind != "circle" or len(stroke.points) != 2:
        return stroke.points
    (x, y), (right, down) = stroke.points
    far = ((right - x) ** 2 + (down - y) ** 2) ** 0.5
    return (x - far, y - far), (x + far, y + far)
