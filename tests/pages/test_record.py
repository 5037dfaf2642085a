"""The record of a test for a part that stands in YAML alone: an invented strainer, laid over the shipped rules."""

from __future__ import annotations

import re

import pytest

from diagnose.diagnosis.library import Library
from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing.schematic.schematic_svg import schematic_svg
from diagnose.model.case import Case
from diagnose.pages.sheet import sheet_page
from tests.knowledge.overlays import written

STRAINER = """part: strainer
title: strainer
record: {tick: clear or dirty, confirm: strainer can be flushed}
modes:
  plugged: {text: "The {component} is plugged.", source: estimate}
causes:
  basket_full:
    text: a full basket in the {component}
    kind: debris
    share: 1
    brings: {plugged: usually}
    source: estimate
"""
DC = """components:
  strainer: {part: strainer, title: strainer, rate: 0.02, source: estimate}
changed:
  drawn:
    along the flow:
      [strainer, test_cock_1, shutoff_valve_1, test_cock_2, check_1, test_cock_3, check_2, test_cock_4, shutoff_valve_2]
"""


@pytest.fixture(scope="module")
def strained(tmp_path_factory: pytest.TempPathFactory) -> Diagnosis:

    files = {"parts/strainer.yaml": STRAINER, "assemblies/dc.yaml": DC}
    overlay = written(tmp_path_factory.mktemp("strainer"), files)
    ready = Library(keep=False, overlays=[overlay]).get("DC")
    return Diagnosis(ready, Case("DC", "", 1.0, ready.assembly.default_profile, "", None, ()))


def test_it_gets_its_boxes_on_the_record(strained: Diagnosis) -> None:
    record = sheet_page(strained).split('id="record"')[1]
    for test in ("initial test", "final test"):
        for word in ("clear", "dirty"):
            assert f'aria-label="strainer, {test}: {word}"' in record
    assert record.count('name="strainer can be flushed"') == 1
    assert re.search('aria-label="strainer: cleaned"', record)


def test_it_is_a_box_with_its_name_in_the_picture(strained: Diagnosis) -> None:
    group = re.search('<g data-part="strainer">.*?</g>', schematic_svg(strained))
    assert group
    number = re.search(r"<text[^>]*>(\d+)</text>", group[0])
    assert number
    assert re.search(rf">{number[1]}</text>.*?>strainer</text>", schematic_svg(strained))


def test_parts_of_a_kind_share_a_line_of_the_repairs_where_its_file_says_so(strained: Diagnosis) -> None:
    record = sheet_page(strained).split('id="record"')[1]
    assert 'aria-label="test cocks: cleaned"' in record
    assert "test cock 1: cleaned" not in record
