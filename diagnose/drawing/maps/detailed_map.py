"""The maps on which every piece has a box of its own: of a type, a poster; of a kind of part or a component, one page.

On the left what is seen and read from outside with what it means; on the right the parts with how and why they fail,
and what is seen when they are opened, which leads to the causes from the other side.
"""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.drawing.maps.elements import (
    FOLD,
    JOINTS,
    KINDS,
    LEGEND,
    SITE,
    Column,
    Kind,
    Manner,
    Map,
    MapBox,
    MapFrame,
    Net,
    Pairs,
    Tap,
    frames_of_files,
    into_right,
)
from diagnose.drawing.maps.map_marks import MARKED, Marks, counted, marked
from diagnose.drawing.maps.rules_as_written import RulesAsWritten, file_of, plural, without_part
from diagnose.drawing.node_text import listed
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place

COLUMNS = (
    Column("Asked or read", 160),
    Column("What it means", 170),
    Column("How it fails", 160),
    Column("Why", 190),
    Column("Seen on the opened part", 140),
    Column("Looked at", 140),
)
SEEN, MEANS, MODES, CAUSES, SIGHTS, LOOKED = range(6)
LONGEST_LIST, LONGEST_KIND = 84, 150
FOLDED = (
    "Folded: from outside, only findings that a failure mode of this part shows, each with all it rests on in one box "
    "beside it; circumstances, in the kinds of cause that they weigh on. Each cause names its kind in brackets."
)


