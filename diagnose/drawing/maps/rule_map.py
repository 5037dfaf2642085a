"""Maps of the rule base, and that of the whole: files and parts with counts, every failure mode and site condition."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.library import Library
from diagnose.drawing.maps.detailed_map import (
    CAUSES,
    COLUMNS,
    LOOKED,
    MEANS,
    MODES,
    SEEN,
    SIGHTS,
    part_map,
    type_map,
)
from diagnose.drawing.maps.elements import (
    FOLD,
    JOINTS,
    KINDS,
    LEGEND,
    SITE,
    Kind,
    Manner,
    Map,
    MapBox,
    MapFrame,
    Net,
    Pairs,
    Tap,
    frames_of_files,
    into_left,
    into_right,
)
from diagnose.drawing.maps.map_dot import map_dot
from diagnose.drawing.maps.map_marks import MARKED, Marks, assemblies, counted, exercised, marks_of
from diagnose.drawing.maps.rules_as_written import RulesAsWritten, file_of, plural, without_part
from diagnose.knowledge.fields import Problems, unknown
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place, ProblemsFoundError

FOLDED = (
    "Folded: observations by file and the state they need; findings by file and what they are for; causes by part and "
    "kind. Everything counts once as it is written, whatever number of parts and types it is written out for. A number "
    "in brackets says how many of a box are marked; the map of a type or part shows which."
)
Links = dict[tuple[str, str], Manner]


class FoldedGroup(NamedTuple):
    """What one box stands for."""

    kind: Kind
    column: int
    frame: str
    text: str
    noun: str


def whole_map(assemblies: Sequence[Assembly], written: RulesAsWritten, marks: Marks) -> Map:
    """The map of all types together."""
    whole = _MapOfAll(written, marks)
    notes = (MARKED, FOLDED, *counted(whole.group_of, marks))
    title = f"The whole rule base: map of {plural(len(assemblies), 'type')} of assembly"
    subtitle = f"{', '.join(assembly.type for assembly in assemblies)}: {written.counts()}"
    nets = (*whole.asking(), *whole.showing(), *whole.bringing(), *whole.opened())
    return Map(title, subtitle, COLUMNS, whole.frames(), whole.items(), nets, (*LEGEND, FOLD), JOINTS, notes)


class _MapOfAll:
    """Groups of what is written, and what joins them."""

    def __init__(self, written: RulesAsWritten, marks: Marks) -> None:
        self.written, self.marks = written, marks
        self.kind_of = {part.name: part.kind for part in written.parts.values()}
        self.group_of: dict[str, str] = {}
        self.groups: dict[str, FoldedGroup] = {}
        self.members: dict[str, list[str]] = {}
        self._observations()
        self._findings()
        self._modes_and_causes()

    def _add(self, key: str, name: str, group: FoldedGroup) -> None:
        self.group_of[key] = name
        self.groups.setdefault(name, group)
        self.members.setdefault(name, []).append(key)

    def _observations(self) -> None:
        for key, row in self.written.observations.items():
            state = row.state.replace("_", " ") or "worked out from others"
            frame = self._frame(key, file_of(row.place))
            column = LOOKED if self.written.part_of[key] else SEEN
            group = FoldedGroup("observation", column, frame, state, "observation")
            self._add(key, f"observations {file_of(row.place)} {state}", group)

    def _findings(self) -> None:
        for key, row in self.written.findings.items():
            part = bool(self.written.part_of[key])
            role = "seen" if part else "show failures" if row.reasons else "weigh on causes" if row.weighs else "steps"
            frame = self._frame(key, file_of(row.place))
            group = FoldedGroup("finding", SIGHTS if part else MEANS, frame, role, "finding")
            self._add(key, f"findings {file_of(row.place)} {role}", group)

    def _modes_and_causes(self) -> None:
        for key, mode in self.written.modes.items():
            titles = [self.written.parts[name].title for name in self.written.part_of[key]]
            text = without_part(mode.text, titles)
            frame = self.kind_of[self.written.part_of[key][0]]
            self._add(
                key, f"mode {file_of(mode.place)} {own_name(mode.name)}", FoldedGroup("mode", MODES, frame, text, "")
            )
        for key, cause in self.written.causes.items():
            kind = cause.kind.replace("_", " ")
            if cause.component:
                frame = self.kind_of[self.written.part_of[key][0]]
                self._add(
                    key, f"causes {file_of(cause.place)} {kind}", FoldedGroup("cause", CAUSES, frame, kind, "cause")
                )
            else:
                self._add(
                    key, f"condition {own_name(cause.name)}", FoldedGroup("condition", MODES, SITE, cause.text, "")
                )

    def _frame(self, key: str, file: str) -> str:
        names = self.written.part_of[key]
        return self.kind_of[names[0]] if names else file

    def frames(self) -> tuple[MapFrame, ...]:
        """One for each kind of part, the site conditions and the kinds of cause; on the left one for each file."""
        parts = [
            MapFrame(kind, kind.replace("_", " "), MODES, LOOKED, 0, MODES)
            for kind in sorted(set(self.kind_of.values()))
        ]
        site = (
            [MapFrame(SITE, SITE, MODES, MODES, 0, MODES)] if any(g.frame == SITE for g in self.groups.values()) else []
        )
        kinds = [MapFrame(KINDS, "kinds of cause", MODES, MODES, 0, MODES)] if self.written.weighs else []
        files = {group.frame for group in self.groups.values() if group.column in (SEEN, MEANS)}
        return (*parts, *site, *kinds, *frames_of_files(files, SEEN, MEANS))

    def items(self) -> tuple[MapBox, ...]:
        """Every group with its counts, and the kinds of cause."""
        kinds = sorted({kind for _, kind in self.written.weighs})
        boxes = [self._item(name, group) for name, group in self.groups.items()]
        return (*boxes, *(MapBox(f"kind {kind}", "fold", MODES, KINDS, kind.replace("_", " ")) for kind in kinds))

    def _item(self, name: str, group: FoldedGroup) -> MapBox:
        members = self.members[name]
        heavy = [key for key in members if key in self.marks.unreached]
        dashed = [key for key in members if key in self.marks.caseless]
        if group.noun or len(members) > 1:
            told = ((heavy, "marked with a heavy outline"), (dashed, "with a dashed one, without a case"))
            said = [f"[{len(rows)} {text}]" for rows, text in told if rows]
        else:
            tables = (self.marks.unreached, self.marks.caseless)
            said = [f"[{table[key]}]" for key in members for table in tables if key in table]
        text = f"{group.text}: {plural(len(members), group.noun)}" if group.noun else group.text
        if group.noun == "finding":
            text += f", {plural(sum(len(self.written.rules.get(key, ())) for key in members), 'rule')}"
        if group.kind == "mode":
            shown = {end for start, end in self.written.shows if start in members}
            text += f" ({plural(len(shown), 'finding')})"
        return MapBox(name, group.kind, group.column, group.frame, text, tuple(said), bool(heavy), bool(dashed))

    def asking(self) -> Iterator[Net]:
        """Observations and findings to the findings that rest on them, where no file lies between."""
        links: dict[str, dict[str, bool]] = {}
        for (start, end), places in self.written.asks.items():
            one, other = self.group_of[start], self.group_of[end]
            if one != other:
                idle = links.setdefault(other, {})
                idle[one] = idle.get(one, True) and places <= self.marks.idle
        for end, starts in sorted(links.items()):
            taps = [Tap(start, manner="open" if idle else "plain") for start, idle in sorted(starts.items())]
            column = self.groups[end].column
            left = tuple(tap for tap in taps if self.groups[tap.key].column == SEEN)
            back = tuple(tap for tap in taps if self.groups[tap.key].column == MEANS)
            opened = tuple(tap for tap in taps if self.groups[tap.key].column == LOOKED)
            if column == MEANS and (left or back):
                yield Net(f"asks {end}", SEEN, left, (Tap(end),), back=back)
            elif column == SIGHTS and opened:
                yield Net(f"asks {end}", SIGHTS, (Tap(end),), opened, leftward=True)

    def showing(self) -> list[Net]:
        """Findings to failure modes, conditions and kinds of cause."""
        links: Links = {}
        for (start, end), hides in self.written.shows.items():
            if self.groups[self.group_of[start]].column == MODES:
                pair = (self.group_of[end], self.group_of[start])
                links[pair] = "hides" if hides and links.get(pair) != "plain" else "plain"
        links.update({(self.group_of[key], f"kind {kind}"): "plain" for key, kind in self.written.weighs})
        return into_right(links, MEANS, "shows")

    def bringing(self) -> list[Net]:
        """Failure modes to kinds of cause in their part."""
        return into_left(
            {(self.group_of[mode], self.group_of[cause]): "plain" for cause, mode in self.written.brings},
            MODES,
            "brings",
        )

    def opened(self) -> list[Net]:
        """What is seen on opened parts, to the causes."""
        links: Pairs = {
            (self.group_of[cause], self.group_of[sight]): "plain"
            for cause, sight in self.written.shows
            if self.groups[self.group_of[cause]].column == CAUSES
        }
        return into_right(links, CAUSES, "sight", leftward=True)


def draw_rules(library: Library, about: str) -> str:
    """A map as DOT text: of the whole rule base where `about` is empty, else of a type, a kind of part or a component.

    Raises:
        ProblemsFoundError: `about` is none of these, or a file of cases has problems.
    """
    return map_dot(rule_map(library, about))


def rule_map(library: Library, about: str) -> Map:
    """The map before it is drawn. Raises as `draw_rules` does."""
    rows = assemblies(library)
    written = RulesAsWritten(rows)
    kinds = {part.kind for part in written.parts.values()}
    named = about.casefold().strip().replace(" ", "_")
    chosen = next((row for row in rows if row.type.casefold() == about.casefold().strip()), None)
    parts = {part.name for part in written.parts.values() if named in (part.name, part.kind)}
    if about and chosen is None and not parts:
        raise _nothing(about, [*(row.type for row in rows), *sorted(kinds), *sorted(set(written.parts) - kinds)])
    marks = marks_of(written, exercised(library))
    if not about:
        return whole_map(rows, written, marks)
    return type_map(chosen, RulesAsWritten([chosen]), marks) if chosen else part_map(named, written.about(parts), marks)


def _nothing(about: str, known: list[str]) -> ProblemsFoundError:
    problems: Problems = []
    unknown(problems, Place("--rules"), "there is no type of assembly, kind of part or component", about, known)
    return ProblemsFoundError(problems)
