"""Schemas of case files: which observations, answers and findings there are depends on the type that a case names."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from diagnose.cases.reading import case_format
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.assembly import Assembly
from diagnose.model.work import Observation
from diagnose.workshop.schemas.drafter import (
    LISTED_HERE,
    TEXT,
    Drafter,
    Schema,
    choice,
    either,
    mapping,
    several,
    shaped,
)
from diagnose.workshop.schemas.offered import Offered, Texts, grades_of, of_type

PRESSURE = shaped("pressure")


def case_schema(types: Mapping[str, Assembly], offered: Offered) -> Schema:
    """A case file. Any observation or answer that its type does not have is a mistake."""
    drafter = _drafter(types, offered)
    case = drafter.mapping_of(drafter.family["case"])
    case["allOf"] = [_if_type(name, _observed(drafter, row)) for name, row in types.items()]
    return {**case, "definitions": drafter.definitions}


def cases_schema(types: Mapping[str, Assembly], offered: Offered) -> Schema:
    """The cases beside the rules. Names are offered, not judged: rules and cases are written together."""
    drafter = _drafter(types, offered)
    cases = drafter.mapping_of(drafter.family["cases"])
    inner = drafter.definitions["case-beside-the-rules"]
    all_empty: Schema = {"minProperties": 1, "additionalProperties": {"enum": [[], {}]}}
    drafter.definitions["expect"] |= {"minProperties": 1, "not": all_empty}
    inner["allOf"] = [_if_type(name, _expecting(drafter, row)) for name, row in types.items()]
    return {**cases, "definitions": drafter.definitions}


def _drafter(types: Mapping[str, Assembly], offered: Offered) -> Drafter:
    profiles: Texts = {profile.name: profile.title for row in types.values() for profile in row.profiles}
    lists: Mapping[str, Texts] = {**offered.lists, "profile": profiles}
    return Drafter(Offered(lists, {}, {}), case_format().sections)


def _if_type(name: str, then: Schema) -> Schema:
    return {"if": {"required": ["assembly"], "properties": {"assembly": {"const": name}}}, "then": {"properties": then}}


def _observed(drafter: Drafter, assembly: Assembly) -> Schema:
    answers = drafter.defined(f"observations of {assembly.type}", lambda: _answers(drafter, assembly, closed=True))
    return {"observations": answers, "record": {"properties": {"final_test": answers}, "doNotSuggest": True}}


def _expecting(drafter: Drafter, assembly: Assembly) -> Schema:
    names = of_type(assembly)
    answers = drafter.defined(f"observations of {assembly.type}", lambda: _answers(drafter, assembly, closed=False))
    return {
        "observations": answers,
        "expect": drafter.defined(f"expectations of {assembly.type}", lambda: _expectations(drafter, names, assembly)),
    }


def _answers(drafter: Drafter, assembly: Assembly, *, closed: bool) -> Schema:
    rows = {
        row.name: _shared(drafter, f"answer to {row.name}", assembly, _answer(row, closed))
        for row in assembly.observations
    }
    schema: Schema = {"type": ["object", "null"], "properties": rows, "additionalProperties": not closed and TEXT}
    if closed:
        schema["errorMessage"] = f"{assembly.type} has no such observation.{LISTED_HERE}"
    return schema


def _answer(row: Observation, closed: bool) -> Schema:
    about = f"{row.question or row.title} {row.how}".strip()
    if row.answers:
        words = choice(dict(row.answers))
        return {"description": about, **(words if closed else either(words, TEXT))}
    low, high = (show_pressure(bound, row.unit) for bound in (row.low, row.high))
    schema = {"description": f"{about} A pressure with its unit, {low} to {high}.", **PRESSURE}
    return schema | ({"doNotSuggest": True} if row.computed else {})


def _shared(drafter: Drafter, name: str, assembly: Assembly, schema: Schema) -> Schema:
    """A reference to the schema: one definition for all types that have it alike."""
    first = drafter.defined(name, lambda: schema)
    alike = drafter.resolved(first) == schema
    return first if alike else drafter.defined(f"{name} of {assembly.type}", lambda: schema)


def _expectations(drafter: Drafter, names: Offered, assembly: Assembly) -> Schema:
    grades = {
        row.name: _shared(
            drafter,
            f"grade of {row.name}",
            assembly,
            {"description": row.title, **either(choice(grades_of(row)), TEXT)},
        )
        for row in assembly.findings
    }
    results = drafter.defined(f"results of {assembly.type}", lambda: mapping(TEXT, properties=grades))

    def one(of: str) -> Schema:
        return drafter.defined(f"{of} of {assembly.type}", lambda: either({"enum": list(names.lists[of])}, TEXT))

    made: dict[str, Callable[[str], Schema]] = {
        "results": lambda _: results,
        "name": one,
        "names": lambda of: several(one(of)),
    }
    kinds = {name: key.kind for name, key in drafter.family["expect"].keys.items() if key.kind.word in made}
    return {"properties": {name: made[kind.word](kind.of) for name, kind in kinds.items()}}
