"""Looking up names: everything about one in a view, and lists of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.index.things import KINDS
from diagnose.knowledge.shipped import shipped_folder
from diagnose.model.assembly import Assembly
from diagnose.model.places import ProblemsFoundError
from diagnose.sheet.text import as_text
from diagnose.workshop import views as showing
from diagnose.workshop.views import ShownFrom, View, ViewLine, list_page, listed, plain_data, views, views_page
from tests.workshop.cases import laid, loaded


@pytest.fixture
def shown(tiny: Path) -> ShownFrom:
    laid(tiny)
    return ShownFrom(*loaded(tiny))


def told(lines: tuple[ViewLine, ...]) -> set[tuple[str, str, str]]:
    return {(row.how, row.kind, row.name) for row in lines}


def one(name: str, shown: ShownFrom) -> View:
    (view,) = views(name, shown)
    return view


def line_of(file: str, text: str) -> int:
    return Path(file).read_text().splitlines().index(text) + 1


def test_a_rule_shows_its_place_text_premises_conclusion_cases_and_sources(shown: ShownFrom) -> None:
    view = one("stream_from_port", shown)
    assert (view.kind, view.types, view.names) == (
        "rule",
        ("TWIN", "TWINB"),
        ("bypass.stream_from_port", "stream_from_port"),
    )
    assert (Path(view.place.file).name, view.place.column) == ("twin.yaml", 3)
    assert view.place.line == line_of(view.place.file, "  stream_from_port:")
    assert ("premises", 'port is "a steady stream"') in view.details
    assert ("reason", "The first flap lets water through to the port.") in view.details
    assert ("easily confused with", "rain") in view.details
    assert told(view.fed_by) == {("asks for", "observation", "port")}
    assert told(view.feeds) == {("concludes stream", "finding", "port_drips")}
    assert [(case.how, case.place.line) for case in view.cases] == [("expects it true", 2), ("expects it not true", 12)]
    (source,) = view.sources
    assert (source.key, source.title, source.mark) == ("LEAFLET", "An invented leaflet", "from memory")
    assert source.place.line == line_of(source.place.file, "  LEAFLET:")


def test_a_finding_shows_rules_reasons_and_who_uses_it(shown: ShownFrom) -> None:
    view = one("port_drips", shown)
    assert told(view.fed_by) == {
        ("stream by", "rule", "stream_from_port"),
        ("drip by", "rule", "drip_from_port"),
        ("hidden by (shows x0.05)", "mode", "flap_2.stuck_open"),
    }
    together = "speaks for (drip or worse 60 %, stream or worse 60 %, together with"
    assert told(view.feeds) == {
        ("asked for by", "rule", "readings_close"),
        ("asked for by", "rule", "turning_meter"),
        ("speaks for (drip or worse 80 %, stream or worse 60 %)", "mode", "flap_1.leaks"),
        (f"{together} pressure_swings)", "mode", "flap_2.leaks"),
        (f"{together} flap_2.leaks)", "condition", "pressure_swings"),
        ("speaks for (drip or worse 10 %, stream or worse under 1 %)", "condition", "pressure_swings"),
    }
    turning = next(row for row in view.feeds if row.name == "turning_meter")
    assert turning.types == ("TWINB",)
    assert ("says, drip", "The port drips.") in view.details
    assert [case.how for case in view.cases] == ["expects stream", "rules out stream"]


def test_an_observation_shows_when_it_counts_and_what_judges_it(shown: ShownFrom) -> None:
    view = one("first_reading", shown)
    assert told(view.fed_by) == {
        ("void when", "finding", "test_spoilt"),
        ("void when", "observation", "pressure_log"),
        ("void when", "observation", "port"),
        ("judged by", "limit", "flap_minimum"),
        ("made while", "state", "gauge"),
    }
    assert told(view.feeds) == {("gives", "observation", "margin"), ("asked for by", "rule", "flap_below_limit")}
    assert ("range", "0.0 psid to 15.0 psid") in view.details
    assert [case.how for case in view.cases] == [
        "gives 0.4 psid",
        "gives 1.0 psid",
        "gives 0.4 psid; expects its answer not to count",
    ]


def test_a_full_name_shows_full_names_and_a_written_one_those_of_its_file(shown: ShownFrom) -> None:
    full, written = one("flap_2.worn", shown), one("worn", shown)
    assert full.place == written.place
    assert ("brings (60 %)", "mode", "flap_2.leaks") in told(full.feeds)
    assert ("brings (60 %)", "mode", "leaks") in told(written.feeds)
    assert ("cured by (80 %)", "repair", "new_rubber") in told(written.feeds)
    assert ("text", "worn rubber of the second flap") in full.details
    assert ("text", "worn rubber of the {component}") in written.details
    assert {label for label, _ in written.details if label.startswith("rate")} > {
        "rate, flap_1.worn",
        "rate, gate.worn",
    }
    assert told(full.fed_by) == {("weighed -2.5 db by", "finding", "grit_likely")}


def test_a_limit_shows_every_profile_with_value_source_and_place(shown: ShownFrom, tiny: Path) -> None:
    view = one("flap_minimum", shown)
    plain, strict = tiny / "limits" / "plain_town.yaml", tiny / "limits" / "strict_town.yaml"
    lines = [line_of(str(file), "  flap_minimum:") for file in (plain, strict)]
    assert dict(view.details) == {
        "plain_town": f"at least 1.0 psid [LEAFLET], checked 2026-11, {plain}:{lines[0]}:3",
        "strict_town": f"at least 0.1 bar [REPORT], checked 2026-11, {strict}:{lines[1]}:3",
    }
    assert told(view.feeds) == {("judges", "observation", "first_reading"), ("compared in", "rule", "flap_below_limit")}
    assert [case.how for case in view.cases] == [
        "first_reading reads below it in plain_town",
        "first_reading reads exactly at it in plain_town",
    ]


def test_a_limit_belongs_to_the_types_that_use_it(tiny: Path) -> None:
    (tiny / "assemblies" / "plain.yaml").write_text(
        "assembly: PLAIN\ntitle: plain invented assembly\nretest: The plain test.\ncomponents:\n"
        "  flap: {part: flap, title: flap, rate: 0.05, source: estimate}\n"
    )
    shown = ShownFrom(*loaded(tiny))
    assert one("flap_minimum", shown).types == ("TWIN", "TWINB")
    assert one("plain_town", shown).types == ("PLAIN", "TWIN", "TWINB")
    strict = one("strict_town", shown)
    assert [(Path(row.place.file).stem, row.types) for row in strict.feeds] == [("strict_town", ("TWIN", "TWINB"))]
    every = [ready.assembly for ready in shown.types.values()]
    assert {row.types for row in listed(every, "limit")} == {("TWIN", "TWINB")}
    with pytest.raises(ProblemsFoundError, match="PLAIN has nothing of the name 'flap_minimum'"):
        views("flap_minimum", shown._replace(types={"PLAIN": shown.types["PLAIN"]}))


@pytest.mark.parametrize(
    ("name", "kind", "line", "feeds"),
    [
        ("flap_1", "component", "  flap_1:", ("has", "cause", "flap_1.grit")),
        ("flap", "part", "part: flap", ("is", "component", "flap_2")),
        ("leaks", "mode", "  leaks:", ("shows (80 %)", "finding", "weak_flap")),
        ("pressure_swings", "condition", "  pressure_swings:", ("cured by (80 %)", "repair", "regulator")),
        ("clean", "repair", "  clean:", ("carries", "caution", "spring")),
        ("spring", "caution", "  spring:", ("read in", "state", "opened")),
        ("opened", "state", "  opened:", ("needed for", "observation", "flap_1.seat")),
        ("plain_town", "profile", "profile: plain_town", ("states", "limit", "margin_minimum")),
        ("REPORT", "source", "  REPORT:", ("cited by", "limit", "flap_minimum")),
    ],
)
def test_every_kind_is_shown_where_it_is_written(
    name: str, kind: str, line: str, feeds: tuple[str, str, str], shown: ShownFrom
) -> None:
    view = one(name, shown)
    assert (view.kind, view.place.line) == (kind, line_of(view.place.file, line))
    assert feeds in told(view.feeds)


def test_a_type_shows_what_it_holds_and_its_cases(shown: ShownFrom) -> None:
    view = one("TWINB", shown)
    assert Path(view.place.file).name == "twin_bypass.yaml"
    assert view.cases == ()
    assert len(one("twin", shown).cases) == 3
    assert any(
        text.startswith("flap_1, flap_2, bypass.flap_1") for label, text in view.details if label == "components"
    )


def test_a_mark_shows_all_that_rests_on_it(shown: ShownFrom) -> None:
    found = told(one("inference", shown).feeds)
    assert ("cited by", "rule", "readings_close") in found
    assert ("cited by", "rule", "stream_from_port") not in found


def test_one_name_of_several_things_shows_each(tiny: Path) -> None:
    twin = tiny / "assemblies" / "twin.yaml"
    twin.write_text(twin.read_text().replace("drip_from_port:", "pressure_swings:"))
    laid(tiny)
    assert [view.kind for view in views("pressure_swings", ShownFrom(*loaded(tiny)))] == ["rule", "condition"]


def test_a_misspelt_name_gets_the_nearest(shown: ShownFrom) -> None:
    with pytest.raises(ProblemsFoundError) as caught:
        views("steam_from_port", shown)
    expected = "the rule base has nothing of the name 'steam_from_port'; did you mean 'stream_from_port'?"
    assert str(caught.value) == f"NAME: error: {expected}"


def test_for_one_type_only_its_own_is_shown(shown: ShownFrom) -> None:
    only = ShownFrom({"TWIN": shown.types["TWIN"]}, shown.cases)
    assert one("port_drips", only).types == ("TWIN",)
    assert "turning_meter" not in {row.name for row in one("port_drips", only).feeds}


def test_text_cuts_long_lists_and_says_so(shown: ShownFrom, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(showing, "MOST_LINES", 5)
    page = as_text(views_page(views("flap", shown), ["TWIN", "TWINB"])).splitlines()
    whole = as_text(views_page(views("flap", shown), ["TWIN", "TWINB"], whole=True)).splitlines()
    rows = len(one("flap", shown).feeds)
    assert f"what it feeds ({rows})" in page
    assert f"  and {rows - 5} more; --all shows them" in page
    assert len(whole) == len(page) - 1 + rows - 5


def test_data_holds_everything_with_places(shown: ShownFrom) -> None:
    (data,) = plain_data(views("stream_from_port", shown))
    assert data["fed_by"][0]["name"] == "port"
    for row in [data, *data["fed_by"], *data["feeds"], *data["cases"], *data["sources"]]:
        assert row["file"].endswith(".yaml")
        assert row["line"] > 0


@pytest.fixture(scope="module")
def shipped() -> list[Assembly]:
    return [ready.assembly for ready in loaded(shipped_folder())[0].values()]


def test_lists_hold_each_written_thing_once_and_full_names_for_a_type(shipped: list[Assembly]) -> None:
    written = listed(shipped, kind="cause")
    assert len({row.place for row in written}) == len(written)
    assert {row.place for row in written} == {c.place for a in shipped for c in a.causes if c.component}
    one_type = listed(shipped, kind="cause", type_name="RP")
    rp = next(assembly for assembly in shipped if assembly.type == "RP")
    assert {row.name for row in one_type} == {row.name for row in rp.causes if row.component}


def test_lists_are_filtered_by_part_and_words(shipped: list[Assembly]) -> None:
    for part in ("check_1", "check_valve"):
        found = listed(shipped, type_name="RP", part=part)
        kinds = {row.kind for row in found}
        assert kinds >= {"component", "observation", "finding", "rule", "mode", "cause", "repair"}
        assert all("check_" in row.name for row in found)
    springs = listed(shipped, kind="repair", words="SPRING")
    assert springs
    every = listed(shipped, kind="repair")
    assert set(springs) < set(every)
    assert listed(shipped, words="no such words anywhere") == []


def test_a_list_is_one_line_a_name_in_columns(shipped: list[Assembly]) -> None:
    rows = listed(shipped)
    lines = as_text(list_page(rows, [assembly.type for assembly in shipped])).splitlines()
    assert len(lines) == len(rows)
    assert {line.split()[0] for line in lines} == set(KINDS)
    assert len({line.index(row.name) for line, row in zip(lines, rows, strict=True)}) <= 2
