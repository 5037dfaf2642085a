"""The shares that docs/records.md works out by hand, from the book that it shows."""

from __future__ import annotations

import csv
from pathlib import Path

TOP = Path(__file__).parents[2]


def test_what_is_worked_out_by_hand_is_what_was_printed() -> None:
    rows = list(csv.DictReader((TOP / "examples" / "book" / "repairs.csv").open(encoding="utf-8")))
    page = (TOP / "docs" / "records.md").read_text(encoding="utf-8")
    lines = [" ".join(line.split()) for line in page.splitlines()]
    assert len(rows) == 40
    first = [row for row in rows if row["Part"] == "first check"]
    dirt = [row for row in first if row["Cause"] == "dirt"]
    cleaned = [row for row in rows if row["Work"] == "cleaned" and row["Cause"] == "dirt"]
    cured = [row for row in cleaned if row["End"] == "ok"]
    assert (len(first), len(dirt), len(cured), len(cleaned)) == (28, 22, 23, 25)
    part = (10 * 0.0475 / 0.1455 + len(first)) / 50
    share = (10 * 0.315 + len(dirt)) / (10 + len([row for row in first if row["Cause"]]))
    cure = (10 * 0.95 + len(cured)) / 35
    for number, start in ((part, "first check valve"), (share, "debris"), (cure, "clean, debris (23 of 25)")):
        told = f"{number:.0%}".replace("%", " %")
        assert told in page.partition("By hand:")[2]
        assert f" {told} " in next(line for line in lines if line.startswith(f"{start} "))
