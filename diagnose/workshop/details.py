"""What a named thing says of itself, label by label, and the cases that bear on it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import Runs
from diagnose.diagnosis.wording import in_words, percent
from diagnose.engine.chaining import Chaining
from diagnose.index.things import NamedGroup, NamedThing, counts, written_text
from diagnose.knowledge.fields import CALLED
from diagnose.knowledge.piece import own_name
from diagnose.knowledge.quantities import show_pressure
from diagnose.knowledge.shipped import short_place
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Finding
from diagnose.model.places import Place
from diagnose.model.premises import Rule
from diagnose.model.work import Caution, Limit, Observation, Profile, Repair
from diagnose.plan.repairs import steps_of
from diagnose.workshop.coverage import judged_by, standing


class Detail(NamedTuple):
    """A key of the rule format, or what is worked out from several, with its text."""

    label: str
    text: str


Details = Iterator[Detail]


def details(group: NamedGroup, assemblies: Mapping[str, Assembly]) -> Details:
    """The texts of a thing as they are written, and what differs from one component or profile to the next."""
    first = group.first
    find = _BY_KIND.get(first.kind)
    for label, text in find(first.row, assemblies[first.type]) if find is not None else ():
        if text:
            yield Detail(label, written_text(text, first) if len(group.names) > 1 else text)
    if first.kind in _DIFFERING:
        yield from _differing(group, assemblies)


def _differing(group: NamedGroup, assemblies: Mapping[str, Assembly]) -> Details:
    """Each line once; where types differ in it, with the types."""
    types: dict[Detail, list[str]] = {}
    for thing in group.things:
        for line in _DIFFERING[thing.kind](thing, assemblies[thing.type]):
            types.setdefault(line, []).append(thing.type)
    several = {line.label for line in types if sum(other.label == line.label for other in types) > 1}
    for line, found in types.items():
        yield line._replace(text=f"{line.text} ({', '.join(found)})") if line.label in several else line


def _told(row: Any, *labels: str) -> Details:
    """What a thing says under keys of the rule format that its row has as fields."""
    for label in labels:
        called = next((field for field, key in CALLED.items() if key == label), label.replace(" ", "_"))
        value = getattr(row, called)
        if isinstance(value, tuple):
            value = ", ".join(value)
        elif isinstance(value, bool):
            value = "yes" if value else ""
        yield Detail(label, f"{value:g}" if isinstance(value, float) else value)


def _said(*labels: str) -> Callable[[Any, Assembly], Details]:
    return lambda row, _: _told(row, *labels)


def _rule(rule: Rule, assembly: Assembly) -> Details:
    yield Detail("premises", in_words(rule.premise, assembly))
    yield Detail("finding", f"{rule.finding} is {rule.grade}")
    yield from _told(rule, "reason", "easily confused with", "disputed")


def _finding(finding: Finding, _: Assembly) -> Details:
    yield Detail("title", finding.title)
    yield from (Detail(f"says, {grade}", says) for grade, says in zip(finding.grades, finding.says, strict=True))
    if finding.background:
        pairs = zip(finding.grades[1:], finding.background, strict=True)
        yield Detail("background", ", ".join(f"{grade} or worse {percent(chance)}" for grade, chance in pairs))
    yield Detail("weighs", ", ".join(f"{kind} {decibans:+g} db" for kind, decibans in finding.weighs))
    yield from _told(finding, "weighs on")


def _observation(row: Observation, assembly: Assembly) -> Details:
    yield from _told(row, "title", "question", "how")
    yield from (Detail(f"answer, {answer}", text) for answer, text in row.answers)
    if row.computed:
        yield Detail("computed", " minus ".join(row.computed))
    elif row.unit:
        yield Detail("range", f"{show_pressure(row.low, row.unit)} to {show_pressure(row.high, row.unit)}")
    for gate in assembly.gates:
        if row.name in gate.observations:
            yield Detail(gate.kind, in_words(gate.premise, assembly))
    if not row.computed:
        yield from _told(row, "minutes")


def _rate(thing: NamedThing, _: Assembly) -> Details:
    yield Detail(f"rate, {thing.name}", f"{thing.rate:.2g}")


def _rate_and_shares(thing: NamedThing, assembly: Assembly) -> Details:
    """Of a component: the chance that anything is wrong in it, and how its causes divide that."""
    causes = [row for row in assembly.causes if row.component == thing.name]
    vouching = {key for row in causes for key in row.sources}
    learned = [row.title for row in assembly.sources if row.repairs and row.key in vouching]
    known = learned[0] if learned else "estimate" if "estimate" in vouching else "with sources"
    yield Detail("rate", f"{thing.rate:.2g}, the chance that it has a fault before anything is observed ({known})")
    shares = sorted(((row.rate / thing.rate, own_name(row.name)) for row in causes), key=lambda row: (-row[0], row[1]))
    yield Detail("shares", ", ".join(f"{name} {100 * share:.2g} %" for share, name in shares))


def _repair(repair: Repair, assembly: Assembly) -> Details:
    yield Detail("title", repair.title)
    steps = steps_of(repair, {row.name: row for row in assembly.states})
    yield from (Detail(f"step {number}", step) for number, step in enumerate(steps, 1))
    yield Detail("parts", ", ".join(repair.parts))
    yield Detail("minutes", f"{repair.minutes:g}, at the smallest size")
    if repair.parts_minutes:
        yield Detail("parts as minutes", f"{repair.parts_minutes:g}")
    yield Detail("retest", repair.retest)


def _amount(thing: NamedThing, assembly: Assembly) -> Details:
    """Of a limit: what each profile states, where, and when it was last compared with its source."""
    limit: Limit = thing.row
    profile = next(row.name for row in assembly.profiles if any(one.place == limit.place for one in row.limits))
    note = f" ({limit.note})" if limit.note else ""
    cited = f"[{'; '.join(limit.sources)}], checked {limit.checked}"
    yield Detail(profile, f"{limit.relation} {limit.written} {cited}{note}, {short_place(limit.place)}")


def _profile(profile: Profile, assembly: Assembly) -> Details:
    yield from _told(profile, "title", "explains")
    yield Detail("default", "yes" if profile.name == assembly.default_profile else "")


def _caution(caution: Caution, assembly: Assembly) -> Details:
    yield from _told(caution, "text", "in short", "danger to life", "parts", "read at")
    yield Detail("from size", f"{caution.from_size:g} in" if caution.from_size else "")
    yield Detail("said when", in_words(caution.said_when, assembly) if caution.said_when is not None else "")


def _always(thing: NamedThing, _: Assembly) -> Details:
    yield Detail("on every sheet", "yes" if thing.row.always else "no")


def _type(assembly: Assembly, _: Assembly) -> Details:
    yield from _told(assembly, "title", "retest")
    yield Detail("components", ", ".join(row.name for row in assembly.components))
    yield Detail("holds", ", ".join(f"{count} {what}" for what, count in counts(assembly).items()))


_BY_KIND: dict[str, Callable[[Any, Assembly], Details]] = {
    "rule": _rule,
    "finding": _finding,
    "observation": _observation,
    "mode": _said("text"),
    "cause": _said("text", "kind"),
    "condition": _said("text", "kind"),
    "repair": _repair,
    "component": _said("title", "part"),
    "profile": _profile,
    "state": _said("text", "minutes"),
    "caution": _caution,
    "source": _said("title", "where", "mark"),
    "type": _type,
}
_DIFFERING: dict[str, Callable[[NamedThing, Assembly], Details]] = {
    "cause": _rate,
    "condition": _rate,
    "component": _rate_and_shares,
    "limit": _amount,
    "caution": _always,
}


RUN = ("rule", "finding", "limit")
READS = {"below": "reads below it", "at": "reads exactly at it", "above": "reads above it"}


class RelatedCase(NamedTuple):
    """A case, and what it has to do with the thing."""

    how: str
    name: str
    place: Place


class _CaseAtHand(NamedTuple):
    """A case that is looked at: `things` has what is known of the thing in the case's type, by full name."""

    row: BesideCase
    assembly: Assembly
    things: dict[str, Any]
    chaining: Chaining | None


