"""Which cautions are said: those that apply, or of which nobody has told that they do not."""

from __future__ import annotations

import html
from collections.abc import Mapping
from types import MappingProxyType

import pytest

from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.planning import AS_USUAL
from diagnose.diagnosis.result import Diagnosis, cautions_for
from diagnose.diagnosis.work import work_for
from diagnose.pages.sheet import sheet_page
from diagnose.sheet.blocks import Block
from diagnose.sheet.page import sheet
from diagnose.sheet.planning import plan_page
from diagnose.sheet.text import as_text
from tests.consulting.person import case_with, sat
from tests.shipped import LIBRARY

SEEN = {"relief_valve_discharge": "continuous", "discharge_when_water_is_drawn": "stops"}
RP = LIBRARY.get("RP")
AT_SITE = {row.name: row for row in RP.assembly.cautions if row.said_when is not None}
FACTS = {
    "fire_line_impairment": "fire_line",
    "confined_space": "in_vault",
    "submergence": "under_water",
    "water_must_stay_on": "water_must_stay_on",
    "frost": "frost",
    "health_hazard": "health_hazard",
    "electrical_bonding": "electrical_earth",
    "hot_water": "hot_water_service",
    "thermal_expansion": "expansion_protection",
}


def worked(size: float = 0.0, site: Mapping[str, str] = MappingProxyType({})) -> Diagnosis:
    return Diagnosis(RP, case_with("RP", {**SEEN, **site})._replace(size=size))


def said(result: Diagnosis) -> dict[str, bool]:
    return {row.caution.name: row.known for row in cautions_for(result, [row.name for row in RP.assembly.cautions])}


def folded(blocks: list[Block]) -> str:
    return " ".join(as_text(blocks, 80).split())


def test_each_caution_about_the_site_has_a_question() -> None:
    assert set(AT_SITE) == set(FACTS)


@pytest.mark.parametrize("name", FACTS)
def test_what_the_site_has_not_is_not_warned_of(name: str) -> None:
    assert name not in said(worked(site={FACTS[name]: "no"}))


@pytest.mark.parametrize("name", FACTS)
def test_what_the_site_has_is_warned_of(name: str) -> None:
    """Of hot water for certain only where the line is known not to feed fire protection, which is cold."""
    assert said(worked(site={"fire_line": "no", FACTS[name]: "yes"}))[name] is True


@pytest.mark.parametrize("name", FACTS)
def test_what_nobody_told_of_the_site_is_warned_of_all_the_same(name: str) -> None:
    assert said(worked())[name] is False


@pytest.mark.parametrize(("fact", "answer"), [("test_hindered", "under_water"), ("hard_frost", "yes")])
def test_what_was_seen_there_outweighs_a_no(fact: str, answer: str) -> None:
    name = {"test_hindered": "submergence", "hard_frost": "frost"}[fact]
    assert name in said(worked(site={FACTS[name]: "no", fact: answer}))


@pytest.mark.parametrize(("size", "is_said", "known"), [(0.0, True, False), (2.0, False, False), (2.5, True, True)])
def test_heavy_parts_are_those_of_large_assemblies(size: float, is_said: bool, known: bool) -> None:
    assert said(worked(size)).get("heavy_parts") == (known if is_said else None)


@pytest.mark.parametrize("answer", ["no", "yes"])
def test_a_caution_that_was_answered_away_is_gone_everywhere(answer: str) -> None:
    text, result = AT_SITE["fire_line_impairment"].text, worked(site={"fire_line": answer})
    pages = {
        "sheet": folded(sheet(result)),
        "page": html.unescape(sheet_page(result)),
        "plan": folded(plan_page(result, work_for(result, AS_USUAL))),
        "plan in a hurry": folded(plan_page(result, work_for(result, AS_USUAL, 60.0))),
        "consultation": " ".join(sat("RP", {**SEEN, "fire_line": answer})[1].text.split()),
        "picture": "".join(row.text for row in result.plan.cautions),
    }
    assert {where for where, page in pages.items() if text in page} == (set(pages) if answer == "yes" else set())


def test_a_clause_in_short_stands_where_life_is_in_danger() -> None:
    assert [row.name for row in RP.assembly.cautions if row.danger and not row.in_short] == []


@pytest.mark.parametrize("kind", [name for name in LIBRARY.types() if "DA" in name])
def test_what_a_type_takes_for_granted_holds_unless_a_case_says_otherwise(kind: str) -> None:
    """A detector assembly stands on a fire line by its nature."""
    ready = LIBRARY.get(kind)
    assert dict(ready.assembly.granted) == {"fire_line": "yes"}
    for answers, known in ((case_with(kind), True), (case_with(kind, {"fire_line": "no"}), False)):
        result = Diagnosis(ready, answers)
        told = {row.caution.name: row.known for row in cautions_for(result, ["fire_line_impairment"])}
        assert told == ({"fire_line_impairment": True} if known else {})
        asked = {row.name for row in askable(ready, result.chaining, dict(answers.answers))}
        assert ("hot_water_service" in asked) is not known
        assert dict(result.case.answers) == dict(answers.answers)
