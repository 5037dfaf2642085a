"""An exam: the paper gives nothing away, the key is of the same cases, and each case is a page of paper."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from diagnose.cli.main import root
from diagnose.consulting.sitting import empty_case
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import short_caution
from diagnose.pages.exam import QUESTIONS, key_page, paper_page
from tests.pages.browser import DESKTOP, PAPERS
from tests.pages.conftest import Opening
from tests.shipped import LIBRARY, beside, example

EXAMPLES = ("two-faults", "test-voided-by-outlet-leak", "sound-but-spits", "detector-meter-moves")
EXAM = ["exam", "3", "--type", "SVB", "--number", "12"]


def paper_and_key(folder: Path, name: str, *arguments: str) -> tuple[str, str]:
    files = folder / f"{name}.html", folder / f"{name}-key.html"
    done = CliRunner().invoke(root, [*EXAM, "-o", str(files[0]), "--key", str(files[1]), *arguments])
    assert (done.exit_code, done.output) == (0, "")
    return files[0].read_text(encoding="utf-8"), files[1].read_text(encoding="utf-8")


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_paper_gives_nothing_away_in_its_source_either(name: str) -> None:
    result = example(name)
    page = paper_page([result], 5)
    causes = [row.text for row in result.assembly.causes]
    says = [text for row in result.assembly.findings for text in row.says]
    own = [result.case.title, result.case.file, name, result.answer, *(row.name for row in result.assembly.causes)]
    cautions = [row.text for row in result.assembly.cautions]
    body = page.partition("<body>")[2]
    answers = {text.casefold() for row in result.assembly.observations for _, text in row.answers}
    assert [t for t in (*causes, *says, *own, *cautions) if t and t in body and t.casefold() not in answers] == []
    assert not re.search(r"<(b|strong|em|i)>|%|data-|<!--|FAILS|passes", body)


def test_the_paper_has_what_was_seen_in_the_order_of_the_case() -> None:
    result = example("two-faults")
    questions = {row.name: row.question for row in result.assembly.observations}
    page = paper_page([result], 5, "kPa")
    places = [page.index(questions[name]) for name, _ in result.case.answers]
    assert places == sorted(places)
    assert "8.3 kPa" in page


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_key_tells_what_the_diagnosis_does(name: str) -> None:
    result = example(name)
    page = key_page([("a case", result)], 5)
    assert result.answer.replace(" %", "\u00a0%") in page
    check = result.advice.check
    assert check is None or check.observation.question in page
    # What is repaired without that check is no answer beside it.
    assert ("If nothing more is looked at, repair" in page) is (check is not None and bool(result.plan.first))
    assert all(f"{text}<br>{marks} marks: {given}" in page for text, marks, _, given in QUESTIONS)
    assert page.index("Any three") > page.index(result.assembly.retest[:30])


def test_the_key_of_a_sound_assembly_says_what_lies_outside_it() -> None:
    page = key_page([("a case", example("sound-but-spits"))], 5)
    assert "None in the assembly, but outside it: the supply pressure moves up" in page


def test_what_always_governs_is_none_of_three_cautions_that_bear_on_the_work() -> None:
    ready = LIBRARY.get("RP")
    quiet = Diagnosis(ready, empty_case(ready.assembly))
    page = key_page([("a case", quiet)], 5)
    told = page.partition("Any three")[2].partition("</td>")[0]
    assert told.count("<p>") >= 3
    assert not any(short_caution(row) in told for row in quiet.cautions if row.always)


def test_the_fire_line_of_a_detector_is_among_the_cautions_of_the_key() -> None:
    told = key_page([("one", example("detector-bypass-check-low"))], 1)
    assert (
        short_caution(next(row for row in LIBRARY.get("DCDA").assembly.cautions if row.danger and row.always)) in told
    )


def test_paper_and_key_of_one_number_are_of_the_same_cases_every_time(tmp_path: Path) -> None:
    paper, key = paper_and_key(tmp_path, "first")
    assert paper_and_key(tmp_path, "again") == (paper, key)
    assert paper_and_key(tmp_path, "other", "--number", "13")[0] != paper
    titles = re.findall(r"<h2>Case \d of 3: SVB, case \d+</h2>\s*<p>([^<]*)</p>", key)
    cases = {row.name: row.case for row in beside()}
    assert len(titles) == 3
    for title, sheet in zip(titles, paper.split('<section class="sheet">')[1:], strict=True):
        rows = Diagnosis(LIBRARY.get("SVB"), cases[title.replace("&#39;", "'")]).assembly.observations
        asked = {row.question for row in rows for name, _ in cases[title].answers if name == row.name}
        assert all(question in sheet for question in asked)


def test_each_case_prints_on_one_page_and_everybody_can_read_it(tmp_path: Path, look_at: Opening) -> None:
    file = tmp_path / "paper.html"
    file.write_text(paper_page([example(name) for name in EXAMPLES], 5), encoding="utf-8")
    shown = look_at(file, DESKTOP)
    assert [shown.sheets_of(paper) for paper in PAPERS] == [len(EXAMPLES)] * 2
    assert (shown.grave_faults(), shown.errors, shown.requests) == ([], [], [])


@pytest.mark.usefixtures("usual_face")
def test_the_longest_case_of_each_type_takes_one_page_too(tmp_path: Path, look_at: Opening) -> None:
    longest = {row.case.type: row.case for row in sorted(beside(), key=lambda row: len(row.case.answers))}
    results = [Diagnosis(LIBRARY.get(kind), case) for kind, case in longest.items()]
    assert max(len(row.case.answers) for row in results) > 12
    (tmp_path / "paper.html").write_text(paper_page(results, 5), encoding="utf-8")
    shown = look_at(tmp_path / "paper.html", DESKTOP)
    assert [shown.sheets_of(paper) for paper in PAPERS] == [len(results)] * len(PAPERS)


def test_the_key_names_causes_in_both_faulty_parts_and_in_one_that_was_mended() -> None:
    told = _second_answer("A leaking inlet valve of the bypass keeps the detector shut.")
    assert "bypass first check valve" in told
    assert "bypass inlet shutoff valve" in told
    told = _second_answer(
        "An air inlet of a spill-resistant one that seals with a new disc and seal had its fault there."
    )
    assert "air inlet valve" in told
    assert "None in the assembly" not in told


def test_three_cautions_can_be_had_where_nothing_is_to_be_done() -> None:
    name = "Debris seen in the air inlet of a vacuum breaker that passes does not make the check faulty."
    told = _key_of(name).partition("Any three")[2].partition("</td>")[0]
    assert told.count("<p>") >= 3


def _key_of(name: str) -> str:
    case = next(row.case for row in beside() if row.name == name)
    return key_page([("one", Diagnosis(LIBRARY.get(case.type), case))], 1)


def _second_answer(name: str) -> str:
    return _key_of(name).partition(QUESTIONS[1][0])[2].partition("</td>")[0]


def test_a_bad_wish_writes_nothing(tmp_path: Path) -> None:
    out = tmp_path / "paper.html"
    many = CliRunner().invoke(root, ["exam", "40", "--type", "RPDA-II", "-o", str(out)])
    assert "such cases, and 40 are asked for" in str(many.exception)
    same = CliRunner().invoke(root, [*EXAM, "-o", str(out), "--key", str(out)])
    assert "cannot be the same file" in same.output
    assert not out.exists()