def cases_of(group: NamedGroup, types: Mapping[str, Ready], rows: Sequence[BesideCase]) -> Iterator[RelatedCase]:
    """Each case that names the thing, or in which it comes about; one line a case."""
    look = _IN_CASE.get(group.first.kind)
    if look is None:
        return
    runs = Runs(types)
    for row in rows:
        mine = {thing.name: thing.row for thing in group.things if thing.type == row.case.type}
        if mine:
            chaining = runs.run(row.case)[0] if group.first.kind in RUN else None
            said = list(dict.fromkeys(look(_CaseAtHand(row, types[row.case.type].assembly, mine, chaining))))
            if said:
                yield RelatedCase("; ".join(said), row.name, row.place)


Said = Iterator[str]


def _in_rule(look: _CaseAtHand) -> Said:
    expected = look.row.expected
    for name in look.things:
        if name in expected.fires:
            yield "expects it true"
        if name in expected.does_not_fire:
            yield "expects it not true"
        elif name not in expected.fires and look.chaining and look.chaining.rules[name]:
            yield "makes it true"


def _in_finding(look: _CaseAtHand) -> Said:
    expected = look.row.expected
    for name, row in look.things.items():
        named = [f"expects {grade}" for other, grade in expected.finds if other == name]
        named += [f"rules out {grade}" for other, grade in expected.does_not_find if other == name]
        named += ["leaves it open"] if name in expected.leaves_open else []
        yield from named
        possible = look.chaining.possible(name) if look.chaining else ()
        if not named and len(possible) == 1 and possible[0] > 0:
            yield f"comes to {row.grades[possible[0]]}"


