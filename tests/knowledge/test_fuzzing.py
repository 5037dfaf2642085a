"""Whatever stands in a rule file: a rule base, or problems that name their file; never another exception."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from diagnose.cases.beside import read_beside
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.yamltext import read_bytes, read_file
from tests.knowledge.damage import anything, result_or_problems, seeds
from tests.knowledge.reading import copied
from tests.knowledge.writing import yaml_of
from tests.volume import some_of

unhurried = settings(deadline=None, max_examples=some_of(150, 3), suppress_health_check=[HealthCheck.too_slow])
Overlay = Callable[[Path, bytes], bool]


@pytest.fixture(scope="module")
def base(small_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copied(small_folder, tmp_path_factory.mktemp("damaged") / "rules")


def files_of(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*.yaml"))


def read_everything(folder: Path) -> None:
    from diagnose.diagnosis.compiling import compiled  # noqa: PLC0415  only these tests of the room need what stands above it

    assemblies = read_rule_base(folder).assemblies
    for assembly in assemblies.values():
        compiled(assembly, "")
    read_beside(folder, assemblies)


def sound_with(base: Path, file: Path, data: bytes) -> bool:
    """Reads the rule base with other contents of one file, and puts the old ones back."""
    good = file.read_bytes()
    file.write_bytes(data)
    try:
        return result_or_problems(lambda: read_everything(base))
    finally:
        file.write_bytes(good)


@given(anything)
@settings(deadline=None, max_examples=some_of(400))
def test_any_bytes_are_nodes_or_problems(data: bytes) -> None:
    result_or_problems(lambda: read_bytes(data, "some.yaml"))


@given(anything, seeds)
@unhurried
def test_any_bytes_in_place_of_a_rule_file(base: Path, data: bytes, seed: int) -> None:
    file = random.Random(seed).choice(files_of(base))  # noqa: S311  nothing secret
    sound_with(base, file, data)


def test_the_undamaged_rule_base_gives_a_result(base: Path) -> None:
    for file in files_of(base):
        assert sound_with(base, file, yaml_of(read_file(file)).encode())
