"""Reading what holds for all types: scales, states, cautions, sources, retired names, limit profiles, the version."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path, PurePath
from typing import NamedTuple

from diagnose.knowledge.context import Context, Settings, Vocabulary
from diagnose.knowledge.fields import Fields, NoNames, Problems, complain, unknown
from diagnose.knowledge.findings import read_premises
from diagnose.knowledge.format import rule_format
from diagnose.knowledge.piece import own_name
from diagnose.knowledge.quantities import show_pressure
from diagnose.knowledge.shipped import VERSION_FILE
from diagnose.knowledge.yamltext import Node, Scalar, entries_of, read_file, value_of
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Unlisted
from diagnose.model.places import Place, Problem, ProblemsFoundError
from diagnose.model.premises import All, AnyOf, Holds, Measured, Not, Premise
from diagnose.model.work import Caution, Limit, Observation, PlanMinutes, Profile, Source, State

MOST_WORDS = 8
UNTOLD = Unlisted("", 0.01, 0.1)  # until the scales say it, or where they do not
Opened = Callable[[str], Node]


def read_settings(opened: Opened, problems: Problems) -> Settings:
    """Reads the five files through `opened`, which gives the node of a file of the rule base by its name."""
    settings = Settings({}, (), UNTOLD, (), (), (), (), PlanMinutes(0.0, 0.0), (), {})

    def file(name: str) -> Fields:
        file = f"{name}.yaml"
        return Fields(opened(file), file, rule_format().sections[name], Context(settings, Vocabulary(), problems))

    rows = file("sources").things("sources")
    settings = settings._replace(sources=tuple(row.into(Source, key, key=key.text) for key, row in rows))
    rows = file("cautions").things("cautions")
    cautions = tuple(row.into(Caution, key, said_when=None, in_short=_in_short(row)) for key, row in rows)
    settings = settings._replace(cautions=cautions)
    work = file("states")
    turning = tuple((row["up to"], row["turning"] or 1.0) for row in work.listed("size minutes"))
    settings = settings._replace(states=_states(work), size_minutes=_sizes(work), turning_minutes=turning)
    minutes = work.inner("plan minutes")
    if minutes is not None:
        settings = settings._replace(plan_minutes=PlanMinutes(minutes["retest"], minutes["fall back"]))
    scales = file("scales")
    kinds = tuple(key.text for key, _ in scales["cause kinds"])
    settings = settings._replace(words={key.text: number for key, number in scales["words"]}, kinds=kinds)
    scales.scope = Context(settings, Vocabulary(), problems)
    others = tuple((name, row["answer"]) for row in scales.listed("not covered") for name in row["names"])
    settings = settings._replace(not_covered=others)
    old = [(key.text, row) for key, row in file("retired").things("retired")]
    renamed = [
        (name, row["replaced by"], tuple(sorted((o.text, new) for o, new in row["answers"]))) for name, row in old
    ]
    unlisted = scales.inner("unlisted")
    if unlisted is not None:
        settings = settings._replace(unlisted=Unlisted(unlisted["text"], unlisted["rate"], unlisted["shows"]))
    why = {name: f"replaced by '{row['replaced by']}': {row['why']}" for name, row in old}
    return settings._replace(retired=why, renamed=tuple(sorted(renamed)))


def _in_short(caution: Fields) -> str:
    """The clause, which has to fit a line of a phone."""
    text: str = caution["in short"]
    if len(text.split()) > MOST_WORDS:
        caution.miss(f"at most {MOST_WORDS} words, found {len(text.split())}", "in short")
    return text


def said_when(file: Node, context: Context) -> Context:
    """The context with what each caution is said on, which rests on names that other files make known."""
    rows = {row.name: row for row in context.settings.cautions}
    for key, row in entries_of(file, "cautions"):
        node = value_of(row, "said when")
        if node is not None and key.text in rows:
            premise = read_premises(node, f"caution '{key.text}', said when", context)
            rows[key.text] = rows[key.text]._replace(said_when=premise)
    return context._replace(settings=context.settings._replace(cautions=tuple(rows.values())))


def _states(file: Fields) -> tuple[State, ...]:
    rows = list(file.things("states"))
    return tuple(
        row.into(
            State,
            key,
            cover=_each_part(row),
            not_while=Holds(row["not while"]) if row["not while"] else None,
            steps=row["steps to get there"],
            after=_after(row, rows[:place]),
        )
        for place, (key, row) in enumerate(rows)
    )


def _after(state: Fields, before: Sequence[tuple[Scalar, Fields]]) -> str:
    """The state that is gone through first: one that stands before it, so that no way into a state is a circle."""
    name: str = state["comes after"]
    known = [key.text for key, _ in before]
    if name and name not in known:
        sentence = f"{state.what}, comes after: no state before it is called"
        unknown(state.problems, state.at("comes after"), sentence, name, known)
    return name


def _each_part(state: Fields) -> float:
    """The minutes for getting at one part, which are some of the state's own."""
    minutes: float = state["each part"]
    for key, some in (("each part", minutes), ("turning", state["turning"])):
        if some > state["minutes"]:
            state.miss("they are some of the state's minutes, so there cannot be more of them", key)
    return minutes


