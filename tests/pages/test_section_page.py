"""The page with an assembly cut open, in a browser: it is read on a phone too, and everybody can follow it."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.pages.section import section_page
from tests.pages.browser import DESKTOP, PHONE
from tests.pages.conftest import Opening
from tests.shipped import assemblies

# The smallest words of the picture that is shown, in pixels of the window.
SMALLEST = """() => Math.min(...[...document.querySelectorAll('figure.current text')].map(
    each => each.getScreenCTM().a * parseFloat(each.getAttribute('font-size'))))"""


@pytest.mark.parametrize(("size", "least"), [(PHONE, 11.0), (DESKTOP, 16.0)])
def test_words_in_a_section_are_read_on_a_phone_and_a_projector(
    tmp_path: Path, look_at: Opening, size: tuple[int, int], least: float
) -> None:
    file = tmp_path / "section.html"
    file.write_text(section_page(assemblies()["RPDA"], "psid"), encoding="utf-8")
    shown = look_at(file, size)
    for _ in range(3):
        assert shown.page.evaluate(SMALLEST) >= least
        assert shown.too_wide() == []
        shown.page.keyboard.press("ArrowRight")
    assert shown.grave_faults() == []
