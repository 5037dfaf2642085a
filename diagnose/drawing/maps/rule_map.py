"""Maps of the rule base: of the whole, with counts; of a type, a poster; of a kind of part or component, one page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.library import Library
from diagnose.drawing.canvas import Canvas
from diagnose.drawing.maps.elements import (
    KINDS,
    SITE,
    Kind,
    Links,
    Map,
    MapBox,
    MapFrame,
    Net,
    Tap,
    all_frames,
    columns_of,
    into_right,
)
from diagnose.drawing.maps.elements import WORDS as MAP_WORDS
from diagnose.drawing.maps.map_picture import map_picture
from diagnose.drawing.maps.rules_as_written import (
    Marks,
    RulesAsWritten,
    counted,
    exercised,
    file_of,
    marks_of,
    plural,
    without_part,
)
from diagnose.drawing.node_text import listed
from diagnose.knowledge.fields import no_such
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place

WORDS = MAP_WORDS["rules"]
SEEN, MEANS, MODES, CAUSES, SIGHTS, LOOKED = range(6)
SITE_FRAME = MapFrame(SITE, SITE, MODES, MODES, 0, MODES)
LONGEST_LIST, LONGEST_KIND = 84, 150


class Group(NamedTuple):
    """What one box stands for. What is folded into it is counted by its `noun`; "" where it is one piece."""

    kind: Kind
    column: int
    frame: str
    text: str
    noun: str = ""


class RuleBoxes:
    """What is drawn of what is written: `box_of` has the box of each piece, `groups` what each box stands for.

    Those who fold otherwise say how in `fill` and `parts`.
    """

    kinds_frame = MapFrame(KINDS, KINDS, MODES, MODES, 0, MODES)

    def __init__(self, written: RulesAsWritten, marks: Marks) -> None:
        self.written, self.marks = written, marks
        self.box_of: dict[str, str] = {}
        self.groups: dict[str, Group] = {}
        self.members: dict[str, list[str]] = {}
        self.weighs: Iterable[tuple[str, str]] = written.weighs
        self.fill()

    def fill(self) -> None:
        """Adds every piece and every box without one."""
        raise NotImplementedError

    def parts(self) -> Iterator[MapFrame]:
        """A frame for each kind of part."""
        raise NotImplementedError

    def add(self, key: str, name: str, group: Group) -> None:
        """Adds a piece to the box of this name."""
        self.box_of[key] = name
        self.groups.setdefault(name, group)
        self.members.setdefault(name, []).append(key)

    def where(self, key: str, place: Place) -> str:
        """The frame of a piece: that of its part's kind, else that of its file."""
        names = self.written.part_of[key]
        return self.written.parts[names[0]].part if names else file_of(place)

    def frames(self) -> tuple[MapFrame, ...]:
        """All frames that hold something: those of the parts, of what concerns all of them, then of the files."""
        return all_frames(self.items(), self.parts(), (SITE_FRAME, self.kinds_frame), (SEEN, MEANS))

    def items(self) -> tuple[MapBox, ...]:
        """Every box; one piece tells how it is marked, of several it is counted."""
        return tuple(self._item(name, group) for name, group in self.groups.items())

    def _item(self, name: str, group: Group) -> MapBox:
        members = self.members.get(name, ())
        tables = (self.marks.unreached, self.marks.caseless)
        heavy, dashed = ([key for key in members if key in table] for table in tables)
        if group.noun or len(members) > 1:
            told = ((heavy, "marked with a heavy outline"), (dashed, "with a dashed one, without a case"))
            said = [f"[{len(rows)} {text}]" for rows, text in told if rows]
        else:
            said = [f"[{table[key]}]" for key in members for table in tables if key in table]
        text = f"{group.text}: {plural(len(members), group.noun)}" if group.noun else group.text
        if group.noun == "finding":
            text += f", {plural(sum(len(self.written.rules.get(key, ())) for key in members), 'rule')}"
        return MapBox(name, group.kind, group.column, group.frame, text, tuple(said), bool(heavy), bool(dashed))

    def nets(self) -> tuple[Net, ...]:
        """Every line."""
        return (*self._asking(), *self._showing(), *self._bringing())

    def start_of(self, start: str, _end: str) -> str | None:
        """The box that a line from what is asked for to a finding leaves; None where it is not drawn."""
        return self.box_of.get(start)

    def _asking(self) -> Iterator[Net]:
        """What findings rest on, on either side, where no gap lies between the two."""
        links: dict[str, dict[str, bool]] = {}
        for (start, end), places in self.written.asks.items():
            one, other = self.start_of(start, end), self.box_of[end]
            if one is not None and one != other:
                idle = links.setdefault(other, {})
                idle[one] = idle.get(one, True) and places <= self.marks.idle
        for end, starts in sorted(links.items()):
            taps = {SEEN: (), MEANS: (), LOOKED: ()} | self._by_column(starts)
            if self.groups[end].column == MEANS and (taps[SEEN] or taps[MEANS]):
                yield Net(f"asks {end}", SEEN, taps[SEEN], (Tap(end),), back=taps[MEANS])
            elif self.groups[end].column == SIGHTS and taps[LOOKED]:
                yield Net(f"asks {end}", SIGHTS, (Tap(end),), taps[LOOKED], leftward=True)

    def _by_column(self, starts: dict[str, bool]) -> dict[int, tuple[Tap, ...]]:
        found: dict[int, tuple[Tap, ...]] = {}
        for start, idle in sorted(starts.items()):
            column = self.groups[start].column
            found[column] = (*found.get(column, ()), Tap(start, manner="open" if idle else "plain"))
        return found

    def _showing(self) -> Iterator[Net]:
        """Findings to failure modes, conditions and kinds of cause; sights to causes."""
        outside: Links = {(self.box_of[key], f"kind {kind}"): "plain" for key, kind in self.weighs}
        sights: Links = {}
        for (start, end), hides in self.written.shows.items():
            cause, finding = self.box_of[start], self.box_of[end]
            if self.groups[cause].column == CAUSES:
                sights[cause, finding] = "plain"
            elif outside.get((finding, cause)) != "plain":
                outside[finding, cause] = "hides" if hides else "plain"
        yield from into_right(outside, MEANS, "shows")
        yield from into_right(sights, CAUSES, "sight", leftward=True)

    def _bringing(self) -> Iterator[Net]:
        """A net for each failure mode of a kind of part, from those of its components to their causes."""
        alike: dict[str, list[str]] = {}
        for key, mode in self.written.modes.items():
            alike.setdefault(f"{file_of(mode.place)} {own_name(mode.name)}", []).append(key)
        for name, modes in sorted(alike.items()):
            starts = {self.box_of[mode] for mode in modes}
            ends = {self.box_of[cause] for cause, mode in self.written.brings if mode in modes}
            if ends:
                yield Net(f"brings {name}", MODES, tuple(map(Tap, sorted(starts))), tuple(map(Tap, sorted(ends))))


