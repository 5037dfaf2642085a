"""The belief network of a type, for the senior technician: what brings what about, what shows it, and how likely."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.ready import Ready
from diagnose.drawing.maps.elements import Kind, Manner, Map, Net, Tap
from diagnose.drawing.maps.map_dot import map_dot
from diagnose.drawing.maps.network_boxes import (
    CAUSES,
    CIRCUMSTANCES,
    COLUMNS,
    MODES,
    SIGHTS,
    NetworkBoxes,
    chance,
    pair_key,
)
from diagnose.drawing.maps.rules_as_written import RulesAsWritten, file_of, plural
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Finding, Reason

LEGEND: tuple[tuple[Kind, str], ...] = (
    ("finding", "finding, with its chance where nothing shows it (background)"),
    ("mode", "how a part fails"),
    ("pair", "two together: shows only where both are there"),
    ("condition", "outside the assembly"),
    ("cause", "cause, with its base rate"),
    ("fold", "circumstance, with decibans on the odds of each kind of cause"),
)
JOINTS: tuple[tuple[Manner, str], ...] = (
    ("plain", "number: chance that what is there brings or shows it; the wider the line, the likelier"),
    ("hides", "hides it: the chance that it shows at all is multiplied by the number"),
)
READING = (
    "Lines join at a dot or square only. Where a finding has several grades, its numbers stand in their order, "
    "milder/worse: the chance of that grade or a worse one. A chance of a pair is drawn apart from those of its two."
)


def draw_network(ready: Ready) -> str:
    """The network of a type as DOT text."""
    return map_dot(network_map(ready))


def network_map(ready: Ready) -> Map:
    """The map before it is drawn."""
    assembly = ready.assembly
    written = RulesAsWritten([assembly])
    boxes = NetworkBoxes(assembly, written)
    subtitle = ", ".join(
        (
            plural(len(assembly.causes), "cause"),
            plural(len(assembly.modes), "failure mode"),
            plural(sum(bool(row.reasons) for row in assembly.findings), "finding"),
            plural(sum(bool(row.weighs) for row in assembly.findings), "circumstance"),
        )
    )
    title = f"{assembly.type}, {assembly.title}: how its causes are weighed"
    notes = (READING, *_folded(ready, written), *_left_out(ready, boxes))
    items, nets = boxes.items(), network_nets(assembly, boxes)
    return Map(
        title, f"Before anything is seen: {subtitle}", COLUMNS, boxes.frames(), items, nets, LEGEND, JOINTS, notes
    )


def _folded(ready: Ready, written: RulesAsWritten) -> tuple[str, ...]:
    causes, sights = len(ready.assembly.causes), sum(row.sight for row in ready.assembly.findings)
    drawn = sum(row.sight for row in written.findings.values())
    return (
        f"Folded: {causes} causes and conditions into {len(written.causes)} boxes and {sights} findings on opened "
        f"parts into {drawn}, where several parts of a kind have them; base rates then stand in the order in which the "
        f"frame names the parts, one number where all are equal. {CIRCUMSTANCES.capitalize()} weigh on kinds of cause, "
        "which each cause names in brackets.",
    )


def _left_out(ready: Ready, boxes: NetworkBoxes) -> tuple[str, ...]:
    unlisted = ready.assembly.unlisted
    said = [
        f"Not drawn: {unlisted.text}, base rate {unlisted.rate:g}, which shows each abnormal finding from outside with "
        f"{unlisted.shows:g}."
    ]
    if boxes.steps:
        titles = "; ".join(row.title for row in boxes.steps)
        said.append(f"Not drawn, since only other rules use them, {plural(len(boxes.steps), 'finding')}: {titles}.")
    if boxes.undrawn:
        titles = "; ".join(row.text for row in boxes.undrawn)
        said.append(
            f"Not drawn, since nothing on this type shows them, {plural(len(boxes.undrawn), 'condition')}: {titles}."
        )
    return tuple(said)


def network_nets(assembly: Assembly, boxes: NetworkBoxes) -> tuple[Net, ...]:
    """Every line; what is folded into one box has one line."""
    return (*_bringing(assembly, boxes), *_showing(assembly, boxes), *_sights(assembly, boxes))


def _bringing(assembly: Assembly, boxes: NetworkBoxes) -> Iterator[Net]:
    """A net for each failure mode of a kind, from the causes that bring it to those of the components."""
    modes = {row.name: row for row in assembly.modes}
    alike: dict[str, list[str]] = {}
    for mode in assembly.modes:
        alike.setdefault(f"{file_of(mode.place)} {own_name(mode.name)}", []).append(f"mode {mode.name}")
    brought: dict[str, dict[str, float]] = {}
    for cause in assembly.causes:
        for name, probability in cause.brings:
            kind = f"{file_of(modes[name].place)} {own_name(name)}"
            brought.setdefault(kind, {})[boxes.cause_key(cause)] = probability
    for kind, causes in sorted(brought.items()):
        left = tuple(Tap(key, chance(p), p) for key, p in sorted(causes.items()))
        yield Net(f"brings {kind}", CAUSES, left, tuple(map(Tap, sorted(alike[kind]))))


def _showing(assembly: Assembly, boxes: NetworkBoxes) -> Iterator[Net]:
    """A net for each finding from outside, from all that shows or hides it."""
    conditions = {row.name for row in assembly.causes if not row.component}
    for finding in boxes.shown:
        if finding.sight:
            continue
        taps = [_tap(_reason_key(reason, conditions), reason) for reason in finding.reasons]
        shown = {tap.key for tap in taps}
        for name, factor in finding.hidden_by:
            key = _key((name,), conditions)
            text = f"hides x{chance(factor)}"
            if key in shown:
                taps = [tap._replace(text=f"{tap.text}, {text}") if tap.key == key else tap for tap in taps]
            else:
                taps.append(Tap(key, f"x{chance(factor)}", 0.0, "hides"))
        yield Net(f"shows {finding.name}", MODES, tuple(sorted(taps)), (Tap(boxes.finding_key(finding)),))


def _sights(assembly: Assembly, boxes: NetworkBoxes) -> Iterator[Net]:
    """What is seen on opened parts hangs on the causes themselves."""
    keys = {row.name: boxes.cause_key(row) for row in assembly.causes}
    drawn: dict[str, Finding] = {}
    for finding in boxes.shown:
        if finding.sight:
            drawn.setdefault(boxes.finding_key(finding), finding)
    for key, finding in sorted(drawn.items()):
        right = tuple(sorted(_tap(keys[reason.all_of[0]], reason) for reason in finding.reasons))
        yield Net(f"seen {key}", SIGHTS, (Tap(key),), right, leftward=True)


def _tap(key: str, reason: Reason) -> Tap:
    return Tap(key, "/".join(map(chance, reason.at_least)), reason.at_least[0])


def _reason_key(reason: Reason, conditions: set[str]) -> str:
    return _key(reason.all_of, conditions)


def _key(names: tuple[str, ...], conditions: set[str]) -> str:
    if len(names) > 1:
        return pair_key(names)
    return f"{'condition' if names[0] in conditions else 'mode'} {names[0]}"
