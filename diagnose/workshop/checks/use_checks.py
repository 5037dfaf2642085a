"""Checks of use: rules that never hold or have no say, names that nothing rests on, causes without a repair."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.engine.walking import leaves
from diagnose.index.links import Index
from diagnose.index.things import ThingName
from diagnose.knowledge.piece import own_name
from diagnose.knowledge.words import one_of
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
    yield from _modes_of_no_cause(base)
    yield from _answers(base)
    yield from _cautions(base)


def _telling(index: Index) -> set[ThingName]:
    """What bears on anything: asked for, computed with, evidence, or shown by a finding."""
    telling = index.starts("asks", "decides", "computes", "shows", "hides")
    telling |= {ThingName("finding", row.name) for row in index.assembly.findings if row.is_evidence}
    # A mode whose cause is seen by itself, on the opened part, is seen as well.
    return telling | {link.end for link in index.links if link.role == "brings" and link.start in telling}


def _modes_of_no_cause(base: CheckedBase) -> Iterator[Doubt]:
    for index in base.indexes.values():
        brought = index.ends("brings")
        for row in index.things:
            if row.kind == "mode" and row.named not in brought:
                message = f"no cause brings about failure mode '{own_name(row.name)}', so it is never taken to be there"
                yield Doubt(row.place, message)


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
    """Causes and site conditions that no repair cures."""
    whats = {"cause": "cause", "condition": "site condition"}
    for index in base.indexes.values():
        cured = index.starts("cured by")
        for row in index.things:
            if row.kind in whats and row.named not in cured:
                named = f"{whats[row.kind]} '{own_name(row.name)}'"
                yield Doubt(row.place, f"no repair cures {named}; whoever finds it is not told what to do")


def no_caution(base: CheckedBase) -> Iterator[Doubt]:
    """Repairs without a caution of their own or of a state that they need."""
    for index in base.indexes.values():
        guarded = index.ends("read in")
        safe = index.ends("read before")
        safe |= {link.end for link in index.links if link.role == "repaired in" and link.start in guarded}
        for row in index.things:
            if row.kind == "repair" and row.named not in safe:
                named = f"repair '{own_name(row.name)}'"
                yield Doubt(row.place, f"{named} has no caution, neither its own nor one of a state that it needs")


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
            yield Doubt(one.place, message, ((other.place, f"rule '{own_name(other.name)}' stands here"),))


def more_specific(base: CheckedBase) -> Iterator[Doubt]:
    """Rules that have no say, for another about the same finding holds wherever they do."""
    grades = {row.name: row.grades for assembly in base.assemblies.values() for row in assembly.findings}
    for one, other, equal in base.implied_pairs:
        message = _adds_nothing(one, other, equal, grades[one.finding])
        if message:
            yield Doubt(one.place, message, ((other.place, f"rule '{own_name(other.name)}' stands here"),))


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
