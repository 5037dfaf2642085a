"""The review sheet of a rule change, and the same as data."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from diagnose.diagnosis.wording import percent, plural
from diagnose.model.foreign import clean, cut
from diagnose.model.places import Place, Problem
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph
from diagnose.workshop.comparing.case_changes import LITTLE, CaseChange, ChanceChange, ValueChange
from diagnose.workshop.comparing.case_pairs import NewCase, UnreadCase
from diagnose.workshop.comparing.compare import CasesCompared, Comparison
from diagnose.workshop.comparing.rule_files import KINDS, RuleDifference, Value, WrittenThing

MOST_TEXT = 400
MOST_FINDINGS = 5
MOST_UNREAD = 10
MOST_NAMES = 5
# What is alike in so many cases or more is said once.
LEAST_EVERYWHERE = 3
HEADINGS = {
    "changed": "Changed in meaning",
    "added": "Added",
    "removed": "Removed",
    "renamed": "Renamed",
    "reworded": "Reworded: the text only, or the same value written otherwise",
}
MEASURE = (
    "Biggest change first: another cause leads; then the first repairs or the judgment of a reading are others; then "
    "by how far the ranking moved: half of the sum of the differences of all probabilities, scaled to 100 % (0 %: "
    "nothing moved, 100 %: everything). A finding that only one of the two has is told where it says that something is "
    "wrong."
)


def comparison_page(result: Comparison, most: int) -> Iterator[Block]:
    """The blocks of the sheet, with at most so many cases."""
    yield Heading(f"{clean(result.old)} and {clean(result.new)} compared", 1)
    if result.overlays:
        yield Paragraph(f"Laid over the second: {clean('; '.join(result.overlays))}.")
    counts = [f"{len(result.rules.of_kind(kind))} {kind}" for kind in KINDS if result.rules.of_kind(kind)]
    own = " What is laid over the second is among them; the place says so." if result.overlays and counts else ""
    yield Paragraph(f"Rules: {', '.join(counts) or 'no difference'}.{own}", strong=True)
    yield Paragraph(_told_of_cases(result), strong=True)
    for kind in KINDS:
        rows = result.rules.of_kind(kind)
        if rows:
            yield Heading(HEADINGS[kind])
            yield Entries(tuple(_difference(row) for row in rows))
    yield from _cases(result.cases, most)
    yield from _new(result.cases.new)
    yield from _unread(result.cases.unread)


def _told_of_cases(result: Comparison) -> str:
    cases = result.cases
    if result.problems:
        return "Cases: not run, for the rule base of one version cannot be used; its problems are told apart."
    if not cases.changed:
        return f"Cases: none of {cases.total} comes out otherwise.{_told_of_others(cases)}"
    others = sum(change.leads_otherwise for change in cases.changed)
    own, everywhere = _without_repeating(cases.changed)
    little = sum(change.is_little for change in own)
    more = ", but for the cautions that all of them tell" if everywhere else ""
    return (
        f"Cases: {len(cases.changed)} of {cases.total} come out otherwise; in {others} of these another cause leads, "
        f"and {little} moved only a little{more}.{_told_of_others(cases)}"
    )


def _told_of_others(cases: CasesCompared) -> str:
    same = cases.total - cases.worked
    told = f" {same} were not worked again, for their type means the same in both." if same else ""
    told += f" {_are(len(cases.new))} new; see the end." if cases.new else ""
    return told + (f" {len(cases.unread)} could not be read by one of the two; see the end." if cases.unread else "")


def _are(count: int) -> str:
    return f"{plural(count, 'case')} {'is' if count == 1 else 'are'}"


def _difference(row: RuleDifference) -> Entry:
    names = " -> ".join(dict.fromkeys(thing.name for thing in (row.old, row.new) if thing))
    told = f"{row.thing.file}: {', '.join(filter(None, (row.thing.section, names)))}"
    if row.kind in ("added", "removed") and row.about:
        told += f": {cut(row.about, MOST_TEXT)}"
    if row.how:
        told += f" ({row.how})"
    places = _places(*(thing and thing.place for thing in (row.old, row.new)))
    return Entry("", cut(clean(told), MOST_TEXT), (clean(places), *(_value(value, row) for value in row.values)))


def _places(old: Place | str | None, new: Place | str | None) -> str:
    return "; ".join(filter(None, (f"old {old}" if old else "", f"new {new}" if new else "")))


def _value(value: Value, row: RuleDifference) -> str:
    name = f"{', '.join(value.path)}: " if value.path else ""
    mark = " (wording)" if value.wording else ""
    places = _places(_within(value.old_place, row.old), _within(value.new_place, row.new))
    return f"{clean(name)}{_side(value.old)} -> {_side(value.new)}{mark} [{clean(places)}]"


def _within(place: Place | None, whole: WrittenThing | None) -> str:
    """Line and column alone where the file was named a line before."""
    return f"{place.line}:{place.column}" if place and whole and place.file == whole.place.file else str(place or "")


def _side(text: str | None) -> str:
    return "(nothing)" if text is None else cut(clean(text), MOST_TEXT) or "(empty)"


def _cases(cases: CasesCompared, most: int) -> Iterator[Block]:
    if not cases.changed:
        return
    yield Heading("Cases that come out otherwise")
    yield Paragraph(MEASURE)
    changed, everywhere = _without_repeating(cases.changed)
    if everywhere:
        yield Entries((Entry("", "in every one of them these cautions, which are not repeated", everywhere),))
    told = [change for change in changed if not change.is_little]
    for change in told[:most]:
        yield Heading(cut(clean(change.name), MOST_TEXT), 3)
        yield Entries(tuple(_change(change)))
    if len(told) > most:
        yield Paragraph(f"{len(told) - most} more cases come out otherwise and are left out; --cases-shown shows more.")
    if len(told) < len(changed):
        yield Paragraph(
            f"{len(changed) - len(told)} cases moved only a little and are not listed: the ranking by less than "
            f"{percent(LITTLE)}, and the same cause leads, with the same first repairs, judgment of readings and "
            f"cautions{', but for those above' if everywhere else ''}. --format json has them all."
        )


def _without_repeating(changes: Sequence[CaseChange]) -> tuple[list[CaseChange], tuple[str, ...]]:
    """The changes without the cautions that come or go in all of several, and these cautions."""
    if len(changes) < LEAST_EVERYWHERE:
        return list(changes), ()
    gone = set.intersection(*(set(change.cautions_gone) for change in changes))
    new = set.intersection(*(set(change.cautions_new) for change in changes))
    own = [
        change._replace(
            cautions_gone=tuple(text for text in change.cautions_gone if text not in gone),
            cautions_new=tuple(text for text in change.cautions_new if text not in new),
        )
        for change in changes
    ]
    return own, _cautions(sorted(gone), sorted(new))


def _cautions(gone: Iterable[str], new: Iterable[str]) -> tuple[str, ...]:
    return tuple(clean(row) for row in (*(f"gone: {text}" for text in gone), *(f"new: {text}" for text in new)))


def _change(change: CaseChange) -> Iterator[Entry]:
    yield Entry("", f"{change.type}, the ranking moved by {percent(change.distance)}", (clean(str(change.place)),))
    old, new = change.leader
    if change.leads_otherwise:
        yield Entry("", "another leads", (f"before: {_moved(old)}", f"now: {_moved(new)}"))
    yield from _rows("probabilities", (_moved(move) for move in change.moves))
    yield from _rows("readings", map(_otherwise, change.readings))
    findings = list(map(_otherwise, change.findings))
    left = len(findings) - MOST_FINDINGS
    yield from _rows("findings", findings[:MOST_FINDINGS] + ([f"and {left} more"] if left > 0 else []))
    for title, (before, now) in (("repair first", change.first), ("then", change.then)):
        if before != now:
            yield Entry("", title, (f"before: {clean(_list(before))}", f"now: {clean(_list(now))}"))
    yield from _rows("cautions", _cautions(change.cautions_gone, change.cautions_new))


def _rows(title: str, rows: Iterable[str]) -> Iterator[Entry]:
    told = tuple(rows)
    if told:
        yield Entry("", title, told)


def _moved(move: ChanceChange) -> str:
    old, new = (("not known" if chance is None else percent(chance)) for chance in (move.old, move.new))
    return f"{clean(move.text)}: {old} -> {new}"


def _otherwise(row: ValueChange) -> str:
    return clean(f"{row.name}: {row.old or '(not there)'} -> {row.new or '(not there)'}")


def _list(titles: Sequence[str]) -> str:
    return "; ".join(titles) or "(nothing)"


def _new(rows: Sequence[NewCase]) -> Iterator[Block]:
    """The new cases, together where the older rule base lacks the same for them."""
    if not rows:
        return
    groups: dict[tuple[str, ...], list[NewCase]] = {}
    for row in rows:
        groups.setdefault(row.old_lacks, []).append(row)
    yield Heading("New cases")
    yield Entries(tuple(_lacking(lacks, group) for lacks, group in list(groups.items())[:MOST_UNREAD]))
    if len(groups) > MOST_UNREAD:
        yield Paragraph(f"{len(groups) - MOST_UNREAD} more reasons are left out here; --format json has all cases.")


def _lacking(lacks: Sequence[str], rows: Sequence[NewCase]) -> Entry:
    told = f"{_are(len(rows))} new: the older rule base has no {' and no '.join(lacks)}"
    names = [f"{row.place}: {cut(row.name, MOST_TEXT)}" for row in rows[:MOST_NAMES]]
    left = [f"and {len(rows) - MOST_NAMES} more"] if len(rows) > MOST_NAMES else []
    return Entry("", cut(clean(told), MOST_TEXT), tuple(map(clean, names + left)))


def _unread(rows: Sequence[UnreadCase]) -> Iterator[Block]:
    if not rows:
        return
    yield Heading("Cases that one of the two cannot read")
    told = ((f"{cut(clean(row.name or row.place.file), MOST_TEXT)} ({row.version})", row) for row in rows[:MOST_UNREAD])
    yield Entries(tuple(Entry("", title, tuple(clean(one.lines()[0]) for one in row.problems)) for title, row in told))
    if len(rows) > MOST_UNREAD:
        yield Paragraph(f"{len(rows) - MOST_UNREAD} more are left out here; --format json has them all.")


def comparison_data(result: Comparison) -> dict[str, Any]:
    """Plain dictionaries and lists; probabilities are rounded to six decimals. Every case is there."""
    return {
        "old": result.old,
        "new": result.new,
        "overlays": list(result.overlays),
        "rules": {kind: [_difference_data(row) for row in result.rules.of_kind(kind)] for kind in KINDS},
        "cases": {
            "total": result.cases.total,
            "worked": result.cases.worked,
            "changed": [_change_data(row) for row in result.cases.changed],
            "new": _plain(result.cases.new),
            "not_read": _plain(result.cases.unread),
        },
        "problems": _plain(result.problems),
    }


def _plain(value: Any) -> Any:
    """Named tuples as dictionaries, other tuples as lists, places and problems as the lines that tell them."""
    if isinstance(value, Place):
        return str(value)
    if hasattr(value, "_asdict"):
        return {name: _plain(field) for name, field in value._asdict().items()}
    if isinstance(value, tuple):
        return [line for row in value for line in (row.lines() if isinstance(row, Problem) else [_plain(row)])]
    return value


def _difference_data(row: RuleDifference) -> dict[str, Any]:
    return {
        "section": row.thing.section,
        "old": _end(row.old),
        "new": _end(row.new),
        "how": row.how or None,
        "values": _plain(row.values),
    }


def _end(thing: WrittenThing | None) -> dict[str, str] | None:
    return {"name": thing.name, "file": thing.file, "place": str(thing.place)} if thing else None


def _change_data(row: CaseChange) -> dict[str, Any]:
    return {
        "name": row.name,
        "place": str(row.place),
        "assembly": row.type,
        "distance": round(row.distance, 6),
        "little": row.is_little,
        "leader_old": _move_data(row.leader[0]),
        "leader_new": _move_data(row.leader[1]),
        "moves": [_move_data(move) for move in row.moves],
        "readings": _plain(row.readings),
        "findings": _plain(row.findings),
        "first_old": list(row.first[0]),
        "first_new": list(row.first[1]),
        "then_old": list(row.then[0]),
        "then_new": list(row.then[1]),
        "cautions_gone": list(row.cautions_gone),
        "cautions_new": list(row.cautions_new),
    }


def _move_data(move: ChanceChange) -> dict[str, Any]:
    old, new = (None if chance is None else round(chance, 6) for chance in (move.old, move.new))
    return {"name": move.name, "old": old, "new": new}
