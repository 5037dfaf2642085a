"""The tables of keys say what the readers do: which keys they ask for, how they read them, which must be there.

The readers are watched while they read the shipped rule base, the tiny one, cases, overlays and every broken file.
"""

from __future__ import annotations

import re
import shutil
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from diagnose.cases import keys as case_keys
from diagnose.cases.beside import read_beside
from diagnose.cases.reading import read_case, read_type
from diagnose.knowledge.fields import DELIBERATE, Fields, Problems
from diagnose.knowledge.keys import assemblies, common, kinds, parts, settings
from diagnose.knowledge.keys.kinds import Key, Kind, Section
from diagnose.knowledge.overlay import read_head
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import shipped_folder
from diagnose.knowledge.yamltext import Node, read_file
from diagnose.model.assembly import Assembly
from diagnose.model.places import ProblemsFoundError
from tests.knowledge.reading import copied

TESTS = Path(__file__).parent.parent
# What a reader calls a mapping -> its table. The first that fits counts.
CALLED: tuple[tuple[str, Section], ...] = (
    (r"assembly .*, includes", assemblies.INCLUDED),
    (r"assembly .*, drawn, readings, .*", assemblies.DRAWN_READING),
    (r"assembly .*, drawn, beside, .*", assemblies.DRAWN_BESIDE),
    (r"assembly .*, drawn", assemblies.DRAWN),
    (r"assembly.*", assemblies.ASSEMBLY),
    (r"component '.*'", assemblies.COMPONENT),
    (r"part '.*', symbol, shape", parts.SHAPE),
    (r"part '.*', symbol", parts.SYMBOL),
    (r"part '.*', record", parts.RECORDED),
    (r"part '.*'", parts.PART),
    (r"failure mode '.*'", parts.MODE),
    (r"cause '.*'", parts.CAUSE),
    (r"site condition '.*'", parts.CONDITION),
    (r"repair '.*'", parts.REPAIR),
    (r"site/.*\.yaml", parts.SITE),
    (r"observation '.*'", common.OBSERVATION),
    (r"finding '.*'", common.FINDING),
    (r"rule '.*'", common.RULE),
    (r"limits/gauge\.yaml", settings.GAUGE),
    (r"gauge accuracy", settings.GAUGE_LIMIT),
    (r"limit profile", settings.PROFILE),
    (r"limit '.*'", settings.LIMIT),
    (r"scales\.yaml, unlisted", settings.UNLISTED),
    (r"scales\.yaml", settings.SCALES),
    (r"states\.yaml, size minutes", settings.SIZE_MINUTES),
    (r"states\.yaml, plan minutes", settings.PLAN_MINUTES),
    (r"states\.yaml", settings.STATES),
    (r"state '.*'", settings.STATE),
    (r"cautions\.yaml", settings.CAUTIONS),
    (r"caution '.*'", settings.CAUTION),
    (r"sources\.yaml", settings.SOURCES),
    (r"source '.*'", settings.SOURCE_ENTRY),
    (r"retired\.yaml", settings.RETIRED),
    (r"retired name '.*'", settings.RETIRED_NAME),
    (r"version\.yaml, changes", settings.CHANGE),
    (r"version\.yaml", settings.EDITION),
    (r"overlay\.yaml", settings.OVERLAY),
    (r"case, record", case_keys.RECORD),
    (r"expect", case_keys.EXPECTED),
    (r"cases", case_keys.CASES),
)
SECTIONS = (*(section for _, section in CALLED), case_keys.CASE, case_keys.BESIDE_CASE)
# Asked for only to refuse it in words of its own.
ASKED_TO_REFUSE = {"limit": {"at most", "below"}, "gauge accuracy": {"at least", "above", "below"}}
# Written by a command, never by hand.
NOT_BY_HAND = {"accepted.yaml"}


