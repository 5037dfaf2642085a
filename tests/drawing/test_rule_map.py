from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from diagnose.diagnosis.library import Library
from diagnose.drawing.maps import rule_map as of_rules
from diagnose.drawing.maps.elements import Map, MapBox
from diagnose.drawing.maps.map_picture import map_picture
from diagnose.drawing.maps.marks import Exercised, exercised, marks_of
from diagnose.drawing.maps.rule_map import rule_map
from diagnose.engine.walking import names_in
from diagnose.index.as_written import RulesAsWritten
from diagnose.model.assembly import Assembly
from diagnose.model.places import ProblemsFoundError
from tests.drawing.places import assert_readable
from tests.shipped import LIBRARY
from tests.workshop.laying import added, copy_of, replaced

TYPES = ("DC", "DCDA", "DCDA-II", "PVB", "RP", "RPDA", "RPDA-II", "SVB")
PARTS = ("air_inlet", "check_valve", "detector_meter", "relief_valve", "sensing_line", "shutoff_valve", "test_cock")
A3 = (1190.55, 841.89)
A2 = (1683.78, 1190.55)
# A part's map is printed with letters of 6.1 points at least, on A3, or on A2 where all eight types have the part.
IN_ALL_TYPES = {"check_valve", "shutoff_valve", "test_cock"}
SMALLEST = 6.1 / 8
HOSTILE = '<script>alert("1")</script> \\N &amp; \u202e \U0001f6b0'


@pytest.fixture(scope="module")
def shipped() -> Library:
    return LIBRARY


