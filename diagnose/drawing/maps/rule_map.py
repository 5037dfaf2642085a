"""Maps of the rule base: of the whole, with counts; of a type, a poster; of a kind of part or component, one page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.diagnosis.library import Library
from diagnose.diagnosis.wording import plural
from diagnose.drawing.maps.elements import KINDS, SITE, Kind, Map, MapBox, MapBuilder, MapFrame, Tap
from diagnose.drawing.maps.marks import Marks, counted, exercised, marks_of
from diagnose.drawing.node_text import listed
from diagnose.index.as_written import RulesAsWritten, file_of, without_part
from diagnose.knowledge.fields import no_such
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place

SEEN, MEANS, MODES, CAUSES, SIGHTS, LOOKED = range(6)
SITE_FRAME = MapFrame(SITE, SITE, MODES, MODES, 0, MODES)
LONGEST_LIST, LONGEST_KIND = 84, 150


class RuleBoxes(MapBuilder):
    """What is drawn of what is written, each piece in a box of its own."""

    def __init__(self, written: RulesAsWritten, marks: Marks) -> None:
        super().__init__("rules", marks)
        self.written = written

    def where(self, key: str, place: Place) -> str:
        """The frame of a piece: that of its part's kind, else that of its file."""
        names = self.written.part_of[key]
        return self.written.parts[names[0]].part if names else file_of(place)

    def join_all(self, *, folded: bool = False) -> None:
        """Every line; if `folded`, what a finding from outside rests on is one box, and circumstances have no lines."""
        for (start, end), places in self.written.asks.items():
            rests = f"rests {end}" if folded and not self.written.part_of[end] else self.box_of.get(start)
            if rests is not None and rests != self.box_of[end]:
                self._join_asked(Tap(rests, manner="open" if places <= self.marks.idle else "plain"), self.box_of[end])
        for key, kind in () if folded else self.written.weighs:
            self.join(f"shows kind {kind}", MEANS, Tap(self.box_of[key]), Tap(f"kind {kind}"))
        for (start, end), hides in self.written.shows.items():
            cause, finding = self.box_of[start], self.box_of[end]
            if self.boxes[cause].column == CAUSES:
                self.join(f"sight {finding}", CAUSES, Tap(cause), Tap(finding), leftward=True)
            else:
                self.join(f"shows {cause}", MEANS, Tap(finding, manner="hides" if hides else "plain"), Tap(cause))
        for cause, mode in self.written.brings:
            net = f"brings {file_of(self.written.modes[mode].place)} {own_name(self.written.modes[mode].name)}"
            self.join(net, MODES, Tap(self.box_of[mode]), Tap(self.box_of[cause]))

    def _join_asked(self, tap: Tap, end: str) -> None:
        """What a finding rests on, on either side, where no gap lies between the two."""
        columns = self.boxes[tap.key].column, self.boxes[end].column
        if columns == (SEEN, MEANS):
            self.join(f"asks {end}", SEEN, tap, Tap(end))
        elif columns == (MEANS, MEANS):
            self.join(f"asks {end}", SEEN, None, Tap(end), tap)
        elif columns == (LOOKED, SIGHTS):
            self.join(f"asks {end}", SIGHTS, Tap(end), tap, leftward=True)

    def drawn(self, title: str, frames: tuple[MapFrame, ...], *notes: str) -> Map:
        """The map with what is counted and marked below it."""
        said = (self.words["marked"], *notes, *counted(self.box_of, self.marks))
        return self.map(title, self.written.counts(), frames, *said)


def _every_piece(written: RulesAsWritten, marks: Marks, *, folded: bool) -> tuple[RuleBoxes, tuple[MapFrame, ...]]:
    """A box for every piece, and the frames.

    `folded`: what a finding from outside rests on stands in one box beside it, circumstances in the kinds of cause.
    """
    boxes = RuleBoxes(written, marks)
    opened = {key for key in (*written.observations, *written.findings) if written.part_of[key]}
    for key, row in written.observations.items():
        if key in opened or not folded:
            column = LOOKED if key in opened else SEEN
            boxes.add(MapBox(key, "observation", column, boxes.where(key, row.place), _title(written, key)))
    for key, finding in written.findings.items():
        column, title = SIGHTS if key in opened else MEANS, _title(written, key)
        title += "" if folded else _farther(written, key, opened)
        boxes.add(MapBox(key, "finding", column, boxes.where(key, finding.place), title))
    for box in (*_failures(written), *(_rests(written, opened) if folded else ()), *_kinds(written, folded=folded)):
        boxes.add(box)
    boxes.join_all(folded=folded)
    kinds = MapFrame(
        KINDS, "kinds of cause, and what makes them likelier or not", MODES, SIGHTS if folded else MODES, 0, MODES
    )
    parts = []
    for kind in dict.fromkeys(part.part for part in written.parts.values()):
        titles = _titles(written, kind)
        title = kind.replace("_", " ") + ("" if len(titles) == 1 else f": {', '.join(titles)}")
        parts.append(MapFrame(kind, title, MODES, LOOKED, 0, CAUSES))
    return boxes, boxes.frames(parts, (SITE_FRAME, kinds), (SEEN, MEANS))


