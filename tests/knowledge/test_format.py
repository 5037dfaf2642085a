"""The description of the format: in sentences, of kinds that the readers know, and every key of it read."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from diagnose.cases.beside import read_beside
from diagnose.cases.reading import case_format, read_case, read_type
from diagnose.knowledge.fields import Fields
from diagnose.knowledge.format import Format, rule_format
from diagnose.knowledge.overlay import moved
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import ACCEPTED_FILE, shipped_folder
from diagnose.knowledge.yamltext import Node, read_file
from diagnose.records.book import read_columns
from tests.knowledge.overlays import written
from tests.knowledge.reading import every_key
from tests.shipped import LIBRARY

OWN_LINE = Path(__file__).parent.parent / "rules" / "bypass_round_one_check"
EXAMPLES = Path(__file__).parent.parent.parent / "examples"
FORMATS = {"rules": rule_format, "cases": case_format}


@pytest.mark.parametrize("name", FORMATS)
def test_every_key_is_explained_in_sentences(name: str) -> None:
    described: Format = FORMATS[name]()
    texts = [section.about for section in described.sections.values()]
    for text in (*texts, *(key.about for _, key in every_key(described))):
        assert text[0].isupper()
        assert text[-1] == "."


def test_every_key_that_is_described_is_read(
    small_folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    asked: set[tuple[str, str]] = set()

    class Watched(Fields):
        def get(self, key: str) -> Node | None:
            asked.add((self.section.name, key))
            return super().get(key)

    for module in ("cases.beside", "cases.reading", "knowledge.assemblies", "knowledge.settings", "records.book"):
        monkeypatch.setattr(f"diagnose.{module}.Fields", Watched)
    for module in ("overlay", "parts"):
        monkeypatch.setattr(f"diagnose.knowledge.{module}.Fields", Watched)
    over = written(tmp_path / "over", {})
    (over / ACCEPTED_FILE).write_text("accepted: {}\n", encoding="utf-8")
    base = read_rule_base(shipped_folder(), [over, OWN_LINE])
    read_rule_base(small_folder)
    moved(base.overlays[0])
    read_beside(shipped_folder(), base.assemblies)
    case = tmp_path / "case.yaml"
    shutil.copy(EXAMPLES / "two-faults.yaml", case)
    case.write_text(case.read_text(encoding="utf-8") + "\nrecord: {found: x}\n", encoding="utf-8")
    node = read_file(case)
    read_case(node, base.assemblies[read_type(node, base.assemblies)])
    columns = tmp_path / "columns.yaml"
    columns.write_text("columns: {Type: assembly}\n", encoding="utf-8")
    read_columns(columns, LIBRARY)
    wanted = {(section.name, key.name) for make in FORMATS.values() for section, key in every_key(make())}
    # Laid over the file of the included type before it is read.
    wanted = {pair for pair in wanted if pair[0] != "changed of an included type"}
    # Written out as a finding and a rule, whose keys are read.
    wanted = {pair for pair in wanted if pair[0] != "answer"}
    assert {pair for pair in wanted - asked if pair[1] != "deliberate"} == set()
