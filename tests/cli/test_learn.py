"""`diagnose learn`: from jobs to an overlay, which can be read, used, and refused line by line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from diagnose.knowledge.rulebase import RuleBase, read_rule_base
from tests.cli.conftest import Ran, Run

COLUMNS = "columns: {Day: closed_on, Kind: assembly, Wrong: found, Work: done, Min: minutes, Passed: passed}\n"


@pytest.fixture
def book(tmp_path: Path) -> tuple[str, ...]:
    rows = [
        *["2025-03-01,TWIN,flap_1.grit,flap_1.clean,20,yes"] * 18,
        *["2025-06-01,TWIN,flap_1.grit,flap_1.clean,30,no"] * 4,
        *["2026-01-31,TWINB,bypass.flap_1.worn,,,"] * 3,
        *["2025-08-09,TWIN,flap_2.worn,,,"] * 9,
    ]
    (tmp_path / "book.csv").write_text("\n".join(["Day,Kind,Wrong,Work,Min,Passed", *rows]), encoding="utf-8")
    (tmp_path / "columns.yaml").write_text(COLUMNS, encoding="utf-8")
    return ("--book", str(tmp_path / "book.csv"), "--columns", str(tmp_path / "columns.yaml"), "--no-cases")


Learn = Callable[..., Ran]


@pytest.fixture
def learn(run: Run, small_folder: Path) -> Learn:
    return lambda *arguments: run("learn", *arguments, "--rules", str(small_folder))


def rates(base: RuleBase, kind: str, part: str) -> dict[str, float]:
    found = {row.name: row.rate for row in base.assemblies[kind].causes if row.component == part}
    return {name.rpartition(".")[2]: rate for name, rate in found.items()}


def test_the_overlay_holds_what_counting_by_hand_gives(
    learn: Learn, book: tuple[str, ...], tmp_path: Path, small_folder: Path
) -> None:
    out = tmp_path / "own"
    result = learn(*book, "-o", str(out))
    assert result.code == 0
    assert "Learned from 34 of 34 jobs, 2025-03-01 to 2026-01-31" in result.out
    assert "PARTS/FLAP.YAML: HOW OFTEN REPAIRS CURED" in result.out  # a relief valve is cleaned of debris as well
    before, after = read_rule_base(small_folder), read_rule_base(small_folder, [out])
    new = rates(after, "TWIN", "flap_1")
    # The rules: 30 grit to 10 worn, and 0.05 of 0.09; counted: 22 grit and 3 worn of 25, and 25 of 34.
    assert new["grit"] / sum(new.values()) == pytest.approx((10 * 0.75 + 22) / 35, rel=5e-3)
    assert sum(new.values()) == pytest.approx(0.09 * (10 * 5 / 9 + 25) / 44, rel=5e-3)
    total = sum(row.rate for row in after.assemblies["TWIN"].causes if row.component)
    assert total == pytest.approx(0.09, rel=5e-3)
    assert rates(after, "TWINB", "bypass.flap_1") == new  # one part, wherever it is contained
    old, repairs = (
        {row.name: row for row in base.assemblies["TWIN"].repairs}["flap_1.clean"] for base in (before, after)
    )
    cure = (10 * dict(old.cures)["flap_1.grit"] + 18) / 32
    assert dict(repairs.cures)["flap_1.grit"] == pytest.approx(cure, rel=5e-3)
    assert repairs.minutes == pytest.approx((20 ** (10 + 18) * 30**4) ** (1 / 32), rel=5e-3)


def test_conditions_of_the_site_are_counted_apart_and_change_nothing(learn: Learn, book: tuple[str, ...]) -> None:
    before = json.loads(learn(*book, "--format", "json").out)
    with Path(book[1]).open("a", encoding="utf-8") as stream:
        stream.write("\n2025-08-09,TWIN,pressure_swings,,," * 6)
    shown, after = learn(*book).out, json.loads(learn(*book, "--format", "json").out)
    assert " 6  of these with a cause outside the parts" in shown
    assert (before["outside_the_parts"], after["outside_the_parts"]) == (0, 6)
    assert after["values"] == before["values"]


def test_a_line_that_is_deleted_is_not_learnt(
    learn: Learn, book: tuple[str, ...], tmp_path: Path, small_folder: Path
) -> None:
    out = tmp_path / "own"
    learn(*book, "-o", str(out))
    file = out / "assemblies" / "twin.yaml"
    lines = file.read_text(encoding="utf-8").splitlines()
    whole, shipped = (rates(read_rule_base(small_folder, some), "TWIN", "flap_1") for some in ([out], []))
    for gone in (("rate:",), ("grit:",), ("worn:", "shares:")):
        lines = [line for line in lines if not line.strip().startswith(gone)]
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
        now = rates(read_rule_base(small_folder, [out]), "TWIN", "flap_1")
        assert sum(now.values()) == pytest.approx(sum(shipped.values()))
        if gone == ("grit:",):
            assert shipped["grit"] < now["grit"] < whole["grit"]
    assert now == pytest.approx(shipped)


def test_each_value_says_where_it_comes_from(
    run: Run, learn: Learn, book: tuple[str, ...], tmp_path: Path, small_folder: Path
) -> None:
    out = tmp_path / "own"
    learn(*book, "-o", str(out), "--prior-cases", "20")
    text = (out / "assemblies" / "twin.yaml").read_text(encoding="utf-8")
    assert "# 22 of 25 cases; the rules say 30, which counts as 20; 90 %: " in text
    values = [line for line in text.splitlines() if line.startswith("        ") or line.strip().startswith("rate:")]
    assert len(values) == 6
    assert all("which counts as 20" in line for line in values)
    sources = (out / "sources.yaml").read_text(encoding="utf-8")
    assert "learned from 34 repairs of our own, 25 in this part, 2025-03-01 to 2026-01-31" in sources
    assert "prior: rules " in sources
    checked = run("rules", "overlay", "check", str(out), "--rules", str(small_folder))
    assert checked.code == 0
    assert "Not accepted yet" not in checked.out  # it was accepted against the rules that it was learned over


def test_whoever_uses_it_is_told_that_it_was_learned(
    run: Run, learn: Learn, book: tuple[str, ...], tmp_path: Path, small_folder: Path
) -> None:
    out, case = tmp_path / "own", tmp_path / "case.yaml"
    case.write_text("assembly: TWIN\nobservations: {port: stream}\n", encoding="utf-8")
    rules = ("--rules", str(small_folder))
    own = "come from 34 repairs of your own"
    for overlay, told in (((), False), (("--overlay", str(out)), True)):
        sheet = " ".join(run("find", str(case), "--full", *rules, *overlay).out.split())
        shown = " ".join(run("rules", "show", "flap_1", *rules, *overlay).out.split())
        assert (own in sheet) is told
        assert ("(learned from 34 repairs of our own, 25 in this part" in shown) is told
        assert ("observed (estimate)" in shown) is not told
        learn(*book, "-o", str(out))


def test_the_cases_in_which_another_cause_leads_are_told_before_anything_is_written(
    learn: Learn, book: tuple[str, ...], tmp_path: Path
) -> None:
    told = json.loads(learn(*book[:-1], "--format", "json").out)
    assert told["cases_weighed"] > 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["book.csv", "columns.yaml"]
    worn = tmp_path / "worn.csv"
    worn.write_text("Day,Kind,Wrong,Work,Min,Passed\n" + "2025-03-01,TWIN,flap_1.worn,,,\n" * 300, encoding="utf-8")
    moved = json.loads(learn("--book", str(worn), *book[2:4], "--format", "json").out)["leads_otherwise"]
    assert moved
    assert {row["new"] for row in moved} == {"flap_1.worn"}


def test_what_is_there_is_never_written_over_and_nothing_is_left_half(
    learn: Learn, book: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "own"
    assert learn(*book, "-o", str(out)).code == 0
    again = learn(*book, "-o", str(out))
    assert again.code == 2
    assert "holds something already" in again.err
    before = sorted(tmp_path.iterdir())

    def broken(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "rename", broken)
    failed = learn(*book, "-o", str(tmp_path / "other"))
    assert failed.code == 2
    assert "No space left" in failed.err
    assert sorted(tmp_path.iterdir()) == before


def test_what_was_learned_is_no_prior_for_the_same_records(learn: Learn, book: tuple[str, ...], tmp_path: Path) -> None:
    out = tmp_path / "own"
    learn(*book, "-o", str(out))
    result = learn(*book, "-o", str(tmp_path / "more"), "--overlay", str(out))
    assert result.code == 2
    assert "these rules have learned already" in result.err


def test_what_another_overlay_changes_is_left_to_it(
    learn: Learn, book: tuple[str, ...], tmp_path: Path, small_folder: Path
) -> None:
    own = tmp_path / "by_hand"
    (own / "assemblies").mkdir(parents=True)
    (own / "overlay.yaml").write_text("overlay: by_hand\ntitle: by hand\n", encoding="utf-8")
    text = "changed: {components: {flap_1: {rate: 0.08, source: estimate}}}\n"
    (own / "assemblies" / "twin.yaml").write_text(text, encoding="utf-8")
    result = learn(*book, "-o", str(tmp_path / "own"), "--overlay", str(own))
    assert result.code == 0
    assert "Left as another overlay has it: assemblies/twin.yaml: flap_1." in " ".join(result.out.split())
    base = read_rule_base(small_folder, [own, tmp_path / "own"])
    assert sum(rates(base, "TWIN", "flap_1").values()) == pytest.approx(0.08)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    store = tmp_path / "jobs"
    store.mkdir()
    for number in range(12):
        found = ("flap_1.grit", "not determined", "flap_1", "nothing wrong")[number % 4]
        text = f"assembly: TWIN\nobservations: {{port: stream}}\nrecord: {{found: {found}}}\n"
        (store / f"{number}.yaml").write_text(text, encoding="utf-8")
    (store / "open.yaml").write_text("assembly: TWIN\nobservations: {port: stream}\n", encoding="utf-8")
    (store / "notes.yaml").write_text("assembly: DUO\n", encoding="utf-8")
    return store


def test_a_folder_of_case_files_is_the_store(learn: Learn, folder: Path) -> None:
    result = learn(str(folder), "--no-cases", "--format", "json")
    assert result.code == 1  # one file is no case
    assert "notes.yaml:1:11: error: case, assembly: there is no type 'DUO'" in result.err
    told = json.loads(result.out)
    assert {key: told[key] for key in ("jobs", "named", "parts", "open", "without", "sound", "silent")} == {
        "jobs": 13, "named": 3, "parts": 3, "open": 3, "without": 1, "sound": 3, "silent": 0,
    }  # fmt: skip
    grit = next(row for row in told["values"] if row["path"] == ["components", "flap_1", "shares", "grit"])
    assert 3 < grit["cases"] < 9  # three found, and fractions of the six that stayed open
    assert grit["rules"] < grit["learned"]


def test_more_open_jobs_than_causes_found_are_a_warning(learn: Learn, folder: Path) -> None:
    warning = "More jobs stayed open than had their cause found."
    assert warning not in " ".join(learn(str(folder), "--no-cases").out.split())
    (folder / "0.yaml").unlink()
    assert warning in " ".join(learn(str(folder), "--no-cases").out.split())


def test_jobs_that_teach_nothing_write_nothing(learn: Learn, tmp_path: Path) -> None:
    (tmp_path / "jobs").mkdir()
    result = learn(str(tmp_path / "jobs"))
    assert (result.code, result.out) == (2, "")
    (tmp_path / "jobs" / "one.yaml").write_text("assembly: TWIN\n", encoding="utf-8")
    result = learn(str(tmp_path / "jobs"), "-o", str(tmp_path / "own"))
    assert result.code == 2
    assert "has an outcome that teaches anything" in result.err
    assert not (tmp_path / "own").exists()