def _title(written: RulesAsWritten, key: str) -> str:
    return without_part(written.titles[key], [written.parts[name].title for name in written.part_of[key]])


def _titles(written: RulesAsWritten, kind: str) -> list[str]:
    return [part.title for part in written.parts.values() if part.part == kind]


def _farther(written: RulesAsWritten, key: str, opened: set[str]) -> str:
    """What a finding rests on that no gap lies between: a sight that rests on more than what is looked at, say."""
    seen = key in opened
    far = sorted(
        start
        for start, end in written.asks
        if end == key and ((start in opened) != seen or (seen and start in written.findings))
    )
    return f" (rests on {'; '.join(written.titles[start] for start in far)} as well)" if far else ""


def _rests(written: RulesAsWritten, opened: set[str]) -> Iterator[MapBox]:
    for finding in sorted(written.findings.keys() - opened):
        rests = sorted(start for start, end in written.asks if end == finding)
        kind: Kind = "observation" if len(rests) == 1 else "fold"
        text = listed([written.titles[key] for key in rests], LONGEST_LIST)
        if rests:
            yield MapBox(f"rests {finding}", kind, SEEN, file_of(written.findings[finding].place), text)


def _failures(written: RulesAsWritten) -> Iterator[MapBox]:
    for key, mode in written.modes.items():
        part = written.parts[written.part_of[key][0]]
        yield MapBox(key, "mode", MODES, part.part, f"{part.title}: {without_part(mode.text, [part.title])}")
    undrawn = _undrawn(written)
    for key, cause in written.causes.items():
        if written.part_of[key]:
            part = written.parts[written.part_of[key][0]]
            text = f"{without_part(cause.text, _titles(written, part.part))} ({cause.kind.replace('_', ' ')})"
            yield MapBox(key, "cause", CAUSES, part.part, text)
        elif key not in undrawn:
            yield MapBox(key, "condition", MODES, SITE, cause.text)


def _undrawn(written: RulesAsWritten) -> list[str]:
    """The conditions that nothing shows."""
    told = {start for start, _ in written.shows}
    return sorted(key for key, row in written.causes.items() if not row.component and key not in told)


def _kinds(written: RulesAsWritten, *, folded: bool) -> Iterator[MapBox]:
    columns = (MODES, CAUSES, SIGHTS) if folded else (MODES,)
    for place, kind in enumerate(sorted({kind for _, kind in written.weighs})):
        number = sum(cause.kind == kind for cause in written.causes.values())
        text = f"{kind.replace('_', ' ')}: {plural(number, 'cause')}"
        if folded:
            titles = sorted(written.titles[key] for key, weighed in written.weighs if weighed == kind)
            text += f"; {listed(titles, LONGEST_KIND)}"
        yield MapBox(f"kind {kind}", "fold", columns[place % len(columns)], KINDS, text)