@pytest.fixture(scope="module")
def maps(shipped: Library) -> dict[str, Map]:
    """Every map, for which the cases are run once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(of_rules, "exercised", cache(exercised))
        return {about: rule_map(shipped, about) for about in ("", *TYPES, *PARTS, "check_1", "vent_valve")}


@pytest.fixture
def folder(small_folder: Path, tmp_path: Path) -> Path:
    return copy_of(small_folder, tmp_path / "rules")


def item(drawn: Map, key: str) -> MapBox:
    return next(row for row in drawn.items if row.key == key)


def marked(drawn: Map) -> dict[str, tuple[str, ...]]:
    """The marks of all boxes that have any; outlines and marks go together."""
    for row in drawn.items:
        assert bool(row.marks) == (row.unreached or row.caseless)
    return {row.key: row.marks for row in drawn.items if row.marks}


@pytest.mark.parametrize("about", ["", *TYPES])
def test_nothing_overlaps(maps: dict[str, Map], about: str) -> None:
    assert_readable(maps[about])


@pytest.mark.parametrize("about", [*PARTS, "check_1", "vent_valve"])
def test_a_part_fits_a_page_and_nothing_on_it_overlaps(maps: dict[str, Map], about: str) -> None:
    at, page = assert_readable(maps[about]), A2 if about in IN_ALL_TYPES else A3
    assert min(page[0] / at.width, page[1] / at.height) >= SMALLEST


@pytest.mark.parametrize("type_name", TYPES)
def test_everything_of_a_type_is_drawn_or_named_below(shipped: Library, maps: dict[str, Map], type_name: str) -> None:
    assembly, drawn = shipped.get(type_name).assembly, maps[type_name]
    keys = {row.key for row in drawn.items}
    for kind, rows in (("finding", assembly.findings), ("observation", assembly.observations)):
        for row in rows:
            file = Path(row.place.file)
            own = row.name.rpartition(".")[2]
            assert f"{kind} {file.parent.name}/{file.stem} {own}" in keys
    for mode in assembly.modes:
        component, _, own = mode.name.rpartition(".")
        kind = next(row.part for row in assembly.components if row.name == component)
        assert f"mode parts/{kind} {component.rpartition('.')[2]} {own}" in keys
    for cause in assembly.causes:
        file = Path(cause.place.file)
        key = f"cause {file.parent.name}/{file.stem} {cause.name.rpartition('.')[2]}"
        assert key in keys or any(note.startswith("Not drawn") and cause.text in note for note in drawn.notes)


def test_what_is_folded_is_said_with_its_numbers(shipped: Library, maps: dict[str, Map]) -> None:
    assembly = shipped.get("RP").assembly
    folded = next(note for note in maps["RP"].notes if note.startswith("Drawn once"))
    findings = sum(row.key.startswith("finding ") for row in maps["RP"].items)
    assert f"{findings} findings stand for {len(assembly.findings)}" in folded
    assert f"causes and conditions for {len(assembly.causes)}" in folded


def test_lines_are_the_rules_and_reasons(shipped: Library, maps: dict[str, Map]) -> None:
    assembly = shipped.get("RP").assembly
    asked = {name for rule in assembly.rules if rule.finding == "relief_discharge" for name in names_in(rule.premise)}
    nets = {net.key: net for net in maps["RP"].nets}
    net = nets["asks finding assemblies/rp relief_discharge"]
    assert {tap.key for tap in net.left} == {f"observation assemblies/rp {name}" for name in asked}
    finding = next(row for row in assembly.findings if row.name == "relief_discharge")
    reasons = {name for reason in finding.reasons for name in reason.all_of}
    joined = {
        net.right[0].key: tap.manner
        for net in maps["RP"].nets
        for tap in net.left
        if tap.key == "finding assemblies/rp relief_discharge" and net.key.startswith("shows ")
    }
    assert len(joined) == len(reasons | {name for name, _ in finding.hidden_by})
    assert joined["mode parts/check_valve check_1 leaks"] == "plain"
    assert joined["mode parts/relief_valve relief_valve does_not_open"] == "hides"
    causes = {tap.key for tap in nets["brings parts/relief_valve opens_low"].right}
    brought = {row.name for row in assembly.causes if "relief_valve.opens_low" in dict(row.brings)}
    assert {key.rpartition(" ")[2] for key in causes} == {name.rpartition(".")[2] for name in brought}


def test_a_part_shows_all_of_it_and_what_shows_it(shipped: Library, maps: dict[str, Map]) -> None:
    keys = {row.key for row in maps["check_1"].items}
    for ready in shipped.all().values():
        for cause in ready.assembly.causes:
            assert cause.component != "check_1" or f"cause parts/check_valve {cause.name.rpartition('.')[2]}" in keys
        for finding in ready.assembly.findings:
            reasons = {name for reason in finding.reasons for name in reason.all_of}
            if not finding.sight and any(name.startswith("check_1.") for name in reasons):
                file = Path(finding.place.file)
                key = f"finding {file.parent.name}/{file.stem} {finding.name.rpartition('.')[2]}"
                assert {key, f"rests {key}"} <= keys
    assert not any(" check_2 " in key for key in keys)


def test_the_whole_counts_everything_once(maps: dict[str, Map]) -> None:
    whole = maps[""]
    told: dict[str, int] = {}
    for part in whole.subtitle.partition(": ")[2].split(", "):
        number, noun = part.split(" ", 1)
        told[noun] = int(number)
    for noun, kind in (("observations", "observation"), ("findings", "finding"), ("causes", "cause")):
        counts = [row.text.partition(": ")[2].split(" ")[0] for row in whole.items if row.kind == kind]
        assert sum(map(int, counts)) == told[noun]
    assert sum(row.kind == "condition" for row in whole.items) == told["site conditions"]
    assert len([row for row in whole.items if row.kind == "mode"]) >= 20


def test_the_same_text_each_time_in_sorted_order(shipped: Library) -> None:
    first = map_picture(rule_map(shipped, "relief_valve")).dot()
    assert map_picture(rule_map(Library(keep=False), "RELIEF VALVE")).dot() == first
    lines = [line for line in first.splitlines() if line.startswith('	"cause ') and " -> " not in line]
    boxes = [line.split('"')[1] for line in lines]
    assert len(boxes) > 10
    assert boxes == sorted(boxes)
    assert str(shipped.folder) not in first


def test_marks_of_the_small_rule_base(folder: Path) -> None:
    """Its two cases make two rules true and expect one cause; nothing that another type's bypass uses is unused."""
    drawn = rule_map(Library(folder, keep=False), "TWIN")
    assert marked(drawn) == {
        "cause parts/flap worn": ("[no case expects it]",),
        "cause site/conditions pressure_swings": ("[no case expects it]",),
        "finding assemblies/twin in_doubt": ("[no case for 1 of 1 rule: readings_close]",),
        "finding assemblies/twin port_drips": ("[no case for 1 of 2 rules: drip_from_port]",),
        "finding parts/flap grit_seen": ("[no case for 1 of 1 rule: grit_in_seat]",),
        "finding parts/flap rubber_state": ("[no case for 2 of 2 rules: grooved_rubber, hard_rubber]",),
        "finding site/circumstances grit_likely": ("[no case for 1 of 1 rule: works_stir_grit]",),
        "finding site/conditions log_swings": ("[no case for 1 of 1 rule: swings_in_log]",),
        "finding site/validity test_spoilt": ("[no case for 1 of 1 rule: running_water]",),
    }
    assert not any(row.unreached for row in drawn.items)
    nets = {net.key: net for net in drawn.nets}
    asks = {tap.key: tap.manner for tap in nets["asks finding assemblies/twin port_drips"].left}
    assert asks == {"observation assemblies/twin port": "plain"}
    [tap] = nets["asks finding parts/flap grit_seen"].right
    assert tap.manner == "open"


