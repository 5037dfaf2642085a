"""The order of entries and files says nothing, but for answers and grades."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import rule_files, shipped_folder
from diagnose.knowledge.yamltext import read_file
from diagnose.model.assembly import Assembly
from tests.knowledge.writing import orderless, yaml_of
from tests.shipped import assemblies


def shuffled(folder: Path, target: Path, seed: int) -> Path:
    """The rule base with every mapping in another order, but for states: one comes after another."""
    order = random.Random(seed)  # noqa: S311  nothing secret
    for path in rule_files(folder):
        copy = target / path.relative_to(folder)
        copy.parent.mkdir(parents=True, exist_ok=True)
        text = path.read_text(encoding="utf-8") if path.name == "states.yaml" else yaml_of(read_file(path), order)
        copy.write_text(text, encoding="utf-8")
    return target


def plain(assemblies: dict[str, Assembly]) -> dict[str, object]:
    return {name: orderless(assembly) for name, assembly in assemblies.items()}


@pytest.mark.parametrize("seed", range(8))
def test_shuffled_entries_give_the_same_assemblies(
    seed: int, small: dict[str, Assembly], small_folder: Path, tmp_path: Path
) -> None:
    assert plain(read_rule_base(shuffled(small_folder, tmp_path, seed)).assemblies) == plain(small)


def test_the_shipped_rules_give_the_same_when_shuffled(tmp_path: Path) -> None:
    assert plain(read_rule_base(shuffled(shipped_folder(), tmp_path, 1)).assemblies) == plain(assemblies())


def test_file_names_of_assemblies_and_profiles_say_nothing(
    small: dict[str, Assembly], small_folder: Path, tmp_path: Path
) -> None:
    folder = shuffled(small_folder, tmp_path, 0)
    (folder / "assemblies" / "twin.yaml").rename(folder / "assemblies" / "zzz.yaml")
    (folder / "limits" / "plain_town.yaml").rename(folder / "limits" / "zzz.yaml")
    assert plain(read_rule_base(folder).assemblies) == plain(small)
