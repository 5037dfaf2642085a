"""The years of an assembly as a page: what its charts show by position, read on a phone and on paper."""

from __future__ import annotations

import json
from pathlib import Path

from playwright.sync_api import Locator

from diagnose.pages.years import LARGE, Point, history_page, reading_chart
from diagnose.records.history import histories, read_years
from tests.pages.conftest import Opening
from tests.shipped import LIBRARY

HOSTILE = "<script>document.title='taken over'</script><b>"
MENDED = "record: {done: [check_1.replace_disc], final_test: {first_check_differential: 7.6 psid}, passed: yes}"
YEARS = ((2020, 6.1, ""), (2021, 5.4, ""), (2022, 4.6, MENDED), (2023, 6.9, ""), (2024, 4.9, ""))


def test_readings_stand_to_the_limit_as_they_read(tmp_path: Path, look_at: Opening) -> None:
    for year, reading, more in YEARS:
        text = f"assembly: RP\ntag: A-7\nlocation: {json.dumps(HOSTILE)}\ntested_on: {year}-05-01\n"
        readings = f"first_check_differential: {reading} psid, relief_valve_opening_point: 2.6 psid"
        (tmp_path / f"{year}.yaml").write_text(f"{text}observations: {{{readings}}}\n{more}\n", encoding="utf-8")
    cases, problems = read_years(tmp_path, LIBRARY)
    assert not problems
    page = tmp_path / "years.html"
    page.write_text(history_page(histories(cases, LIBRARY), LIBRARY, "psid"), encoding="utf-8")
    opened = look_at(page)
    figure = opened.page.locator("figure").filter(has_text="First check differential")
    (_, limit), *_ = _middles(figure.locator(".limit"))
    passed, failed, left = (_middles(figure.locator(f".{kind}")) for kind in ("pass", "fail", "left"))
    repairs = _middles(figure.locator("rect.repair"))
    assert (len(passed), len(failed), len(left), len(repairs)) == (3, 2, 1, 1)
    assert all(y < limit for _, y in [*passed, *left])
    assert all(y > limit for _, y in failed)
    assert [x for x, _ in passed] == sorted(x for x, _ in passed)
    assert abs(failed[0][0] - left[0][0]) < 1
    assert abs(repairs[0][0] - left[0][0]) < 1
    assert "2022-05-01: replace the disc" in opened.page.locator(".key").inner_text()
    assert HOSTILE in opened.page.locator("h1").inner_text()
    assert opened.requests == []
    assert opened.errors == []
    assert opened.too_wide() == []
    assert opened.grave_faults() == []
    assert opened.sheets_of("A4") == 1


def _middles(marks: Locator) -> list[tuple[float, float]]:
    boxes = [box for mark in marks.all() if (box := mark.bounding_box())]
    return [(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2) for box in boxes]


def test_a_line_ends_where_the_reading_after_work_is_not_known_and_a_limit_steps() -> None:
    before = [Point("2020-01-01", 0.5, 1.0, "fail"), Point("2021-01-01", -0.5, 1.0, "fail")]
    after = [Point("2022-01-01", 2.0, 0.0, "pass")]
    chart = reading_chart([before, after], LARGE, ["2020-01-01", "2021-01-01", "2022-01-01"], [(1, "2021-01-01")])
    assert len(chart.lines) == 2
    heights = [float(corner.split(",")[1]) for corner in chart.limit.split()]
    assert len(heights) == 4
    assert heights[0] < heights[-1]
    low, high = max(mark.y for mark in chart.marks), min(mark.y for mark in chart.marks)
    assert (low, high) == (LARGE.high - LARGE.foot, LARGE.top)
    assert chart.repairs == ((chart.marks[1].x, 1),)
    assert [year for _, year in chart.years] == ["2020", "2021", "2022"]


def test_a_single_reading_at_zero_can_be_drawn() -> None:
    chart = reading_chart([[Point("2020-01-01", 0.0, 0.0, "pass")]], LARGE, ["2020-01-01"])
    assert (chart.marks[0].x, chart.marks[0].y) == (LARGE.side, LARGE.high - LARGE.foot)