def _in_observation(look: _CaseAtHand) -> Said:
    answers = dict(look.row.case.answers)
    for name in look.things:
        if name in answers:
            yield f"gives {answers[name].written}"
        if name in look.row.expected.void:
            yield "expects its answer not to count"


def _in_ranking(look: _CaseAtHand) -> Said:
    expected = look.row.expected
    for name in look.things:
        if name == expected.first:
            yield "expects it first"
        if name in expected.order:
            yield f"expects it in place {expected.order.index(name) + 1}"
        if name in expected.not_first:
            yield "expects it not first"


def _in_repair(look: _CaseAtHand) -> Said:
    wanted = {look.row.expected.first, *look.row.expected.order}
    for row in look.things.values():
        yield from (f"expects what it cures: {name}" for name, _ in row.cures if name in wanted)


def _in_limit(look: _CaseAtHand) -> Said:
    profile = look.assembly.profile(look.row.case.profile)
    amounts = profile.amounts()
    for observation, name in sorted(judged_by(look.assembly)):
        reading = look.chaining.counting.get(observation) if look.chaining else None
        if name in look.things and name in amounts and isinstance(reading, float):
            yield f"{observation} {READS[standing(reading, amounts[name])]} in {profile.name}"


def _in_profile(look: _CaseAtHand) -> Said:
    if look.row.case.profile in look.things:
        yield "is judged by it"


def _in_source(look: _CaseAtHand) -> Said:
    if look.row.source in look.things:
        yield f'checks "{look.row.states}"' if look.row.states else "cites it"


def _in_type(_: _CaseAtHand) -> Said:
    yield "is of the type"


_IN_CASE: dict[str, Callable[[_CaseAtHand], Said]] = {
    "rule": _in_rule,
    "finding": _in_finding,
    "observation": _in_observation,
    "cause": _in_ranking,
    "condition": _in_ranking,
    "component": _in_ranking,
    "repair": _in_repair,
    "limit": _in_limit,
    "profile": _in_profile,
    "source": _in_source,
    "type": _in_type,
}
