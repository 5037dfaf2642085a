"""Every output reads the one standing of a case: none answers a question differently from another.

A fixed sample of the cases beside the shipped rules goes through text, Markdown, JSON, page, picture and consultation;
with EVERY_CASE=1 in the environment all of them do, which takes minutes.
"""

from __future__ import annotations

import html
import re
from functools import cache
from typing import Any, NamedTuple

import pytest

from diagnose.consulting import screens
from diagnose.consulting.sitting import begin
from diagnose.consulting.stepping import Ask, EnterState, next_step, stages, wishes_in
from diagnose.diagnosis.planning import LEAST_FAULT
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import percent
from diagnose.diagnosis.worth_showing import shown_causes
from diagnose.drawing.graph import Graph
from diagnose.drawing.reasoning import draw_reasoning
from diagnose.model.case import Case
from diagnose.pages.sheet import sheet_page
from diagnose.sheet.blocks import Block, Entries, Heading, Paragraph
from diagnose.sheet.data import as_data
from diagnose.sheet.first_screen import first_screen
from diagnose.sheet.page import sheet
from diagnose.sheet.text import as_markdown, as_text
from tests.shipped import EXAMPLES, LIBRARY, beside, example
from tests.volume import EVERY_CASE

SAMPLE = 60


@cache
def cases() -> tuple[Case, ...]:
    rows, examples = (
        [row.case for row in beside()],
        [example(file.stem).case for file in sorted(EXAMPLES.glob("*.yaml"))],
    )
    return (*examples, *(rows if EVERY_CASE else rows[:: len(rows) // SAMPLE][: SAMPLE - len(examples)]))


class Told(NamedTuple):
    """A case worked through once, and what is made of it."""

    result: Diagnosis
    data: dict[str, Any]
    blocks: list[Block]
    text: str
    page: str
    graph: Graph


@cache
def told(number: int) -> Told:
    case = cases()[number]
    result = Diagnosis(LIBRARY.get(case.type), case)
    blocks = sheet(result)
    page = re.sub(r"<[^>]+>", " ", sheet_page(result))
    return Told(
        result,
        as_data(result),
        blocks,
        folded(as_text(blocks, 80)),
        folded(html.unescape(page)),
        draw_reasoning(result),
    )


def folded(text: str) -> str:
    """One blank between words, so that a line's end counts for nothing."""
    return " ".join(text.split())


def section(blocks: list[Block], title: str) -> list[Block]:
    """The blocks under a heading up to the next one."""
    start = next((at for at, row in enumerate(blocks) if isinstance(row, Heading) and row.text == title), len(blocks))
    rows = blocks[start + 1 :]
    end = next((at for at, row in enumerate(rows) if isinstance(row, Heading)), len(rows))
    return rows[:end]


def entries(blocks: list[Block], title: str) -> list[tuple[str, str]]:
    return [
        (row.lead, row.text) for block in section(blocks, title) if isinstance(block, Entries) for row in block.rows
    ]


pytestmark = pytest.mark.parametrize("number", range(len(cases())))


def test_the_first_cause_and_its_number(number: int) -> None:
    one = told(number)
    first = one.data["causes"][0]
    shown = percent(one.result.causes[0].probability)
    assert first["name"] == one.result.causes[0].cause.name
    assert percent(first["probability"]) == shown
    standings = entries([*screens.standings_page(one.result)], "Standings")
    listed = entries(one.blocks, "Likely causes")
    if (shown, first["text"]) in listed:
        assert listed[0] == (shown, first["text"])
        assert folded(f"{shown} {first['text']}") in one.text
        assert folded(f"{shown} {first['text']}") in one.page
    if one.result.causes[0] in shown_causes(one.result):
        assert standings[0] == (shown, f"{first['name']}: {first['text']}")
    drawn = [node for node in one.graph.nodes if node.key.startswith("cause.") and node.part]
    assert all(node.probability is not None for node in drawn)
    found = {node.key: node.probability for node in drawn}
    if drawn:
        assert found.get(f"cause.{first['name']}") == one.result.causes[0].probability


def test_the_first_screen_takes_no_more_than_fifty_lines(number: int) -> None:
    assert len(as_text(first_screen(told(number).result), 80).splitlines()) <= 50


def test_the_ties_of_the_first_cause(number: int) -> None:
    one = told(number)
    texts = {row["name"]: row["text"] for row in one.data["causes"]}
    ties = set(one.result.rivals)
    assert ties <= set(one.data["causes"][0]["tied_with"])
    likely = [row for row in section(one.blocks, "Likely causes") if isinstance(row, Paragraph)]
    named = [text for row in likely for text in row.text.partition("tied with it: ")[2].rstrip(".").split("; ")]
    listed = {text for _, text in entries(one.blocks, "Likely causes")}
    assert {texts[name] for name in ties} & listed == set(named)
    blocks = [*screens.standings_page(one.result)]
    told_by_ask = " ".join(row.text for row in blocks[2:] if isinstance(row, Paragraph))
    shown = {row.cause.name for row in shown_causes(one.result)}
    assert {name for name in ties & shown if name in re.split(r"[,\s]+|\.$", told_by_ask)} == ties & shown
    first = one.data["causes"][0]["name"]
    tied = {node.key for node in one.graph.nodes if "tied for first" in node.paragraphs}
    assert tied <= {f"cause.{name}" for name in (first, *ties)}


def test_what_may_have_to_be_mended_together(number: int) -> None:
    one = told(number)
    texts = {row["name"]: row["text"] for row in (*one.data["causes"], *one.data["site_conditions"])}
    shown = entries(one.blocks, "Taken together")
    assert shown
    for (chance, text), row, (_, exact) in zip(shown, one.data["together"], one.result.combinations, strict=False):
        assert chance == percent(exact)
        assert row["probability"] == pytest.approx(exact, abs=1e-4)
        assert all(texts.get(name, one.result.assembly.unlisted.text) in text for name in row["causes"])
        assert folded(f"{chance} {text}") in one.text
        assert folded(f"{chance} {text}") in one.page
    every = one.result.combinations
    outside = {row.cause.name for row in one.result.conditions}
    sound = [chance for names, chance in every if set(names) <= outside]
    faulty = [chance for names, chance in every if not set(names) <= outside]
    for chances, exact in ((sound, one.result.nothing_wrong), (faulty, 1 - one.result.nothing_wrong)):
        assert not chances or sum(chances) == pytest.approx(exact)


def test_the_next_check(number: int) -> None:
    one = told(number)
    check = one.data["to_do"]["next_check"]
    question = check and next(
        row.question for row in one.result.assembly.observations if row.name == check["observation"]
    )
    drawn = [node.key for node in one.graph.nodes if node.kind == "question"]
    for text in (one.text, folded(as_markdown(one.blocks).replace("\\", "")), one.page):
        assert (f"Next check, before any repair: {question}" in text) == bool(check)
    assert one.result.case == cases()[number]
    start = begin(one.result.case, one.result.assembly)
    asked = one.result.on_terms(wishes_in(one.result, start.reached, start.skipped)).advice.check
    assert (asked and asked.observation.name) == (check and check["observation"])
    if asked is not None and asked.saves is not None:
        assert round(asked.saves, 1) == check["saves_minutes"]
    assert drawn == ([f"ask.{check['observation']}"] if check else [])
    assert_the_consultation_makes_the_same_move(one.result)


def assert_the_consultation_makes_the_same_move(result: Diagnosis) -> None:
    """It asks what the sheet looks at, or goes where that is looked at; what brings a person here is told first."""
    start, check = begin(result.case, result.assembly), result.advice.check
    step = next_step(result, start.reached, start.skipped)
    if isinstance(step, Ask) and step.observation.name in result.assembly.asked_first:
        return
    if isinstance(step, EnterState):
        assert check is not None
        assert stages(result.assembly)[check.observation.name] == step.stage
    else:
        assert (check and check.observation) == (step.observation if isinstance(step, Ask) else None)


def test_only_a_suspected_part_is_opened(number: int) -> None:
    result = told(number).result
    apart = {row.name for row in result.assembly.states if row.takes_apart}
    check, first = result.advice.check, [row.repair for row in result.plan.first]
    opened = {check.observation.component} if check and check.observation.state in apart else set()
    opened |= {row.component for row in first if not check and apart.intersection(row.states)}
    assert all(result.standing.components[part] >= LEAST_FAULT for part in opened)


def test_the_first_repair(number: int) -> None:
    one = told(number)
    repairs = one.data["to_do"]["first"]
    headings = [row.text for row in one.blocks if isinstance(row, Heading) and row.text.startswith("First: ")]
    assert headings == [f"First: {row['title']}" for row in repairs[:1]]
    assert all(folded(row["title"]).casefold() in one.page.casefold() for row in repairs[:1])
    drawn = [node.key for node in one.graph.nodes if node.kind == "repair"]
    if drawn:
        assert drawn[0] == f"repair.{repairs[0]['name']}"
