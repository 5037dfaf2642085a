"""Reading the limit profiles."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import PurePath
from typing import NamedTuple

from diagnose.knowledge.context import Context
from diagnose.knowledge.fields import Fields, complain
from diagnose.knowledge.format import rule_format
from diagnose.knowledge.piece import own_name
from diagnose.knowledge.yamltext import Node, Scalar
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place, Problem
from diagnose.model.premises import All, AnyOf, Measured, Not, Premise
from diagnose.model.work import Limit, Profile


class Limits(NamedTuple):
    """All profiles, the name of the default one, and the accuracy taken for a gauge."""

    profiles: tuple[Profile, ...]
    default: str
    gauge_accuracy: Limit


NO_LIMIT = Limit("", "at most", 0.2, "0.2 psid", (), "")


def read_gauge(node: Node, context: Context) -> Limit:
    """limits/gauge.yaml: the accuracy taken for a gauge when the case does not state one."""
    fields = Fields(node, "limits/gauge.yaml", rule_format().sections["gauge"], context).inner("gauge accuracy")
    return NO_LIMIT if fields is None else _limit("gauge_accuracy", fields)


def read_profile(node: Node, context: Context) -> tuple[Profile, Place | None]:
    """One profile, and where it says that it is the default."""
    file = Fields(node, "limit profile", rule_format().sections["limit profile"], context)
    limits = tuple(_limit(key.text, fields)._replace(place=key.place) for key, fields in file.things("limits"))
    profile = Profile(file["profile"], file["title"], file["explains"], limits, node.place)
    return profile, file.at("default") if file["default"] else None


def _limit(name: str, fields: Fields) -> Limit:
    relation = next(filter(fields.has, fields.section.one_of), fields.section.one_of[0])
    amount, node = fields[relation] or 0.0, fields.get(relation)
    written = node.text.strip() if isinstance(node, Scalar) else ""
    return Limit(name, relation, amount, written, fields["source"], fields["checked"], fields["note"])


def one_default(found: list[tuple[Profile, Place | None]], context: Context) -> str:
    """The name of the default profile; none or two are a problem, and so are two profiles of one name."""
    seen: dict[str, Profile] = {}
    for profile, _ in found:
        if profile.name in seen:
            message = f"profile '{profile.name}' is defined a second time"
            context.problems.append(Problem(profile.place, message, ((seen[profile.name].place, "first here"),)))
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
        used.update(*map(_named, assembly.premises))
    return used


def limits_out_of_range(assemblies: Iterable[Assembly]) -> Iterator[Problem]:
    """Limits that no reading judged by them can be on both sides of."""
    for assembly in assemblies:
        limits = [limit for profile in assembly.profiles for limit in profile.limits]
        for row in assembly.observations:
            for limit in limits if row.limit and not row.computed else ():
                if limit.name == row.limit and not row.low <= limit.amount <= row.high:
                    name = own_name(row.name)
                    message = f"limit '{limit.name}': {limit.written} lies outside the range of '{name}'"
                    yield Problem(limit.place, message, ((row.place, f"'{name}' stands here"),))


def _named(premise: Premise) -> Iterator[str]:
    if isinstance(premise, Measured):
        yield from premise.bound.limits
    elif isinstance(premise, Not):
        yield from _named(premise.part)
    elif isinstance(premise, (All, AnyOf)):
        for part in premise.parts:
            yield from _named(part)
