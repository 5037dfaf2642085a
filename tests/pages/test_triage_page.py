"""The year of an office as a page: read on a screen and on paper, with hostile text in its rows."""

from __future__ import annotations

from pathlib import Path

from diagnose.pages.years import triage_page
from diagnose.records.table_file import TableFile
from diagnose.records.triage import Triage
from diagnose.records.triage_columns import ReportColumns
from diagnose.records.triage_summary import summary
from tests.pages.browser import DESKTOP, PHONE
from tests.pages.conftest import Opening
from tests.shipped import LIBRARY

HOSTILE = "<script>document.title='taken over'</script><b>"


def test_the_page_fits_says_what_failed_and_loads_nothing(tmp_path: Path, look_at: Opening) -> None:
    lines = ["tag,tested_on,location,type,size,hazard,first_check_differential,second_check_differential"]
    lines += [
        f"D{n},{2021 + y}-05-0{n + 1},Mill,DC,{n + 1} in,no,{2.3 - 0.35 * y},2.0" for n in range(2) for y in range(4)
    ]
    lines += [f"F{n},2024-0{n + 1}-01,{HOSTILE},DC,2 in,yes,0.4,{n / 4}" for n in range(6)]
    lines += [f"N{n},2024-05-01,Mill,DC,2 in,no,0.3,0.3" for n in range(17)]
    path, columns = tmp_path / "reports.csv", ReportColumns(unit="psid")
    path.write_text("\n".join(lines), encoding="utf-8")
    triage = Triage(TableFile(path, columns.separator, columns.encoding), columns, LIBRARY, None)
    triage.run(1, lambda *_: None, lambda *_: None)
    page = tmp_path / "page.html"
    page.write_text(triage_page(summary(triage), "psid", "1.2.3"), encoding="utf-8")
    opened = look_at(page, DESKTOP)
    said = opened.page.locator("body").inner_text()
    assert "Field tests, 1 May 2021 to 1 June 2024" in said
    assert HOSTILE in said
    # All that give no protection are named, and how many besides are not.
    assert [f"N{n}" for n in range(17) if f"N{n}" not in said] == []
    assert "The first 21 of 23 that are to be seen to" in said
    assert "US EPA manual, 2003" in said
    assert "Coming near a limit" in said
    assert "check valve" in opened.page.locator("#stock").inner_text()
    assert opened.page.title().startswith("Field tests")
    assert opened.requests == []
    assert opened.errors == []
    assert opened.too_wide() == []
    assert opened.grave_faults() == []
    assert opened.sheets_of("A4") <= 3
    opened.page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    assert opened.too_wide() == []
    # Each cell has the width of the page, so that no word is broken for want of room.
    widths = opened.page.locator(".rows tbody :is(th, td)").evaluate_all(
        "cells => cells.filter(each => each.textContent).map(each => each.getBoundingClientRect().width)"
    )
    assert min(widths) > 300