class EveryPiece(RuleBoxes):
    """A box for every piece.

    `folded`: what a finding from outside rests on stands in one box beside it, circumstances in the kinds of cause.
    """

    def __init__(self, written: RulesAsWritten, marks: Marks, *, folded: bool) -> None:
        self.folded = folded
        things = (*written.observations, *written.findings)
        self.opened = {key for key in things if written.part_of[key]}
        told = {start for start, _ in written.shows}
        self.undrawn = sorted(key for key, row in written.causes.items() if not row.component and key not in told)
        super().__init__(written, marks)
        self.weighs = () if folded else written.weighs
        last = SIGHTS if folded else MODES
        title = "kinds of cause, and what makes them likelier or not"
        self.kinds_frame = self.kinds_frame._replace(title=title, last=last)

    def parts(self) -> Iterator[MapFrame]:
        """With the titles of the parts of a kind, where there are several."""
        for kind in dict.fromkeys(part.part for part in self.written.parts.values()):
            titles = self._titles(kind)
            title = kind.replace("_", " ") + ("" if len(titles) == 1 else f": {', '.join(titles)}")
            yield MapFrame(kind, title, MODES, LOOKED, 0, CAUSES)

    def _titles(self, kind: str) -> list[str]:
        return [part.title for part in self.written.parts.values() if part.part == kind]

    def start_of(self, start: str, end: str) -> str | None:
        """Where all that an outside finding rests on is one box, that one."""
        return f"rests {end}" if self.folded and end not in self.opened else super().start_of(start, end)

    def fill(self) -> None:
        """Piece by piece."""
        for key, group in (*self._looks(), *self._findings(), *self._failures()):
            self.add(key, key, group)
        self.groups |= dict(self._rests()) if self.folded else {}
        self.groups |= dict(self._kinds())

    def _looks(self) -> Iterator[tuple[str, Group]]:
        for key, row in self.written.observations.items():
            if key in self.opened or not self.folded:
                column = LOOKED if key in self.opened else SEEN
                yield key, Group("observation", column, self.where(key, row.place), self._title(key))

    def _findings(self) -> Iterator[tuple[str, Group]]:
        for key, row in self.written.findings.items():
            seen = key in self.opened
            # No gap lies between the two: a sight that rests on more than what is looked at, and the like.
            far = sorted(
                start
                for start, end in self.written.asks
                if end == key and ((start in self.opened) != seen or (seen and start in self.written.findings))
            )
            further = "; ".join(self.written.titles[start] for start in far)
            more = f" (rests on {further} as well)" if far and not self.folded else ""
            column = SIGHTS if key in self.opened else MEANS
            yield key, Group("finding", column, self.where(key, row.place), self._title(key) + more)

    def _rests(self) -> Iterator[tuple[str, Group]]:
        for finding in sorted(self.written.findings.keys() - self.opened):
            rests = sorted(start for start, end in self.written.asks if end == finding)
            kind: Kind = "observation" if len(rests) == 1 else "fold"
            text = listed([self.written.titles[key] for key in rests], LONGEST_LIST)
            if rests:
                yield f"rests {finding}", Group(kind, SEEN, file_of(self.written.findings[finding].place), text)

    def _failures(self) -> Iterator[tuple[str, Group]]:
        for key, mode in self.written.modes.items():
            part = self.written.parts[self.written.part_of[key][0]]
            text = f"{part.title}: {without_part(mode.text, [part.title])}"
            yield key, Group("mode", MODES, part.part, text)
        for key, cause in self.written.causes.items():
            if self.written.part_of[key]:
                part = self.written.parts[self.written.part_of[key][0]]
                text = f"{without_part(cause.text, self._titles(part.part))} ({cause.kind.replace('_', ' ')})"
                yield key, Group("cause", CAUSES, part.part, text)
            elif key not in self.undrawn:
                yield key, Group("condition", MODES, SITE, cause.text)

    def _kinds(self) -> Iterator[tuple[str, Group]]:
        columns = (MODES, CAUSES, SIGHTS) if self.folded else (MODES,)
        for place, kind in enumerate(sorted({kind for _, kind in self.written.weighs})):
            number = sum(cause.kind == kind for cause in self.written.causes.values())
            text = f"{kind.replace('_', ' ')}: {plural(number, 'cause')}"
            if self.folded:
                titles = sorted(self.written.titles[key] for key, weighed in self.written.weighs if weighed == kind)
                text += f"; {listed(titles, LONGEST_KIND)}"
            yield f"kind {kind}", Group("fold", columns[place % len(columns)], KINDS, text)

    def _title(self, key: str) -> str:
        titles = [self.written.parts[name].title for name in self.written.part_of[key]]
        return without_part(self.written.titles[key], titles)


