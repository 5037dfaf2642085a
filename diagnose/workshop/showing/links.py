"""What feeds a named thing, and what it feeds, within one type of assembly."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, NamedTuple

from diagnose.diagnosis.wording import percent
from diagnose.engine.walking import leaves, names_in
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause, Finding, Mode, Reason, weighs_cause
from diagnose.model.premises import Holds, Measured, Premise, Rule
from diagnose.model.work import Caution, Component, Limit, Observation, Profile, Repair, State
from diagnose.workshop.showing.catalogue import NamedThing


class Link(NamedTuple):
    """A line between two things: `feeds` says whether it leads away; `how` in words."""

    feeds: bool
    how: str
    kind: str
    name: str


Links = Iterator[Link]


def links(thing: NamedThing, assembly: Assembly) -> Links:
    """Every line that starts or ends at the thing; sources are not among them."""
    find = _BY_KIND.get(thing.kind)
    return find(thing.row, assembly) if find is not None else iter(())


def _asked(premise: Premise) -> Iterator[tuple[str, str]]:
    """Kind and name of everything that a premise asks for, limits included."""
    for leaf in leaves(premise):
        if isinstance(leaf, Holds):
            yield "finding", leaf.finding
        else:
            yield "observation", leaf.observation
        if isinstance(leaf, Measured):
            yield from (("limit", name) for name in leaf.bound.limits)


def _of_rule(rule: Rule, _: Assembly) -> Links:
    for kind, name in _asked(rule.premise):
        yield Link(False, "asks for", kind, name)
    yield Link(True, f"concludes {rule.grade}", "finding", rule.finding)


def _of_finding(finding: Finding, assembly: Assembly) -> Links:
    for rule in assembly.rules:
        if rule.finding == finding.name:
            yield Link(False, f"{rule.grade} by", "rule", rule.name)
    yield from _used_by(finding.name, assembly)
    causes = {row.name: row for row in assembly.causes}
    for reason in finding.reasons:
        for name in reason.all_of:
            cause = causes.get(name)
            kind = "mode" if cause is None else _kind(cause)
            yield Link(True, f"speaks for ({_shown(finding, reason)}{_joined(reason, name)})", kind, name)
    for mode, factor in finding.hidden_by:
        yield Link(False, f"hidden by (shows x{factor:g})", "mode" if mode not in causes else "condition", mode)
    for cause in assembly.causes:
        if weighs_cause(finding, cause):
            yield Link(True, f"weighs {dict(finding.weighs)[cause.kind]:+g} db", _kind(cause), cause.name)


def _shown(finding: Finding, reason: Reason) -> str:
    """With what probability a reason shows the finding, grade by grade."""
    if len(finding.grades) == 2:
        return percent(reason.at_least[0])
    pairs = zip(finding.grades[1:], reason.at_least, strict=True)
    return ", ".join(f"{grade} or worse {percent(chance)}" for grade, chance in pairs)


def _joined(reason: Reason, name: str) -> str:
    others = [other for other in reason.all_of if other != name]
    return f", together with {' and '.join(others)}" if others else ""


def _used_by(name: str, assembly: Assembly) -> Links:
    """Rules and observations whose premises ask for an observation or a finding."""
    for rule in assembly.rules:
        if name in names_in(rule.premise):
            yield Link(True, "asked for by", "rule", rule.name)
    for gate in assembly.gates:
        if name in names_in(gate.premise):
            yield from (Link(True, f"decides ({gate.kind})", "observation", row) for row in gate.observations)


def _of_observation(row: Observation, assembly: Assembly) -> Links:
    for name in row.computed or ():
        yield Link(False, "computed from", "observation", name)
    for gate in assembly.gates:
        if row.name in gate.observations:
            yield from (Link(False, gate.kind, kind, name) for kind, name in _asked(gate.premise))
    if row.limit:
        yield Link(False, "judged by", "limit", row.limit)
    if row.state:
        yield Link(False, "made while", "state", row.state)
    for other in assembly.observations:
        if row.name in (other.computed or ()):
            yield Link(True, "gives", "observation", other.name)
    yield from _used_by(row.name, assembly)


def _of_mode(row: Mode, assembly: Assembly) -> Links:
    for cause in assembly.causes:
        for mode, chance in cause.brings:
            if mode == row.name:
                yield Link(False, f"brought by ({percent(chance)})", "cause", cause.name)
    yield from _shown_in(row.name, assembly)


def _shown_in(name: str, assembly: Assembly) -> Links:
    """The findings that a mode, cause or condition shows or hides."""
    for finding in assembly.findings:
        for reason in finding.reasons:
            if name in reason.all_of:
                shown = f"shows ({_shown(finding, reason)}{_joined(reason, name)})"
                yield Link(True, shown, "finding", finding.name)
        for mode, factor in finding.hidden_by:
            if mode == name:
                yield Link(True, f"hides (shows x{factor:g})", "finding", finding.name)


def _of_cause(cause: Cause, assembly: Assembly) -> Links:
    for finding in assembly.findings:
        if weighs_cause(finding, cause):
            yield Link(False, f"weighed {dict(finding.weighs)[cause.kind]:+g} db by", "finding", finding.name)
    for mode, chance in cause.brings:
        yield Link(True, f"brings ({percent(chance)})", "mode", mode)
    yield from _shown_in(cause.name, assembly)
    for repair in assembly.repairs:
        for name, chance in repair.cures:
            if name == cause.name:
                yield Link(True, f"cured by ({percent(chance)})", "repair", repair.name)


def _of_repair(repair: Repair, assembly: Assembly) -> Links:
    kinds = {row.name: _kind(row) for row in assembly.causes}
    for name, chance in repair.cures:
        yield Link(False, f"cures ({percent(chance)})", kinds.get(name, "cause"), name)
    yield from (Link(True, "needs", "state", name) for name in repair.states)
    yield from (Link(True, "carries", "caution", name) for name in repair.cautions)


def _of_limit(limit: Limit, assembly: Assembly) -> Links:
    for row in assembly.observations:
        if row.limit == limit.name:
            yield Link(True, "judges", "observation", row.name)
    for rule in assembly.rules:
        if ("limit", limit.name) in _asked(rule.premise):
            yield Link(True, "compared in", "rule", rule.name)
    for gate in assembly.gates:
        if ("limit", limit.name) in _asked(gate.premise):
            yield from (Link(True, f"decides ({gate.kind})", "observation", name) for name in gate.observations)


def _of_state(state: State, assembly: Assembly) -> Links:
    yield from (Link(False, "carries", "caution", name) for name in state.cautions)
    needing = (row.name for row in assembly.observations if row.state == state.name)
    yield from (Link(True, "needed for", "observation", name) for name in needing)
    yield from (Link(True, "needed for", "repair", row.name) for row in assembly.repairs if state.name in row.states)


def _of_caution(caution: Caution, assembly: Assembly) -> Links:
    name = caution.name
    yield from (Link(True, "read in", "state", row.name) for row in assembly.states if name in row.cautions)
    yield from (Link(True, "read before", "repair", row.name) for row in assembly.repairs if name in row.cautions)


def _of_component(component: Component, assembly: Assembly) -> Links:
    yield Link(False, "is a", "part", component.part)
    owned: tuple[tuple[str, Iterable[Mode | Cause | Observation | Repair]], ...] = (
        ("mode", assembly.modes),
        ("cause", assembly.causes),
        ("observation", assembly.observations),
        ("repair", assembly.repairs),
    )
    for kind, rows in owned:
        yield from (Link(True, "has", kind, row.name) for row in rows if row.component == component.name)
    for finding in assembly.findings:
        if finding.name.rpartition(".")[0] == component.name:
            yield Link(True, "has", "finding", finding.name)


def _of_part(kind: str, assembly: Assembly) -> Links:
    """A kind of part has no row of its own: what is known of it is its name, and what each component of it has."""
    components = [row for row in assembly.components if row.part == kind]
    yield from (Link(True, "is", "component", row.name) for row in components)
    yield from (link for link in _of_component(components[0], assembly) if link.feeds)


def _of_profile(profile: Profile, _: Assembly) -> Links:
    yield from (Link(True, "states", "limit", row.name) for row in profile.limits)


def _kind(cause: Cause) -> str:
    return "cause" if cause.component else "condition"


_BY_KIND: dict[str, Callable[[Any, Assembly], Links]] = {
    "rule": _of_rule,
    "finding": _of_finding,
    "observation": _of_observation,
    "mode": _of_mode,
    "cause": _of_cause,
    "condition": _of_cause,
    "repair": _of_repair,
    "limit": _of_limit,
    "profile": _of_profile,
    "state": _of_state,
    "caution": _of_caution,
    "component": _of_component,
    "part": _of_part,
}
