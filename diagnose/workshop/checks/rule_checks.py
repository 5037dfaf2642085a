"""Checks of what bears on what: rules without a say, names that nothing rests on, evidence that counts twice or not."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from itertools import combinations
from typing import TypeVar

from diagnose.engine.walking import leaves
from diagnose.index.links import Index, Link
from diagnose.index.things import ThingName
from diagnose.knowledge.piece import own_name
from diagnose.knowledge.words import one_of
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause, Finding
from diagnose.model.places import Place
from diagnose.model.premises import Answered, Rule
from diagnose.model.work import Observation
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt

_UNSEEN = ", so nothing that is seen speaks for it"
_ADVICE = {
    "observation": "no rule asks for observation '{}', so its answer changes nothing",
    "finding": "nothing rests on finding '{}': it has no reasons, weighs nothing and no rule asks for it",
    "mode": "no finding has failure mode '{}' or a cause of it among its reasons" + _UNSEEN,
    "condition": "no finding has site condition '{}' among its reasons" + _UNSEEN,
}


def unused(base: CheckedBase) -> Iterator[Doubt]:
    """Names that nothing rests on."""
    names: dict[Place, str] = {}
    used: set[Place] = set()
    for index in base.indexes.values():
        telling = _telling(index)
        for row in index.things:
            if row.kind in _ADVICE:
                names.setdefault(row.place, _ADVICE[row.kind].format(own_name(row.name)))
                used |= {row.place} if row.named in telling else set()
    yield from (Doubt(place, message) for place, message in names.items() if place not in used)
    unbrought = "no cause brings about failure mode '{}', so it is never taken to be there"
    yield from _without(base, "mode", lambda index: index.ends("brings"), unbrought)
    yield from _answers(base)
    yield from _cautions(base)


def _telling(index: Index) -> set[ThingName]:
    """What bears on anything: asked for, computed with, evidence, or shown by a finding."""
    telling = index.starts("asks", "decides", "computes", "shows", "hides")
    telling |= {ThingName("finding", row.name) for row in index.assembly.findings if row.is_evidence}
    # A mode whose cause is seen by itself, on the opened part, is seen as well.
    return telling | {link.end for link in index.links if link.role == "brings" and link.start in telling}


def _without(base: CheckedBase, kind: str, having: Callable[[Index], set[ThingName]], message: str) -> Iterator[Doubt]:
    """Things of a kind that are not among those of their type that have something; `message` takes the name."""
    for index in base.indexes.values():
        had = having(index)
        for row in index.things:
            if row.kind == kind and row.named not in had:
                yield Doubt(row.place, message.format(own_name(row.name)))


def _answers(base: CheckedBase) -> Iterator[Doubt]:
    """Answers that nothing asks for, where it asks for others; the first, which is harmless, may be one."""
    silent: dict[Place, tuple[Observation, list[str]]] = {}
    for assembly in base.assemblies.values():
        said = (leaf for premise in assembly.premises for leaf in leaves(premise) if isinstance(leaf, Answered))
        asked = {(leaf.observation, answer) for leaf in said for answer in leaf.answers}
        for row in assembly.observations:
            answers = [answer for answer, _ in row.answers if (row.name, answer) not in asked]
            before = silent.get(row.place, (row, answers))[1]
            silent[row.place] = row, [answer for answer in answers if answer in before]
    for row, answers in silent.values():
        if 1 < len(answers) < len(row.answers):
            idle = one_of(f"'{answer}'" for answer in answers[1:])
            message = f"no rule asks for answer {idle} of '{own_name(row.name)}', so it counts as '{answers[0]}' does"
            yield Doubt(row.place, message)


def _cautions(base: CheckedBase) -> Iterator[Doubt]:
    used, known = set(), set()
    for index in base.indexes.values():
        used |= {caution.name for caution in index.starts("read in", "read before")}
        used |= {row.name for row in index.assembly.cautions if row.always}
        known |= {row.name for row in index.assembly.cautions}
    for file in base.files("cautions.yaml"):
        for key, _ in base.places.entries(file, "cautions"):
            if key.text in known - used:
                yield Doubt(key.place, f"no state and no repair carries caution '{key.text}', so nobody ever reads it")


def no_repair(base: CheckedBase) -> Iterator[Doubt]:
    """Causes and site conditions that no repair cures; of one that is cured in other components, where it is not."""
    whats = {"cause": "cause", "condition": "site condition"}
    left: dict[Place, tuple[str, str]] = {}
    cured: set[Place] = set()
    for kind, index in base.indexes.items():
        mended = index.starts("cured by")
        for row in index.things:
            if row.kind in whats and row.named in mended:
                cured.add(row.place)
            elif row.kind in whats:
                what = whats[row.kind]
                left.setdefault(row.place, (f"{what} '{own_name(row.name)}'", f"{what} '{row.name}' of {kind}"))
    for place, (everywhere, here) in left.items():
        named = here if place in cured else everywhere
        yield Doubt(place, f"no repair cures {named}; whoever finds it is not told what to do")


def no_caution(base: CheckedBase) -> Iterator[Doubt]:
    """Repairs without a caution of their own or of a state that they need."""
    message = "repair '{}' has no caution, neither its own nor one of a state that it needs"
    return _without(base, "repair", _guarded, message)


def _guarded(index: Index) -> set[ThingName]:
    """The repairs before which, or in a state of which, a caution is read."""
    states = index.ends("read in")
    within = {link.end for link in index.links if link.role == "repaired in" and link.start in states}
    return index.ends("read before") | within


def never_true(base: CheckedBase) -> Iterator[Doubt]:
    """Rules that no case makes true."""
    for place, rows in base.rules.items():
        if place not in base.made_true and place not in base.contradictory:
            yield Doubt(place, f"no case makes rule '{own_name(rows[0][1].name)}' true; add one in which it must hold")


def never_together(base: CheckedBase) -> Iterator[Doubt]:
    """Rules whose premises hold together under no profile."""
    for place, rule in base.contradictory.items():
        yield Doubt(place, f"the premises of rule '{own_name(rule.name)}' can never hold together, under any profile")


def opposite(base: CheckedBase) -> Iterator[Doubt]:
    """Rules with the same premises and different conclusions about one finding."""
    for one, other, equal in base.implied_pairs:
        if equal and one.grade != other.grade:
            message = (
                f"rule '{own_name(one.name)}' concludes '{own_name(one.finding)}' is {one.grade} from the same "
                f"premises as rule '{own_name(other.name)}', which concludes {other.grade}"
            )
            yield _beside(one, message, "rule", other)


def more_specific(base: CheckedBase) -> Iterator[Doubt]:
    """Rules that have no say, for another about the same finding holds wherever they do."""
    grades = {row.name: row.grades for assembly in base.assemblies.values() for row in assembly.findings}
    for one, other, equal in base.implied_pairs:
        message = _adds_nothing(one, other, equal, grades[one.finding])
        if message:
            yield _beside(one, message, "rule", other)


Named = TypeVar("Named", Rule, Finding, Cause)


def _beside(one: Named, message: str, what: str, other: Named) -> Doubt:
    """A doubt about one of two, with a note where the other stands."""
    return Doubt(one.place, message, ((other.place, f"{what} '{own_name(other.name)}' stands here"),))


def _adds_nothing(one: Rule, other: Rule, equal: bool, grades: tuple[str, ...]) -> str:
    own, wide = own_name(one.name), own_name(other.name)
    if one.grade == other.grade:
        how = "has the same premises as" if equal else "holds only where"
        what = f"rule '{wide}'" if equal else f"rule '{wide}' holds as well"
        return f"rule '{own}' {how} {what}, and concludes the same; it adds nothing"
    if not equal and grades.index(one.grade) < grades.index(other.grade):
        return (
            f"rule '{own}' concludes {one.grade}, but wherever it holds rule '{wide}' concludes {other.grade}, "
            "which is worse and is what is shown"
        )
    return ""


# A cause that brings about a finding more seldom than this is hardly raised by it, and not twice by two.
LEAST_CHANCE = 0.15

Speaking = tuple[Finding, Rule]
Signs = dict[str, list[str]]


def counted_twice(base: CheckedBase) -> Iterator[Doubt]:
    """Two findings that follow from one answer and make one cause likelier."""
    seen: set[frozenset[Place]] = set()
    for name, index in base.indexes.items():
        raised = _raised(index)
        for observed, rows in _by_observations(index).items():
            for (one, first), (two, second) in combinations(rows, 2):
                pair = frozenset((one.place, two.place))
                shared = raised[one.name] & raised[two.name] if one.name != two.name and pair not in seen else None
                if shared and base.premises[name].can_hold([(first.premise, True), (second.premise, True)]):
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
    return _beside(two, message, "finding", one)


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
    """Causes whose ratio no answer changes: alike in every component that has them; each beside the first like it."""
    causes: dict[Place, Cause] = {}
    signatures: dict[Place, list[tuple[str, str, str]]] = defaultdict(list)
    for name, assembly in base.assemblies.items():
        signs, kinds = _signs_of(assembly), _kinds_weighed(assembly)
        for cause in assembly.causes:
            causes.setdefault(cause.place, cause)
            # What shows it, itself or through the modes that it brings about, and what weighs it.
            shown = sorted((chance, sorted(signs[mode])) for mode, chance in cause.brings if mode in signs)
            weighed = sorted(kinds.get((cause.component, cause.kind), ()))
            signature = repr((shown, sorted(signs.get(cause.name, [])), weighed))
            signatures[cause.place].append((name, cause.component, signature))
    alike: dict[tuple[tuple[str, str, str], ...], list[Cause]] = defaultdict(list)
    for place in sorted(causes):
        alike[tuple(sorted(signatures[place]))].append(causes[place])
    for first, *others in alike.values():
        yield from (_inseparable(first, cause) for cause in others)


def _inseparable(first: Cause, cause: Cause) -> Doubt:
    message = (
        f"no observation can separate cause '{own_name(cause.name)}' from '{own_name(first.name)}': both bring about "
        "the same and are seen by the same, so their ratio never changes"
    )
    return _beside(cause, message, "cause", first)


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
