"""The belief network of a type, for the senior technician: what brings what about, what shows it, and how likely."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.wording import plural
from diagnose.drawing.maps.elements import SITE, Map, MapBox, MapBuilder, MapFrame, Tap
from diagnose.index.as_written import RulesAsWritten, file_of, without_part
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause, Finding, Mode, Reason

SIGHTS, CAUSES, MODES, FINDINGS = range(4)
CIRCUMSTANCES = "circumstances"
SITE_FRAME = MapFrame(SITE, SITE, MODES, MODES, 0, MODES)


class NetworkBoxes(MapBuilder):
    """What is drawn of a type. Causes and what is seen of them on opened parts stand once for all parts of a kind."""

    def __init__(self, assembly: Assembly) -> None:
        super().__init__("network")
        self.assembly = assembly
        self.parts = {row.name: row for row in assembly.components}
        self.shown = tuple(row for row in assembly.findings if row.reasons)
        outside = assembly.outside
        self.undrawn = tuple(row for row in assembly.causes if not row.component and row not in outside)
        self._causes()
        for mode in assembly.modes:
            name = f"mode {mode.name}"
            self.add(MapBox(name, "mode", MODES, self.parts[mode.component].part, self._mode_name(mode)), mode.name)
        self._pairs()
        self._findings()
        self._circumstances()
        self._join_all()

    def _mode_name(self, mode: Mode) -> str:
        return f"{self.parts[mode.component].title}: {own_name(mode.name).replace('_', ' ')}"

    def all_frames(self) -> tuple[MapFrame, ...]:
        """A frame for each kind of part, for the conditions, for the circumstances, and for each file of findings."""
        titles: dict[str, list[str]] = {}
        for row in self.assembly.components:
            titles.setdefault(row.part, []).append(row.title)
        parts = [MapFrame(kind, ", ".join(rows), SIGHTS, MODES, 0, CAUSES) for kind, rows in titles.items()]
        others = (SITE_FRAME, MapFrame(CIRCUMSTANCES, CIRCUMSTANCES, SIGHTS, MODES, 0, SIGHTS))
        return self.frames(parts, others, (FINDINGS, FINDINGS))

    def _causes(self) -> None:
        alike: dict[str, list[Cause]] = {}
        for cause in self.assembly.causes:
            file = f"cause {file_of(cause.place)} {own_name(cause.name)}"
            alike.setdefault(file if cause.component else f"condition {cause.name}", []).append(cause)
        for key, rows in alike.items():
            first, column, frame = rows[0], MODES, SITE
            text = f"{first.text}: {rates(rows)}"
            if first in self.undrawn:
                continue
            if first.component:
                column, frame = CAUSES, self.parts[first.component].part
                titles = [self.parts[row.component].title for row in rows]
                text = f"{without_part(first.text, titles)} ({first.kind.replace('_', ' ')}): {rates(rows)}"
            for row in rows:
                self.add(MapBox(key, "cause" if first.component else "condition", column, frame, text), row.name)

    def _pairs(self) -> None:
        """The combinations that are reasons."""
        names = {row.name: row.text for row in self.assembly.causes if not row.component}
        names |= {row.name: self._mode_name(row) for row in self.assembly.modes}
        owner = {row.name: self.parts[row.component].part for row in self.assembly.modes}
        alone = {reason.all_of for row in self.shown for reason in row.reasons if len(reason.all_of) > 1}
        for pair in sorted(alone):
            frame = next((owner[name] for name in pair if name in owner), SITE)
            self.add(MapBox(self._reason(pair), "pair", MODES, frame, " + ".join(names[name] for name in pair)))

    def _findings(self) -> None:
        for row in self.shown:
            part = self.parts.get(row.name.rpartition(".")[0]) if row.sight else None
            title = f"{without_part(row.title, [part.title] if part else [])}: {background(row)}"
            key = f"sight {file_of(row.place)} {own_name(row.name)}" if row.sight else f"finding {row.name}"
            column, frame = (SIGHTS, part.part) if part else (FINDINGS, file_of(row.place))
            self.add(MapBox(key, "finding", column, frame, title), row.name)

    def _circumstances(self) -> None:
        rows = [row for row in self.assembly.findings if row.weighs]
        for place, row in enumerate(rows):
            weights = ", ".join(f"{kind.replace('_', ' ')} {decibans:+g}" for kind, decibans in row.weighs)
            where = [self.parts[name].title for name in row.weighs_on]
            on = f" ({', '.join(where)})" if where else ""
            column = (SIGHTS, CAUSES, MODES)[place % 3]
            text = f"{row.title}{on}: {weights}"
            self.add(MapBox(f"circumstance {row.name}", "fold", column, CIRCUMSTANCES, text))

    def _join_all(self) -> None:
        """A net for each failure mode of a kind, and one for each finding, from outside or on opened parts."""
        modes = {row.name: row for row in self.assembly.modes}
        for cause in self.assembly.causes:
            for name, probability in cause.brings:
                net = f"brings {file_of(modes[name].place)} {own_name(name)}"
                tap = Tap(self.box_of[cause.name], chance(probability), probability)
                self.join(net, CAUSES, tap, Tap(f"mode {name}"))
        drawn = set[str]()
        for finding in self.shown:
            box = self.box_of[finding.name]
            if finding.sight and box not in drawn:
                # What is seen on opened parts hangs on the causes themselves.
                for reason in finding.reasons:
                    tap = _tap(self.box_of[reason.all_of[0]], reason)
                    self.join(f"seen {box}", SIGHTS, Tap(box), tap, leftward=True)
            elif not finding.sight:
                for tap in self._showing(finding):
                    self.join(f"shows {finding.name}", MODES, tap, Tap(box))
            drawn.add(box)

    def _showing(self, finding: Finding) -> Iterable[Tap]:
        """All that shows or hides a finding from outside."""
        taps = {self._reason(reason.all_of): _tap(self._reason(reason.all_of), reason) for reason in finding.reasons}
        for name, factor in finding.hidden_by:
            key, text = self._reason((name,)), f"x{chance(factor)}"
            shows = taps.get(key)
            taps[key] = shows._replace(text=f"{shows.text}, hides {text}") if shows else Tap(key, text, 0.0, "hides")
        return taps.values()

    def _reason(self, names: tuple[str, ...]) -> str:
        """The box of a failure mode, a condition or a combination."""
        return f"pair {' and '.join(names)}" if len(names) > 1 else self.box_of[names[0]]


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


def network_map(ready: Ready) -> Map:
    """The network of a type."""
    assembly = ready.assembly
    written, boxes = RulesAsWritten([assembly]), NetworkBoxes(assembly)
    counts = {"cause": len(assembly.causes), "failure mode": len(assembly.modes), "finding": len(boxes.shown)}
    counts |= {"circumstance": sum(bool(row.weighs) for row in assembly.findings)}
    subtitle = ", ".join(plural(number, noun) for noun, number in counts.items())
    full = {"all causes": len(assembly.causes), "all sights": sum(row.sight for row in assembly.findings)}
    drawn = {"causes": len(written.causes), "sights": sum(row.sight for row in written.findings.values())}
    notes = (boxes.words["reading"], boxes.words["folded"].format_map(full | drawn), *_left_out(assembly, boxes))
    title = f"{assembly.type}, {assembly.title}: how its causes are weighed"
    return boxes.map(title, f"Before anything is seen: {subtitle}", boxes.all_frames(), *notes)


def _left_out(assembly: Assembly, boxes: NetworkBoxes) -> Iterator[str]:
    unlisted = assembly.unlisted
    yield (
        f"Not drawn: {unlisted.text}, base rate {unlisted.rate:g}, which shows each abnormal finding from outside with "
        f"{unlisted.shows:g}."
    )
    steps = [row.title for row in assembly.findings if not row.reasons and not row.weighs]
    undrawn = [row.text for row in boxes.undrawn]
    for rows, noun, why in (
        (steps, "finding", "only other rules use"),
        (undrawn, "condition", "nothing on this type shows"),
    ):
        if rows:
            yield f"Not drawn, since {why} them, {plural(len(rows), noun)}: {'; '.join(rows)}."