class FoldedPieces(RuleBoxes):
    """Observations by file and state, findings by file and use, failure modes by kind of part, causes by their kind."""

    def parts(self) -> Iterator[MapFrame]:
        """By the names of the kinds."""
        for kind in sorted({part.part for part in self.written.parts.values()}):
            yield MapFrame(kind, kind.replace("_", " "), MODES, LOOKED, 0, MODES)

    def fill(self) -> None:
        """Group by group."""
        written = self.written
        for key, row in written.observations.items():
            state = row.state.replace("_", " ") or "worked out from others"
            column = LOOKED if written.part_of[key] else SEEN
            group = Group("observation", column, self.where(key, row.place), state, "observation")
            self.add(key, f"observations {file_of(row.place)} {state}", group)
        for key, finding in written.findings.items():
            part = bool(written.part_of[key])
            use = "show failures" if finding.reasons else "weigh on causes" if finding.weighs else "steps"
            role = "seen" if part else use
            group = Group("finding", SIGHTS if part else MEANS, self.where(key, finding.place), role, "finding")
            self.add(key, f"findings {file_of(finding.place)} {role}", group)
        for key, mode in written.modes.items():
            text = without_part(mode.text, [written.parts[name].title for name in written.part_of[key]])
            group = Group("mode", MODES, self.where(key, mode.place), text)
            self.add(key, f"mode {file_of(mode.place)} {own_name(mode.name)}", group)
        for key, cause in written.causes.items():
            kind = cause.kind.replace("_", " ")
            if cause.component:
                group = Group("cause", CAUSES, self.where(key, cause.place), kind, "cause")
                self.add(key, f"causes {file_of(cause.place)} {kind}", group)
            else:
                self.add(key, f"condition {own_name(cause.name)}", Group("condition", MODES, SITE, cause.text))
        for kind in sorted({kind for _, kind in written.weighs}):
            self.groups[f"kind {kind}"] = Group("fold", MODES, KINDS, kind.replace("_", " "))

    def items(self) -> tuple[MapBox, ...]:
        """With the number of findings that each failure mode shows."""
        items = []
        for box in super().items():
            shown = {end for start, end in self.written.shows if start in self.members.get(box.key, ())}
            more = f" ({plural(len(shown), 'finding')})" if box.kind == "mode" else ""
            items.append(box._replace(text=f"{box.text}{more}"))
        return tuple(items)


