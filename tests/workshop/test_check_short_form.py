from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshop.laying import place_of, replaced, told

FILE = "parts/flap.yaml"
OLD = "Wipe the seat of the {component} and look at it in good light."


@pytest.mark.parametrize(
    ("text", "form"),
    [
        ("Look at the RV first.", "RV"),
        ("Look for dirt, e.g. sand.", "e.g."),
        ("Wait approx. 5 minutes.", "approx."),
        ("Use a PT-100 probe.", "PT-100"),
    ],
)
def test_a_short_form_that_is_not_explained(tiny: Path, text: str, form: str) -> None:
    replaced(tiny, FILE, OLD, text)
    message = f"'how' has the short form '{form}', which is not explained; write it out"
    assert told(tiny, "short-form") == [f"{place_of(tiny, FILE, text[:12])}: {message}"]


@pytest.mark.parametrize(
    "text",
    [
        "It is NOT to be opened.",  # stressed
        "The LEAFLET says so.",  # a source, which every sheet names in full
        "A TWIN has two of them.",  # a type of assembly
        "Use an O-ring. 5 psid and 20 kPa. It fits.",
    ],
)
def test_words_that_are_no_unexplained_short_forms(tiny: Path, text: str) -> None:
    replaced(tiny, FILE, OLD, text)
    assert told(tiny, "short-form") == []


def test_a_short_form_that_scales_explain(tiny: Path) -> None:
    replaced(tiny, FILE, OLD, "Look at the RV first.")
    replaced(tiny, "scales.yaml", "unlisted:", "short forms: {RV: relief valve}\nunlisted:")
    assert told(tiny, "short-form") == []
