"""A part that a number tells from others is named as one names it: `test cock 1`, never `the test cock 1`."""

from __future__ import annotations

import re

from diagnose.consulting.sitting import empty_case
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer
from diagnose.sheet.data import as_data
from diagnose.sheet.page import sheet
from diagnose.sheet.text import as_text
from tests.shipped import LIBRARY, assemblies

WRONG = re.compile(r"\bthe (?:bypass )?test cock \d", re.IGNORECASE)


def test_no_text_of_a_type_has_an_article_before_a_numbered_part() -> None:
    for assembly in assemblies().values():
        assert WRONG.findall(repr(assembly)) == []


def test_nor_has_what_is_said_of_a_case() -> None:
    ready = LIBRARY.get("DC")
    answers = (("test_cock_1.shut", Answer("mouth", "mouth")), ("test_cock_2.shut", Answer("mouth", "mouth")))
    result = Diagnosis(ready, empty_case(ready.assembly)._replace(answers=answers))
    told = f"{as_text(sheet(result), 80)} {as_data(result)}"
    assert "test cock 1" in result.answer
    assert WRONG.findall(told) == []