def test_what_leads_nowhere_has_a_heavy_outline(folder: Path) -> None:
    added(
        folder,
        "parts/flap.yaml",
        "modes:\n"
        "  rattles: {text: 'The {component} rattles.', source: estimate}\n"
        "  hums: {text: 'The {component} hums.', source: estimate}\n"
        "causes:\n"
        "  loose: {text: a loose pin, kind: wear, share: 1, brings: {hums: often}, source: estimate}\n"
        "observations:\n"
        "  color:\n"
        "    title: color of the {component}\n"
        "    question: Which color has it?\n"
        "    how: Look at it.\n"
        "    answers: {no: grey, yes: red}\n"
        "    state: opened\n"
        "    minutes: 1\n"
        "    source: common practice\n",
    )
    drawn = rule_map(Library(folder, keep=False), "flap")
    heavy = {row.key: row.marks for row in drawn.items if row.unreached}
    assert heavy == {
        "observation parts/flap color": ("[nothing uses it]",),
        "cause parts/flap loose": ("[nothing shows it]", "[no case expects it]"),
        **{f"mode parts/flap {name} rattles": ("[nothing brings it]",) for name in ("flap_1", "flap_2", "gate")},
    }
    whole = rule_map(Library(folder, keep=False), "")
    assert {row.key for row in whole.items if row.unreached} == {
        "observations parts/flap opened",
        "causes parts/flap wear",
        "mode parts/flap rattles",
    }
    text = map_picture(rule_map(Library(folder, keep=False), "flap")).dot()
    line = next(line for line in text.splitlines() if line.startswith('\t"observation parts/flap color" ['))
    assert "penwidth=3" in line
    assert "dashed" not in line


def test_a_finding_without_a_rule_is_marked(small: dict[str, Assembly]) -> None:
    """The reader refuses such a rule base; the map does not rely on it."""
    bare = small["TWIN"]._replace(rules=tuple(row for row in small["TWIN"].rules if row.finding != "weak_flap"))
    none = Exercised(frozenset(), frozenset(), frozenset())
    marks = marks_of(RulesAsWritten([bare]), none)
    assert marks.unreached["finding assemblies/twin weak_flap"] == "no rule concludes it"
    assert "finding assemblies/twin port_drips" not in marks.unreached


def test_a_case_takes_the_marks_away(folder: Path) -> None:
    case = (
        "cases:\n"
        "  - name: Swings in the log point at the supply.\n"
        "    assembly: TWIN\n"
        "    observations: {pressure_log: yes}\n"
        "    expect: {finds: {log_swings: yes}, first: pressure_swings}\n"
    )
    added(folder, "site/conditions.cases.yaml", case)
    marks = marked(rule_map(Library(folder, keep=False), "TWIN"))
    assert "finding site/conditions log_swings" not in marks
    assert "cause site/conditions pressure_swings" not in marks


def test_a_dashed_box_is_dashed_and_its_rule_has_an_open_dot(folder: Path) -> None:
    text = map_picture(rule_map(Library(folder, keep=False), "TWIN")).dot()
    line = next(line for line in text.splitlines() if line.startswith('\t"finding site/conditions log_swings" ['))
    assert "dashed" in line
    assert "rounded" in line
    edge = next(
        line
        for line in text.splitlines()
        if line.startswith('\t"net asks finding parts/flap grit_seen" -> "observation')
    )
    assert "dashed" in edge


def test_text_of_a_rule_file_is_shown_as_text(folder: Path) -> None:
    hostile = HOSTILE.replace("'", "''")
    replaced(folder, "assemblies/twin.yaml", "title: water from the port", f"title: '{hostile}'")
    replaced(folder, "parts/flap.yaml", "text: grit on the seat of the {component}", f"text: '{hostile}'")
    canvas = map_picture(rule_map(Library(folder, keep=False), "TWIN"))
    assert "\u202e" not in canvas.dot()
    svg = canvas.svg()
    assert "<script" not in svg
    assert "&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt;" in svg


@pytest.mark.parametrize(
    ("wrong", "right"), [("RPP", "RP"), ("chekc_valve", "check_valve"), ("relief valv", "relief_valve")]
)
def test_an_unknown_name_gets_the_nearest_right_one(shipped: Library, wrong: str, right: str) -> None:
    with pytest.raises(ProblemsFoundError) as caught:
        map_picture(rule_map(shipped, wrong)).dot()
    assert f"did you mean '{right}'?" in str(caught.value)
    assert wrong in str(caught.value)


def test_a_wrong_case_file_is_told(folder: Path) -> None:
    added(folder, "site/conditions.cases.yaml", "cases:\n  - name: No type.\n")
    with pytest.raises(ProblemsFoundError, match=r"conditions\.cases\.yaml:2"):
        map_picture(rule_map(Library(folder, keep=False), "")).dot()