class Watched(Fields):
    """Fields that write down what they are asked for."""

    everyone: list[Watched]
    module = ""

    def __init__(self, node: Node, what: str, problems: Problems) -> None:
        super().__init__(node, what, problems)
        self.section = section_of(what, self.module)
        self.asked: dict[str, set[tuple[Any, ...]]] = defaultdict(set)  # key -> ways of asking, each with its bounds
        self.everyone.append(self)

    def get(self, key: str) -> Node | None:
        self.asked[key].add(("get",))
        return super().get(key)

    def need(self, key: str) -> Node | None:
        self.asked[key].add(("need",))
        return super().need(key)

    def miss(self, message: str, *keys: str) -> None:
        super().miss(message, *keys)
        for key in keys:
            self.asked[key].add(("miss",))

    def text(self, key: str, default: str | None = None) -> str:
        self.asked[key].add(("text",))
        return super().text(key, default)

    def choice(self, key: str, choices: Iterable[str]) -> str:
        self.asked[key].add(("choice", *choices))
        return super().choice(key, choices)

    def texts(self, key: str, needed: bool = False) -> tuple[str, ...]:
        self.asked[key].add(("texts",))
        return super().texts(key, needed)

    def number(self, key: str, low: float, high: float, default: float | None = None) -> float:
        self.asked[key].add(("number", low, high))
        return super().number(key, low, high, default)

    def parsed(self, key: str, parse: Callable[[str], Any], default: Any) -> Any:
        self.asked[key].add(("parsed",))
        return super().parsed(key, parse, default)

    def yes(self, key: str) -> bool:
        self.asked[key].add(("yes",))
        return super().yes(key)

    def entries(self, key: str, needed: bool = False) -> Iterator[Any]:
        self.asked[key].add(("entries", needed))
        return super().entries(key, needed)


def section_of(what: str, module: str) -> str:
    if what == "case":
        return (case_keys.BESIDE_CASE if module.endswith("beside") else case_keys.CASE).name
    return next((section.name for pattern, section in CALLED if re.fullmatch(pattern, what)), what)


def quietly(read: Callable[[], object]) -> None:
    with suppress(ProblemsFoundError):
        read()


def read_everything(small_folder: Path, tmp_path: Path) -> None:
    shipped = read_rule_base(shipped_folder()).assemblies
    read_beside(shipped_folder(), shipped)
    small = read_rule_base(small_folder).assemblies
    read_beside(small_folder, small)
    for file in sorted((TESTS.parent / "examples").glob("*.yaml")):
        quietly(lambda file=file: read_whole_case(file, shipped))  # type: ignore[misc]
    for file in sorted((TESTS / "broken" / "cases").glob("*.yaml")):
        quietly(lambda file=file: read_whole_case(file, small))  # type: ignore[misc]
    finished = tmp_path / "finished.yaml"
    finished.write_text("assembly: TWIN\nrecord: {found: x, done: [y], final_test: {port: none}}\n", encoding="utf-8")
    read_whole_case(finished, small)
    (tmp_path / "overlay.yaml").write_text("overlay: ours\ntitle: Ours\n", encoding="utf-8")
    read_head(tmp_path, [])
    gauge = copied(small_folder, tmp_path / "gauge")
    (gauge / "limits/gauge.yaml").write_text("gauge accuracy: {source: estimate, checked: 2026-11}\n", encoding="utf-8")
    quietly(lambda: read_rule_base(gauge))
    for overlay in sorted((TESTS / "broken" / "rules").iterdir()):
        folder = copied(small_folder, tmp_path / overlay.name)
        (written,) = overlay.rglob("*.yaml")
        (folder / written.relative_to(overlay)).parent.mkdir(exist_ok=True, parents=True)
        shutil.copy(written, folder / written.relative_to(overlay))
        quietly(lambda folder=folder: read_beside(folder, read_rule_base(folder).assemblies))  # type: ignore[misc]


def read_whole_case(file: Path, types: dict[str, Assembly]) -> None:
    node = read_file(file)
    read_case(node, types[read_type(node, types)])


@pytest.fixture(scope="module")
def watched(small_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Watched]]:
    """Section -> every mapping that was read as one."""
    everyone: list[Watched] = []
    with pytest.MonkeyPatch.context() as patch:
        for name, module in sorted(sys.modules.items()):
            if name.startswith(("diagnose.knowledge.", "diagnose.cases.")) and vars(module).get("Fields") is Fields:
                patch.setattr(module, "Fields", type("Watching", (Watched,), {"module": name, "everyone": everyone}))
        read_everything(small_folder, tmp_path_factory.mktemp("watched"))
    found: dict[str, list[Watched]] = defaultdict(list)
    for row in everyone:
        found[row.section].append(row)
    return found