def _sizes(file: Fields) -> tuple[tuple[float, float], ...]:
    sizes = tuple((row["up to"], row["times"]) for row in file.listed("size minutes"))
    if all(size for size, _ in sizes) and list(sizes) != sorted(sizes):
        file.miss("sizes must rise", "size minutes")
    return sizes


def edition_of(folder: Path) -> str:
    """The version of the rule base in a folder; "" where it gives itself none.

    Raises:
        ProblemsFoundError: with the problems of its version.yaml.
    """
    file = folder / VERSION_FILE
    problems: Problems = []
    edition = read_edition(read_file(file), problems) if file.exists() else ""
    if problems:
        raise ProblemsFoundError(problems)
    return edition


def read_edition(node: Node, problems: Problems) -> str:
    """The version that version.yaml states; what each version changed is checked, and left for people to read."""
    file = Fields(node, VERSION_FILE, rule_format().sections["version"], NoNames(problems))
    edition: str = file["version"]
    what = f"{VERSION_FILE}, changes"
    rows = list(file.listed("changes"))
    listed = file.get("changes")
    if edition and listed is not None and edition != (rows[0]["version"] or edition if rows else ""):
        place, found = (rows[0].place, rows[0]["version"]) if rows else (listed.place, "none")
        complain(problems, place, f"{what}: expected version {edition} first, found {found}")
    for newer, older in pairwise(rows):
        versions, days = ((newer[key], older[key]) for key in ("version", "date"))
        if all(versions) and _numbers(versions[0]) <= _numbers(versions[1]):
            message = f"{what}: expected a version before {versions[0]}, found {versions[1]}; the newest comes first"
            complain(problems, older.place, message)
        elif all(days) and days[0] < days[1]:
            complain(problems, older.place, f"{what}: expected a day not after {days[0]}, found {days[1]}")
    return edition


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(map(int, version.split(".")))


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
        used.update(*map(limits_in, assembly.premises))
    return used


def limits_out_of_range(assemblies: Iterable[Assembly]) -> Iterator[Problem]:
    """Limits that no reading judged by them can be on both sides of."""
    for assembly in assemblies:
        limits = [limit for profile in assembly.profiles for limit in profile.limits]
        for row in assembly.observations:
            for limit in limits if row.limit and not row.computed else ():
                if limit.name == row.limit and not row.low <= limit.amount <= row.high:
                    name = own_name(row.name)
                    message = (
                        f"limit '{limit.name}': {limit.written} lies outside the range of '{name}', {_range_of(row)}"
                    )
                    yield Problem(limit.place, message, ((row.place, f"'{name}' stands here"),))


def bounds_out_of_range(assemblies: Iterable[Assembly]) -> Iterator[Problem]:
    """Pressures in the premises of rules that no reading compared with them can be on both sides of."""
    for assembly in assemblies:
        readings = {row.name: row for row in assembly.observations if row.unit and not row.computed}
        for rule in assembly.rules:
            for part in measured_in(rule.premise):
                row, bound = readings.get(part.observation), part.bound
                if row and not bound.limits and not row.low <= bound.amount <= row.high:
                    name = own_name(row.name)
                    told = f"{part.relation} {show_pressure(bound.amount, row.unit)} lies outside the range of '{name}'"
                    message = f"rule '{own_name(rule.name)}': {told}, {_range_of(row)}"
                    yield Problem(rule.place, message, ((row.place, f"'{name}' stands here"),))


def _range_of(row: Observation) -> str:
    return f"{show_pressure(row.low, row.unit)} to {show_pressure(row.high, row.unit)}"


def limits_in(premise: Premise) -> Iterator[str]:
    """The limits that a premise names."""
    return (limit for row in measured_in(premise) for limit in row.bound.limits)


def measured_in(premise: Premise) -> Iterator[Measured]:
    """The comparisons that a premise makes."""
    if isinstance(premise, Measured):
        yield premise
    elif isinstance(premise, Not):
        yield from measured_in(premise.part)
    elif isinstance(premise, (All, AnyOf)):
        for part in premise.parts:
            yield from measured_in(part)