def _folded_pieces(written: RulesAsWritten, marks: Marks) -> tuple[RuleBoxes, tuple[MapFrame, ...]]:
    """Observations by file and state, findings by file and use, failure modes by kind of part, causes by their kind."""
    boxes = RuleBoxes(written, marks)

    def count(key: str, box: MapBox, noun: str) -> None:
        boxes.add(box, key)
        members = boxes.members[box.key]
        number = sum(len(written.rules.get(member, ())) for member in members)
        rules = f", {plural(number, 'rule')}" if noun == "finding" else ""
        boxes.boxes[box.key] = box._replace(text=f"{box.text}: {plural(len(members), noun)}{rules}")

    for key, row in written.observations.items():
        state = row.state.replace("_", " ") or "worked out from others"
        column = LOOKED if written.part_of[key] else SEEN
        name = f"observations {file_of(row.place)} {state}"
        count(key, MapBox(name, "observation", column, boxes.where(key, row.place), state), "observation")
    for key, finding in written.findings.items():
        part = bool(written.part_of[key])
        use = "show failures" if finding.reasons else "weigh on causes" if finding.weighs else "steps"
        role, column = ("seen", SIGHTS) if part else (use, MEANS)
        name = f"findings {file_of(finding.place)} {role}"
        count(key, MapBox(name, "finding", column, boxes.where(key, finding.place), role), "finding")
    shown: dict[str, set[str]] = {}
    for key, mode in written.modes.items():
        name = f"mode {file_of(mode.place)} {own_name(mode.name)}"
        seen = shown.setdefault(name, set())
        seen |= {end for start, end in written.shows if start == key}
        text = without_part(mode.text, [written.parts[name].title for name in written.part_of[key]])
        boxes.add(MapBox(name, "mode", MODES, boxes.where(key, mode.place), text), key)
    for name, ends in shown.items():
        text = f"{boxes.boxes[name].text} ({plural(len(ends), 'finding')})"
        boxes.boxes[name] = boxes.boxes[name]._replace(text=text)
    for key, cause in written.causes.items():
        kind = cause.kind.replace("_", " ")
        if cause.component:
            box = MapBox(f"causes {file_of(cause.place)} {kind}", "cause", CAUSES, boxes.where(key, cause.place), kind)
            count(key, box, "cause")
        else:
            boxes.add(MapBox(f"condition {own_name(cause.name)}", "condition", MODES, SITE, cause.text), key)
    for kind in sorted({kind for _, kind in written.weighs}):
        boxes.add(MapBox(f"kind {kind}", "fold", MODES, KINDS, kind.replace("_", " ")))
    boxes.join_all()
    kinds = sorted({part.part for part in written.parts.values()})
    parts = [MapFrame(kind, kind.replace("_", " "), MODES, LOOKED, 0, MODES) for kind in kinds]
    return boxes, boxes.frames(parts, (SITE_FRAME, MapFrame(KINDS, KINDS, MODES, MODES, 0, MODES)), (SEEN, MEANS))


def rule_map(library: Library, about: str) -> Map:
    """The map of the whole rule base where `about` is empty, else of a type, a kind of part or a component.

    Raises:
        ProblemsFoundError: `about` is none of these, or a file of cases has problems.
    """
    rows = [ready.assembly for _, ready in sorted(library.all().items())]
    written = RulesAsWritten(rows)
    kinds = {part.part for part in written.parts.values()}
    named = about.casefold().strip().replace(" ", "_")
    chosen = next((row for row in rows if row.type.casefold() == about.casefold().strip()), None)
    parts = {name for name, part in written.parts.items() if named in (name, part.part)}
    if about and chosen is None and not parts:
        known = [*(row.type for row in rows), *sorted(kinds), *sorted(set(written.parts) - kinds)]
        raise no_such("--rules", "there is no type of assembly, kind of part or component", about, known)
    marks = marks_of(written, exercised(library))
    if not about:
        return whole_map(rows, written, marks)
    return type_map(chosen, RulesAsWritten([chosen]), marks) if chosen else part_map(named, written.about(parts), marks)


def whole_map(assemblies: Sequence[Assembly], written: RulesAsWritten, marks: Marks) -> Map:
    """The map of all types together."""
    boxes, frames = _folded_pieces(written, marks)
    title = f"The whole rule base: map of {plural(len(assemblies), 'type')} of assembly"
    subtitle = f"{', '.join(assembly.type for assembly in assemblies)}: {written.counts()}"
    return boxes.drawn(title, frames, boxes.words["folded"])._replace(subtitle=subtitle)


def part_map(name: str, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of what is written of a part; `name` is its kind's or the component's."""
    boxes, frames = _every_piece(written, marks, folded=True)
    title = f"{name.replace('_', ' ')}: map of its rules, in all types of assembly that have it"
    drawn = boxes.drawn(title, frames, boxes.words["folded to a part"])
    legend: dict[Kind, str] = {kind: text for kind, text in drawn.legend.items() if kind != "condition"}
    return drawn._replace(columns=drawn.columns | {next(iter(drawn.columns)): 200.0}, legend=legend)


def type_map(assembly: Assembly, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of one type; what is written for several of its parts is drawn once."""
    boxes, frames = _every_piece(written, marks, folded=False)
    texts = [written.causes[key].text for key in _undrawn(written)]
    # The conditions that a type has but nothing on it shows are there for other types.
    left_out = f"Not drawn, since nothing on this type shows them, {len(texts)} site conditions: {'; '.join(texts)}."
    drawn = {"findings": len(written.findings), "causes": len(written.causes)}
    full = {"all findings": len(assembly.findings), "all causes": len(assembly.causes)}
    notes = (boxes.words["written once"].format_map(drawn | full), *([left_out] if texts else []))
    return boxes.drawn(f"{assembly.type}, {assembly.title}: map of its rules", frames, *notes)