def ways(rows: Iterable[Watched], key: str) -> set[tuple[Any, ...]]:
    """Every way in which a key was asked for."""
    return set().union(*(row.asked[key] for row in rows if key in row.asked))


def how_needed(rows: Iterable[Watched], key: str) -> str:
    asked = [row.asked[key] for row in rows if key in row.asked]
    needed = [("need",) in ways for ways in asked]
    if all(needed):
        return "always"
    return "sometimes" if any(needed) or any(("miss",) in ways for ways in asked) else "never"


def by_hand(section: Section) -> list[Key]:
    return [key for key in section.keys if key.name != DELIBERATE]


def test_every_mapping_that_is_read_has_a_table(watched: dict[str, list[Watched]]) -> None:
    assert set(watched) - NOT_BY_HAND == {section.name for section in SECTIONS}


def test_sections_have_names_of_their_own() -> None:
    assert len({section.name for section in SECTIONS}) == len(SECTIONS)


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.name)
def test_a_table_has_the_keys_that_its_reader_asks_for(section: Section, watched: dict[str, list[Watched]]) -> None:
    asked = {key for row in watched[section.name] for key in row.asked}
    known = {key.name for key in by_hand(section)}
    assert asked - {DELIBERATE} - ASKED_TO_REFUSE.get(section.name, set()) == known


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.name)
def test_a_table_needs_the_keys_that_its_reader_needs(section: Section, watched: dict[str, list[Watched]]) -> None:
    stated = {key.name: "sometimes" if key.name in section.one_of else key.needed for key in by_hand(section)}
    assert {key: how_needed(watched[section.name], key) for key in stated} == stated
    conditional = {name for row in section.conditions for name in row.needs} | set(section.one_of)
    assert {name for name, needed in stated.items() if needed == "sometimes"} == conditional


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.name)
def test_a_table_names_the_kind_of_value_that_its_reader_takes(
    section: Section, watched: dict[str, list[Watched]]
) -> None:
    for key in by_hand(section):
        found = {way for way in ways(watched[section.name], key.name) if way[0] not in {"get", "need", "miss"}}
        assert found in allowed(key.kind), key.name


ITSELF: set[tuple[Any, ...]] = set()  # the reader looks at the node itself
TEXT: set[tuple[Any, ...]] = {("text",)}
ALLOWED: dict[type, Callable[[Any], list[set[tuple[Any, ...]]]]] = {
    kinds.Text: lambda kind: [ITSELF if kind.may_be_empty else TEXT],
    kinds.Texts: lambda _: [{("texts",)}],
    kinds.Number: lambda kind: [{("number", kind.low, kind.high)}],
    kinds.YesNo: lambda _: [{("yes",)}],
    kinds.Choice: lambda kind: [{("choice", *(word for word, _ in kind.words))}, TEXT, ITSELF],
    kinds.Shaped: lambda _: [TEXT, {("parsed",)}, {*TEXT, ("parsed",)}],
    kinds.Named: lambda kind: [ITSELF, {("texts",)}] if kind.many else [TEXT, ITSELF],
    kinds.AssemblyType: lambda _: [TEXT],
    **dict.fromkeys((kinds.Table, kinds.Things), lambda kind: [{("entries", kind.least == 1)}]),
    **dict.fromkeys((kinds.Answers, kinds.Results), lambda _: [{("entries", False)}]),
}


def allowed(kind: Kind) -> list[set[tuple[Any, ...]]]:
    """The ways of asking that fit a kind of value."""
    return ALLOWED.get(type(kind), lambda _: [ITSELF])(kind)


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.name)
def test_every_key_is_explained_in_sentences(section: Section) -> None:
    for text in (section.about, *(key.about for key in section.keys)):
        assert text[0].isupper()
        assert text[-1] == "."
