"""Lines of the map of a belief network: causes to failure modes, these and conditions and pairs to findings."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.drawing.maps.elements import Net, Tap
from diagnose.drawing.maps.network_boxes import CAUSES, MODES, SIGHTS, NetworkBoxes, chance, pair_key
from diagnose.drawing.maps.rules_as_written import file_of, own
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Finding, Reason


def network_nets(assembly: Assembly, boxes: NetworkBoxes) -> tuple[Net, ...]:
    """Every line; what is folded into one box has one line."""
    return (*_bringing(assembly, boxes), *_showing(assembly, boxes), *_sights(assembly, boxes))


def _bringing(assembly: Assembly, boxes: NetworkBoxes) -> Iterator[Net]:
    """A net for each failure mode of a kind, from the causes that bring it to those of the components."""
    modes = {row.name: row for row in assembly.modes}
    alike: dict[str, list[str]] = {}
    for mode in assembly.modes:
        alike.setdefault(f"{file_of(mode.place)} {own(mode.name)}", []).append(f"mode {mode.name}")
    brought: dict[str, dict[str, float]] = {}
    for cause in assembly.causes:
        for name, probability in cause.brings:
            kind = f"{file_of(modes[name].place)} {own(name)}"
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