class DetailedMap:
    """The pieces of such a map.

    `folded`: what a finding from outside rests on stands in one box beside it, circumstances in the kinds of cause.
    """

    def __init__(self, written: RulesAsWritten, marks: Marks, *, folded: bool) -> None:
        self.written, self.marks, self.folded = written, marks, folded
        things = (*written.observations, *written.findings)
        self.opened = {key for key in things if written.part_of[key]}
        told = {start for start, _ in written.shows}
        self.undrawn = sorted(key for key, row in written.causes.items() if not row.component and key not in told)

    def frames(self) -> tuple[MapFrame, ...]:
        """All frames, those of the parts first."""
        shown = self.written.findings if self.folded else self.written.observations | self.written.findings
        files = {file_of(row.place) for key, row in shown.items() if key not in self.opened}
        return (*self._frames_of_parts(), *frames_of_files(files, SEEN, MEANS))

    def _frames_of_parts(self) -> Iterator[MapFrame]:
        """A frame for each kind of part, one for the site conditions, one for the kinds of cause."""
        for kind in dict.fromkeys(part.kind for part in self.written.parts.values()):
            titles = [part.title for part in self.written.parts.values() if part.kind == kind]
            title = kind.replace("_", " ") + ("" if len(titles) == 1 else f": {', '.join(titles)}")
            yield MapFrame(kind, title, MODES, LOOKED, 0, CAUSES)
        if any(not cause.component for cause in self.written.causes.values()):
            yield MapFrame(SITE, SITE, MODES, MODES, 0, MODES)
        if self.written.weighs:
            last = SIGHTS if self.folded else MODES
            yield MapFrame(KINDS, "kinds of cause, and what makes them likelier or not", MODES, last, 0, MODES)

    def items(self) -> tuple[MapBox, ...]:
        """Every box."""
        boxes = (*self._observations(), *self._findings(), *self._modes(), *self._causes(), *self._kinds())
        return tuple(marked(item, self.marks) for item in boxes)

    def _observations(self) -> Iterator[MapBox]:
        for key, row in self.written.observations.items():
            if key in self.opened or not self.folded:
                where = self._where(key, row.place)
                yield MapBox(key, "observation", LOOKED if key in self.opened else SEEN, where, self._title(key))
        for finding in sorted(self.written.findings.keys() - self.opened) if self.folded else ():
            rests = sorted(start for start, end in self.written.asks if end == finding)
            if rests:
                text = listed([self.written.title(key) for key in rests], LONGEST_LIST)
                kind: Kind = "observation" if len(rests) == 1 else "fold"
                frame = file_of(self.written.findings[finding].place)
                yield MapBox(f"rests {finding}", kind, SEEN, frame, text)

    def _findings(self) -> Iterator[MapBox]:
        for key, row in self.written.findings.items():
            far = sorted(start for start, end in self.written.asks if end == key and self._too_far(start, key))
            more = f" (rests on {'; '.join(map(self.written.title, far))} as well)" if far and not self.folded else ""
            column = SIGHTS if key in self.opened else MEANS
            yield MapBox(key, "finding", column, self._where(key, row.place), self._title(key) + more)

    def _modes(self) -> Iterator[MapBox]:
        for key, mode in self.written.modes.items():
            part = self.written.parts[self.written.part_of[key][0]]
            text = f"{part.title}: {without_part(mode.text, [part.title])}"
            yield MapBox(key, "mode", MODES, part.kind, text)

    def _causes(self) -> Iterator[MapBox]:
        for key, cause in self.written.causes.items():
            parts = [self.written.parts[name] for name in self.written.part_of[key]]
            if parts:
                titles = [part.title for part in self.written.parts.values() if part.kind == parts[0].kind]
                text = f"{without_part(cause.text, titles)} ({cause.kind.replace('_', ' ')})"
                yield MapBox(key, "cause", CAUSES, parts[0].kind, text)
            elif key not in self.undrawn:
                yield MapBox(key, "condition", MODES, SITE, cause.text)

    def _kinds(self) -> Iterator[MapBox]:
        columns = (MODES, CAUSES, SIGHTS) if self.folded else (MODES,)
        for place, kind in enumerate(sorted({kind for _, kind in self.written.weighs})):
            number = sum(cause.kind == kind for cause in self.written.causes.values())
            text = f"{kind.replace('_', ' ')}: {plural(number, 'cause')}"
            if self.folded:
                titles = sorted(self.written.title(key) for key, weighed in self.written.weighs if weighed == kind)
                text += f"; {listed(titles, LONGEST_KIND)}"
            yield MapBox(f"kind {kind}", "fold", columns[place % len(columns)], KINDS, text)

    def _where(self, key: str, place: Place) -> str:
        names = self.written.part_of[key]
        return self.written.parts[names[0]].kind if names else file_of(place)

    def _title(self, key: str) -> str:
        return without_part(
            self.written.title(key), [self.written.parts[name].title for name in self.written.part_of[key]]
        )

    def _too_far(self, start: str, finding: str) -> bool:
        """Whether no gap lies between the two: a sight that rests on more than what is looked at, and the like."""
        one, other = start in self.opened, finding in self.opened
        return one != other or (other and start in self.written.findings)

    def nets(self) -> tuple[Net, ...]:
        """Every line."""
        return (*self._asking(), *self._showing(), *self._bringing())

    def _asking(self) -> Iterator[Net]:
        """What findings rest on, on either side."""
        for finding in sorted(self.written.findings):
            if finding not in self.opened and self.folded:
                idle = set(self.written.rules.get(finding, ())) <= self.marks.idle
                if any(end == finding for _, end in self.written.asks):
                    tap = Tap(f"rests {finding}", manner="open" if idle else "plain")
                    yield Net(f"asks {finding}", SEEN, (tap,), (Tap(finding),))
                continue
            taps = [self._tap(link) for link in sorted(self.written.asks) if link[1] == finding]
            near = [tap for tap in taps if not self._too_far(tap.key, finding)]
            asked = tuple(tap for tap in near if tap.key in self.written.observations)
            back = tuple(tap for tap in near if tap.key in self.written.findings)
            if finding in self.opened and asked:
                yield Net(f"asks {finding}", SIGHTS, (Tap(finding),), asked, leftward=True)
            elif near:
                yield Net(f"asks {finding}", SEEN, asked, (Tap(finding),), back=back)

    def _tap(self, link: tuple[str, str]) -> Tap:
        return Tap(link[0], manner="open" if self.written.asks[link] <= self.marks.idle else "plain")

    def _showing(self) -> Iterator[Net]:
        """Findings to failure modes, conditions and kinds of cause; sights to causes."""
        outside: dict[tuple[str, str], Manner] = {}
        sights: dict[tuple[str, str], Manner] = {}
        for (start, finding), hides in self.written.shows.items():
            if start in self.written.causes and self.written.part_of[start]:
                sights[start, finding] = "hides" if hides else "plain"
            else:
                outside[finding, start] = "hides" if hides else "plain"
        weighs: Pairs = {} if self.folded else {(key, f"kind {kind}"): "plain" for key, kind in self.written.weighs}
        yield from into_right({**outside, **weighs}, MEANS, "shows")
        yield from into_right(sights, CAUSES, "sight", leftward=True)

    def _bringing(self) -> Iterator[Net]:
        """A line for each failure mode of a kind of part, from those of its components to their causes."""
        alike: dict[tuple[str, str], list[str]] = {}
        for key, mode in self.written.modes.items():
            alike.setdefault((file_of(mode.place), own_name(mode.name)), []).append(key)
        for (file, name), modes in sorted(alike.items()):
            causes = sorted({cause for cause, mode in self.written.brings if mode in modes})
            if causes:
                yield Net(f"brings {file} {name}", MODES, tuple(map(Tap, sorted(modes))), tuple(map(Tap, causes)))


