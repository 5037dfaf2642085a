"""Whatever stands in a rule file or a case file: errors that name their file, or doubts; never another exception."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from diagnose.knowledge.yamltext import read_file
from diagnose.workshop.checking.every import CHECKS, check
from diagnose.workshop.checking.reporting import as_json, as_lines
from tests.knowledge.damage import exchanged, seeds
from tests.knowledge.writing import yaml_of
from tests.workshop.laying import MONTH, copy_of


@pytest.fixture(scope="module")
def base(small_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_of(small_folder, tmp_path_factory.mktemp("damaged") / "rules")


@given(seeds)
@settings(deadline=None, max_examples=200, suppress_health_check=[HealthCheck.too_slow])
def test_values_and_keys_exchanged(base: Path, seed: int) -> None:
    order = random.Random(seed)  # noqa: S311  nothing secret
    file = order.choice(sorted(base.rglob("*.yaml")))
    good = file.read_bytes()
    file.write_bytes(yaml_of(exchanged(read_file(file), order)).encode())
    try:
        found = check(base, MONTH)
    finally:
        file.write_bytes(good)
    assert not (found.errors and found.doubts)
    places = [*(row.place for row in found.errors), *(row.place for row in found.doubts)]
    assert all(place.file.startswith(str(base)) for place in places)
    assert all(line.isprintable() for line in as_lines(found))
    shown = json.loads(as_json(found))["problems"]
    assert {row["check"] for row in shown if row["kind"] == "warning"} <= set(CHECKS)