def draw_rules(library: Library, about: str) -> Canvas:
    """A map as a picture: of the whole rule base where `about` is empty, else of a type, a kind of part or a component.

    Raises:
        ProblemsFoundError: `about` is none of these, or a file of cases has problems.
    """
    return map_picture(rule_map(library, about))


def rule_map(library: Library, about: str) -> Map:
    """The map before it is drawn. Raises as `draw_rules` does."""
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
    title = f"The whole rule base: map of {plural(len(assemblies), 'type')} of assembly"
    subtitle = f"{', '.join(assembly.type for assembly in assemblies)}: {written.counts()}"
    return _map(FoldedPieces(written, marks), title, WORDS["folded"])._replace(subtitle=subtitle)


def part_map(name: str, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of what is written of a part; `name` is its kind's or the component's."""
    title = f"{name.replace('_', ' ')}: map of its rules, in all types of assembly that have it"
    drawn = _map(EveryPiece(written, marks, folded=True), title, WORDS["folded to a part"])
    legend: dict[Kind, str] = {kind: text for kind, text in drawn.legend.items() if kind != "condition"}
    return drawn._replace(columns=drawn.columns | {next(iter(drawn.columns)): 200.0}, legend=legend)


def type_map(assembly: Assembly, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of one type; what is written for several of its parts is drawn once."""
    boxes = EveryPiece(written, marks, folded=False)
    title = f"{assembly.type}, {assembly.title}: map of its rules"
    texts = "; ".join(written.causes[key].text for key in boxes.undrawn)
    count = len(boxes.undrawn)
    # The conditions that a type has but nothing on it shows are there for other types.
    undrawn = [f"Not drawn, since nothing on this type shows them, {count} site conditions: {texts}."] if count else []
    drawn = {"findings": len(written.findings), "causes": len(written.causes)}
    full = {"all findings": len(assembly.findings), "all causes": len(assembly.causes)}
    return _map(boxes, title, WORDS["written once"].format_map(drawn | full), *undrawn)


def _map(boxes: RuleBoxes, title: str, *notes: str) -> Map:
    written, said = boxes.written, (WORDS["marked"], *notes, *counted(boxes.box_of, boxes.marks))
    inside = boxes.frames(), boxes.items(), boxes.nets()
    return Map(title, written.counts(), columns_of("rules"), *inside, WORDS["legend"], WORDS["joints"], said)