def part_map(name: str, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of what is written of a part; `name` is its kind's or the component's."""
    detailed = DetailedMap(written, marks, folded=True)
    items = detailed.items()
    drawn = {item.key for item in items}
    notes = (MARKED, FOLDED, *counted(drawn, marks))
    title = f"{name.replace('_', ' ')}: map of its rules, in all types of assembly that have it"
    frames, nets = detailed.frames(), detailed.nets()
    legend = tuple(row for row in (*LEGEND, FOLD) if row[0] != "condition")
    columns = (COLUMNS[0]._replace(width=200), *COLUMNS[1:])
    return Map(title, written.counts(), columns, frames, items, nets, legend, JOINTS, notes)


def type_map(assembly: Assembly, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of one type; what is written for several of its parts is drawn once."""
    detailed = DetailedMap(written, marks, folded=False)
    items = detailed.items()
    notes = (
        MARKED,
        _folded(assembly, written),
        *_undrawn(written, detailed),
        *counted({item.key for item in items}, marks),
    )
    title = f"{assembly.type}, {assembly.title}: map of its rules"
    frames, nets = detailed.frames(), detailed.nets()
    return Map(title, written.counts(), COLUMNS, frames, items, nets, (*LEGEND, FOLD), JOINTS, notes)


def _folded(assembly: Assembly, written: RulesAsWritten) -> str:
    drawn = len(written.findings), len(written.causes)
    full = len(assembly.findings), len(assembly.causes)
    return (
        "Drawn once: what is written once for several parts of a kind or for a line and its bypass, so that "
        f"{drawn[0]} findings stand for {full[0]}, and {drawn[1]} causes and conditions for {full[1]}. "
        "A circumstance leads to kinds of cause; each cause names its kind in brackets. "
        "A dashed line that leaves a finding to the left is one finding that another rests on."
    )


def _undrawn(written: RulesAsWritten, detailed: DetailedMap) -> tuple[str, ...]:
    """The conditions that a type has but nothing on it shows; they are there for other types."""
    if not detailed.undrawn:
        return ()
    texts = "; ".join(written.causes[key].text for key in detailed.undrawn)
    return (f"Not drawn, since nothing on this type shows them, {len(detailed.undrawn)} site conditions: {texts}.",)
