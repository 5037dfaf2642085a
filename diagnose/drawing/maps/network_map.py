"""The belief network of a type, for the senior technician: what brings what about, what shows it, and how likely."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.ready import Ready
from diagnose.drawing.canvas import Canvas
from diagnose.drawing.maps.elements import SITE, Map, MapBox, MapFrame, Net, Tap, all_frames, columns_of
from diagnose.drawing.maps.elements import WORDS as MAP_WORDS
from diagnose.drawing.maps.map_picture import map_picture
from diagnose.drawing.maps.rules_as_written import RulesAsWritten, file_of, plural, without_part
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause, Finding, Mode, Reason

SIGHTS, CAUSES, MODES, FINDINGS = range(4)
WORDS = MAP_WORDS["network"]
CIRCUMSTANCES = "circumstances"
SITE_FRAME = MapFrame(SITE, SITE, MODES, MODES, 0, MODES)


class NetworkBoxes:
    """What is drawn of a type. Causes and what is seen of them on opened parts stand once for all parts of a kind.

    `key_of`: full name -> box. `pairs`: the combinations that are reasons, sorted. `steps` and `undrawn` are left out.
    """

    def __init__(self, assembly: Assembly, written: RulesAsWritten) -> None:
        self.assembly, self.written = assembly, written
        self.parts = {row.name: row for row in assembly.components}
        self.shown = tuple(row for row in assembly.findings if row.reasons)
        self.steps = tuple(row for row in assembly.findings if not row.reasons and not row.weighs)
        told = {name for row in self.shown for reason in row.reasons for name in reason.all_of}
        told |= {name for row in self.shown for name, _ in row.hidden_by}
        self.undrawn = tuple(row for row in assembly.causes if not row.component and row.name not in told)
        alone = {reason.all_of for row in self.shown for reason in row.reasons if len(reason.all_of) > 1}
        self.pairs = tuple(sorted(alone))
        self.conditions = {row.name for row in assembly.causes if not row.component}
        self.rates: dict[str, list[Cause]] = {}
        for cause in assembly.causes:
            self.rates.setdefault(self.cause_key(cause), []).append(cause)
        # Full name of a mode or condition -> how it is called in a pair.
        self.names = {row.name: row.text for row in assembly.causes if not row.component}
        self.names |= {row.name: self._mode_name(row) for row in assembly.modes}

    def _mode_name(self, mode: Mode) -> str:
        return f"{self.parts[mode.component].title}: {own_name(mode.name).replace('_', ' ')}"

    @staticmethod
    def cause_key(cause: Cause) -> str:
        """The box of a cause: as it is written, so that parts of a kind share it."""
        return f"cause {file_of(cause.place)} {own_name(cause.name)}" if cause.component else f"condition {cause.name}"

    @staticmethod
    def finding_key(finding: Finding) -> str:
        """The box of a finding; what is seen on opened parts is shared by parts of a kind."""
        return (
            f"sight {file_of(finding.place)} {own_name(finding.name)}" if finding.sight else f"finding {finding.name}"
        )

    def frames(self) -> tuple[MapFrame, ...]:
        """A frame for each kind of part, for the conditions, for the circumstances, and for each file of findings."""
        titles: dict[str, list[str]] = {}
        for row in self.assembly.components:
            titles.setdefault(row.part, []).append(row.title)
        parts = [MapFrame(kind, ", ".join(rows), SIGHTS, MODES, 0, CAUSES) for kind, rows in titles.items()]
        others = (SITE_FRAME, MapFrame(CIRCUMSTANCES, CIRCUMSTANCES, SIGHTS, MODES, 0, SIGHTS))
        return all_frames(self.items(), parts, others, (FINDINGS, FINDINGS))

    def items(self) -> tuple[MapBox, ...]:
        """Every box."""
        modes = (
            MapBox(f"mode {mode.name}", "mode", MODES, self.parts[mode.component].part, self._mode_name(mode))
            for mode in self.assembly.modes
        )
        return (*self._causes(), *modes, *self._pairs(), *self._findings(), *self._circumstances())

    def _causes(self) -> Iterator[MapBox]:
        for key, rows in self.rates.items():
            first = rows[0]
            if first.component:
                titles = [self.parts[row.component].title for row in rows]
                text = f"{without_part(first.text, titles)} ({first.kind.replace('_', ' ')}): {rates(rows)}"
                yield MapBox(key, "cause", CAUSES, self.parts[first.component].part, text)
            elif first not in self.undrawn:
                yield MapBox(key, "condition", MODES, SITE, f"{first.text}: {rates(rows)}")

    def _pairs(self) -> Iterator[MapBox]:
        components = {row.name: row.component for row in self.assembly.modes}
        for pair in self.pairs:
            owners = [self.parts[components[name]].part for name in pair if name in components]
            text = " + ".join(self.names[name] for name in pair)
            yield MapBox(self._reason_key(pair), "pair", MODES, owners[0] if owners else SITE, text)

    def _findings(self) -> Iterator[MapBox]:
        drawn: dict[str, MapBox] = {}
        for row in self.shown:
            key = self.finding_key(row)
            part = self.parts.get(row.name.rpartition(".")[0])
            title = without_part(row.title, [part.title] if part and row.sight else [])
            column, frame = (SIGHTS, part.part) if part and row.sight else (FINDINGS, file_of(row.place))
            drawn.setdefault(key, MapBox(key, "finding", column, frame, f"{title}: {background(row)}"))
        yield from drawn.values()

    def _circumstances(self) -> Iterator[MapBox]:
        rows = [row for row in self.assembly.findings if row.weighs]
        for place, row in enumerate(rows):
            weights = ", ".join(f"{kind.replace('_', ' ')} {decibans:+g}" for kind, decibans in row.weighs)
            where = [self.parts[name].title for name in row.weighs_on]
            on = f" ({', '.join(where)})" if where else ""
            key = f"circumstance {row.name}"
            yield MapBox(key, "fold", (SIGHTS, CAUSES, MODES)[place % 3], CIRCUMSTANCES, f"{row.title}{on}: {weights}")

    def nets(self) -> tuple[Net, ...]:
        """Every line; what is folded into one box has one line."""
        return (*self._bringing(), *self._showing(), *self._sights())

    def _bringing(self) -> Iterator[Net]:
        """A net for each failure mode of a kind, from the causes that bring it to those of the components."""
        modes = {row.name: row for row in self.assembly.modes}
        alike: dict[str, list[str]] = {}
        for mode in self.assembly.modes:
            alike.setdefault(f"{file_of(mode.place)} {own_name(mode.name)}", []).append(f"mode {mode.name}")
        brought: dict[str, dict[str, float]] = {}
        for cause in self.assembly.causes:
            for name, probability in cause.brings:
                kind = f"{file_of(modes[name].place)} {own_name(name)}"
                brought.setdefault(kind, {})[self.cause_key(cause)] = probability
        for kind, causes in sorted(brought.items()):
            left = tuple(Tap(key, chance(p), p) for key, p in sorted(causes.items()))
            yield Net(f"brings {kind}", CAUSES, left, tuple(map(Tap, sorted(alike[kind]))))

    def _showing(self) -> Iterator[Net]:
        """A net for each finding from outside, from all that shows or hides it."""
        for finding in self.shown:
            if finding.sight:
                continue
            taps = [_tap(self._reason_key(reason.all_of), reason) for reason in finding.reasons]
            shown = {tap.key for tap in taps}
            for name, factor in finding.hidden_by:
                key = self._reason_key((name,))
                text = f"hides x{chance(factor)}"
                if key in shown:
                    taps = [tap._replace(text=f"{tap.text}, {text}") if tap.key == key else tap for tap in taps]
                else:
                    taps.append(Tap(key, f"x{chance(factor)}", 0.0, "hides"))
            yield Net(f"shows {finding.name}", MODES, tuple(sorted(taps)), (Tap(self.finding_key(finding)),))

    def _sights(self) -> Iterator[Net]:
        """What is seen on opened parts hangs on the causes themselves."""
        keys = {row.name: self.cause_key(row) for row in self.assembly.causes}
        drawn: dict[str, Finding] = {}
        for finding in self.shown:
            if finding.sight:
                drawn.setdefault(self.finding_key(finding), finding)
        for key, finding in sorted(drawn.items()):
            right = tuple(sorted(_tap(keys[reason.all_of[0]], reason) for reason in finding.reasons))
            yield Net(f"seen {key}", SIGHTS, (Tap(key),), right, leftward=True)

    def _reason_key(self, names: tuple[str, ...]) -> str:
        """The box of a failure mode, a condition or a combination."""
        if len(names) > 1:
            return f"pair {' and '.join(names)}"
        return f"condition {names[0]}" if names[0] in self.conditions else f"mode {names[0]}"


def chance(probability: float) -> str:
    """At most five figures after the point, and no zero before it."""
    text = f"{probability:.5f}".rstrip("0")
    return text.removeprefix("0") if text != "0." else "0" if not probability else "<.00001"


def background(finding: Finding) -> str:
    """The chance of each grade with no reason present; a plain finding has one."""
    if len(finding.background) == 1:
        return chance(finding.background[0])
    return ", ".join(
        f"{g.replace('_', ' ')} {chance(p)}" for g, p in zip(finding.grades[1:], finding.background, strict=True)
    )


def rates(causes: list[Cause]) -> str:
    """The base rates in per cent, one where all are equal."""
    said = [f"{cause.rate * 100:.2g}" for cause in causes]
    return f"{' / '.join(said if len(set(said)) > 1 else said[:1])} %"


def _tap(key: str, reason: Reason) -> Tap:
    return Tap(key, "/".join(map(chance, reason.at_least)), reason.at_least[0])


def draw_network(ready: Ready) -> Canvas:
    """The network of a type as a picture."""
    return map_picture(network_map(ready))


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
    full = {"all causes": len(assembly.causes), "all sights": sum(row.sight for row in assembly.findings)}
    drawn = {"causes": len(written.causes), "sights": sum(row.sight for row in written.findings.values())}
    notes = (WORDS["reading"], WORDS["folded"].format_map(full | drawn), *_left_out(ready, boxes))
    told = title, f"Before anything is seen: {subtitle}", columns_of("network")
    inside = boxes.frames(), boxes.items(), boxes.nets()
    return Map(*told, *inside, WORDS["legend"], WORDS["joints"], notes)


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
