"""Checks of what findings say of causes: one answer that counts twice, and causes that nothing tells apart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import combinations

from diagnose.index.links import Index, Link
from diagnose.index.things import ThingName
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause, Finding
from diagnose.model.places import Place
from diagnose.model.premises import Rule
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt

# A cause that brings about a finding more seldom than this is hardly raised by it, and not twice by two.
LEAST_CHANCE = 0.15

Speaking = tuple[Finding, Rule]
Signs = dict[str, list[str]]
Signatures = dict[tuple[str, str], dict[Place, str]]


def counted_twice(base: CheckedBase) -> Iterator[Doubt]:
    """Two findings that follow from one answer and make one cause likelier."""
    seen: set[frozenset[Place]] = set()
    for name, index in base.indexes.items():
        raised = _raised(index)
        for observed, rows in _by_observations(index).items():
            for (one, first), (two, second) in combinations(rows, 2):
                pair = frozenset((one.place, two.place))
                shared = raised[one.name] & raised[two.name] if one.name != two.name and pair not in seen else None
                if shared and base.type_of(name).can_hold([(first.premise, True), (second.premise, True)]):
                    seen.add(pair)
                    yield _twice(one, two, observed, shared)


def _twice(one: Finding, two: Finding, observed: frozenset[str], shared: set[str]) -> Doubt:
    one, two = sorted((one, two), key=lambda row: row.place)
    answers = " and ".join(f"'{name}'" for name in sorted(observed))
    first, *others = sorted(shared)
    more = f" and {len(others)} more" if others else ""
    message = (
        f"finding '{own_name(two.name)}' and finding '{own_name(one.name)}' follow from the same answer ({answers}) "
        f"and both bear on {first}{more}; the answer would be counted twice"
    )
    return Doubt(two.place, message, ((one.place, f"finding '{own_name(one.name)}' stands here"),))


def _by_observations(index: Index) -> dict[frozenset[str], list[Speaking]]:
    """The rules that conclude something abnormal of a finding that is evidence, by the observations they rest on."""
    telling = {row.name: row for row in index.assembly.findings if row.is_evidence}
    found: dict[frozenset[str], list[Speaking]] = {}
    for rule in index.assembly.rules:
        finding = telling.get(rule.finding)
        if finding is not None and rule.grade != finding.grades[0]:
            found.setdefault(index.observed(ThingName("rule", rule.name)), []).append((finding, rule))
    return found


def _raised(index: Index) -> dict[str, set[str]]:
    """The causes that each finding makes likelier, through failure modes or directly."""
    brought: dict[ThingName, list[Link]] = defaultdict(list)
    for link in index.links:
        if link.role == "brings":
            brought[link.end].append(link)
    found: dict[str, set[str]] = defaultdict(set)
    for link in index.links:
        if link.role == "weighs":
            found[link.start.name].add(link.end.name)
        elif link.role == "shows" and link.start.kind == "mode":
            rows = brought[link.start]
            found[link.end.name] |= {row.start.name for row in rows if row.chance * link.chance > LEAST_CHANCE}
        elif link.role == "shows" and link.chance > LEAST_CHANCE:
            found[link.end.name].add(link.start.name)
    return found


def same_signs(base: CheckedBase) -> Iterator[Doubt]:
    """Causes whose ratio no answer changes."""
    causes: dict[Place, Cause] = {}
    signatures: Signatures = {}
    for name, assembly in base.assemblies.items():
        signs, kinds = _signs_of(assembly), _kinds_weighed(assembly)
        for cause in assembly.causes:
            causes.setdefault(cause.place, cause)
            # What shows it, itself or through the modes that it brings about, and what weighs it.
            shown = sorted((chance, sorted(signs[mode])) for mode, chance in cause.brings if mode in signs)
            weighed = sorted(kinds.get((cause.component, cause.kind), ()))
            signature = repr((shown, sorted(signs.get(cause.name, [])), weighed))
            signatures.setdefault((name, cause.component), {})[cause.place] = signature
    for first, place in sorted(_same_signatures(signatures)):
        yield _inseparable(causes[first], causes[place])


def _same_signatures(signatures: Signatures) -> set[tuple[Place, Place]]:
    """Causes of one part with the same signature in every component that has them; each beside the first like it."""
    everywhere: dict[Place, list[str]] = {}
    homes: dict[Place, list[tuple[str, str]]] = {}
    for home, rows in signatures.items():
        for place, signature in rows.items():
            everywhere.setdefault(place, []).append(signature)
            homes.setdefault(place, []).append(home)
    groups: dict[tuple[object, ...], list[Place]] = {}
    for place in sorted(everywhere):
        groups.setdefault((*homes[place], *everywhere[place]), []).append(place)
    return {(rows[0], place) for rows in groups.values() for place in rows[1:]}


def _inseparable(first: Cause, cause: Cause) -> Doubt:
    message = (
        f"no observation can separate cause '{own_name(cause.name)}' from '{own_name(first.name)}': both bring about "
        "the same and are seen by the same, so their ratio never changes"
    )
    return Doubt(cause.place, message, ((first.place, f"cause '{own_name(first.name)}' stands here"),))


def _signs_of(assembly: Assembly) -> Signs:
    """What each mode, cause and condition shows or hides; those that stand nowhere show nothing."""
    found: Signs = {}
    for row in assembly.findings:
        for reason in row.reasons:
            for name in reason.all_of:
                partners = sorted(set(reason.all_of) - {name})
                found.setdefault(name, []).append(f"{row.name} shown {partners} {reason.at_least}")
        for name, factor in row.hidden_by:
            found.setdefault(name, []).append(f"{row.name} hidden {factor}")
    return found


def _kinds_weighed(assembly: Assembly) -> dict[tuple[str, str], set[str]]:
    """For a component and a kind of cause, the circumstances that weigh it and how much."""
    components = ["", *(row.name for row in assembly.components)]
    found: dict[tuple[str, str], set[str]] = {}
    for row in assembly.findings:
        for kind, decibans in row.weighs:
            for component in row.weighs_on or components:
                found.setdefault((component, kind), set()).add(f"{row.name} {decibans}")
    return found
