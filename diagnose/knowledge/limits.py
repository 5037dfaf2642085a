"""Reading the limit profiles."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import PurePath
from typing import NamedTuple

from diagnose.knowledge.context import Context, is_name, local_name
from diagnose.knowledge.fields import Fields, complain
from diagnose.knowledge.premises import RELATIONS
from diagnose.knowledge.quantities import parse_pressure
from diagnose.knowledge.yamltext import Mapping, Node
from diagnose.model.assembly import Assembly
from diagnose.model.foreign import cut
from diagnose.model.places import Place, Problem
from diagnose.model.premises import All, AnyOf, Measured, Not, Premise
from diagnose.model.work import Limit, Profile

_CHECKED = re.compile(r"\d{4}-(0[1-9]|1[0-2])")


class Limits(NamedTuple):
    """All profiles, the name of the default one, and the accuracy taken for a gauge."""

    profiles: tuple[Profile, ...]
    default: str
    gauge_accuracy: Limit


NO_LIMIT = Limit("", "at most", 0.2, "0.2 psid", (), "")


def read_gauge(node: Node, context: Context) -> Limit:
    """limits/gauge.yaml: the accuracy taken for a gauge when the case does not state one."""
    file = Fields(node, "limits/gauge.yaml", context.problems)
    inner = file.need("gauge accuracy")
    file.done()
    if inner is None:
        return NO_LIMIT
    fields = Fields(inner, "gauge accuracy", context.problems)
    return _limit("gauge_accuracy", fields, ("at most",), context)


def read_profile(node: Node, context: Context) -> tuple[Profile, Place | None]:
    """One profile, and where it says that it is the default."""
    file = Fields(node, "limit profile", context.problems)
    name = file.text("profile")
    if name and not is_name(name):
        message = f"limit profile: name '{cut(name)}' must be lower-case letters, digits and '_'"
        complain(context.problems, file.at("profile"), message)
    limits = []
    for key, inner in file.entries("limits", needed=True):
        local_name(key, "limits", context.problems)
        fields = Fields(inner, f"limit '{key.text}'", context.problems)
        limit = _limit(key.text, fields, ("at least", "above"), context)
        limits.append(limit._replace(place=key.place))
    profile = Profile(name, file.text("title"), file.text("explains"), tuple(limits), node.place)
    default = file.at("default") if file.yes("default") else None
    file.done()
    return profile, default


def _limit(name: str, fields: Fields, relations: tuple[str, ...], context: Context) -> Limit:
    given = _given(fields, relations)
    relation = given[0] if given else relations[0]
    amount = fields.parsed(relation, parse_pressure, 0.0)
    checked = fields.text("checked")
    if checked and not _CHECKED.fullmatch(checked):
        message = f"{fields.what}, checked: expected a month as in 2026-11, found '{cut(checked)}'"
        complain(context.problems, fields.at("checked"), message)
    written = fields.text(relation, "")
    limit = Limit(name, relation, amount, written, context.sources(fields), checked, fields.text("note", ""))
    fields.done()
    return limit


def _given(fields: Fields, relations: tuple[str, ...]) -> list[str]:
    """The relations that are written. One that is no relation of a limit is never taken for a misspelt one."""
    given = [relation for relation in relations if fields.get(relation) is not None]
    others = (relation for relation in RELATIONS if relation not in relations and fields.has(relation))
    wrong = [relation for relation in others if fields.get(relation) is not None]
    choice = " or ".join(repr(relation) for relation in relations)
    strange = None if given or wrong else fields.strange((*relations, "source", "checked", "note"))
    if strange is not None:
        fields.refuse(strange, f"{choice} is needed, with a pressure")
    elif (len(given) != 1 or wrong) and isinstance(fields.node, Mapping):
        excess = f", not {wrong[0]!r}" if wrong else ", not both" if given else ""
        fields.miss(f"{fields.what}: {choice} is needed, with a pressure{excess}", *relations)
    return given


def one_default(found: list[tuple[Profile, Place | None]], context: Context) -> str:
    """The name of the default profile; none or two are a problem, and so are two profiles of one name."""
    seen: dict[str, Profile] = {}
    for profile, _ in found:
        if profile.name in seen:
            context.problems.append(_twice(profile, seen[profile.name]))
        seen[profile.name] = profile
    defaults = [(profile, place) for profile, place in found if place]
    for profile, place in defaults[1:]:
        message = f"profile '{profile.name}' is a second default; only one may have 'default: yes'"
        first = PurePath(defaults[0][1].file)
        if first.parent != PurePath(place.file).parent:  # of an overlay, which can change what it lies over
            message += f"; write 'changed: {{default: no}}' in {first.parent.name}/{first.name} beside it"
        complain(context.problems, place, message, (defaults[0][1], "first here"))
    if not defaults:
        place = found[0][0].place if found else Place("limits")
        complain(context.problems, place, "no profile is the default; write 'default: yes' in one of them")
    return defaults[0][0].name if defaults else ""


def limits_used(assemblies: Iterable[Assembly]) -> set[str]:
    """The limits that a reading is judged by or that a premise names."""
    used: set[str] = set()
    for assembly in assemblies:
        used |= {row.limit for row in assembly.observations if row.limit}
        for premise in [row.premise for row in assembly.rules] + [row.premise for row in assembly.gates]:
            used |= set(_named(premise))
    return used


def _named(premise: Premise) -> Iterator[str]:
    if isinstance(premise, Measured):
        yield from premise.bound.limits
    elif isinstance(premise, Not):
        yield from _named(premise.part)
    elif isinstance(premise, (All, AnyOf)):
        for part in premise.parts:
            yield from _named(part)


def _twice(profile: Profile, first: Profile) -> Problem:
    note = (first.place, "first here")
    return Problem(profile.place, f"profile '{profile.name}' is defined a second time", (note,))
