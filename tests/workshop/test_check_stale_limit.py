from __future__ import annotations

from pathlib import Path

from tests.workshop.laying import place_of, told

FILE = "limits/plain_town.yaml"


def test_a_limit_is_told_of_after_two_years_and_not_before(tiny: Path) -> None:
    assert told(tiny, "stale-limit", month=(2028, 10)) == []
    message = (
        "limit 'margin_minimum' was last compared with its source in 2026-10, 25 months ago; look whether it still "
        "holds"
    )
    assert told(tiny, "stale-limit", month=(2028, 11)) == [f"{place_of(tiny, FILE, '2026-10')}: {message}"]


def test_so_is_the_accuracy_of_the_gauge(tiny: Path) -> None:
    places = [line.partition(": ")[0] for line in told(tiny, "stale-limit", month=(2028, 12))]
    assert place_of(tiny, "limits/gauge.yaml", "2026-11") in places
    assert len(places) == 4


def test_a_month_that_has_not_come_yet(tiny: Path) -> None:
    (line,) = (line for line in told(tiny, "stale-limit", month=(2026, 9)) if "margin_minimum" in line)
    assert line.endswith("was compared with its source in 2026-10, which has not come yet")
