"""Damaged overlays and damaged versions: a result or placed problems, never another exception."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from diagnose.knowledge.yamltext import read_bytes
from diagnose.workshop.comparing.compare import compare
from diagnose.workshop.comparing.revisions import Version
from diagnose.workshop.overlays import review_overlays
from tests.knowledge.damage import edited, exchanged, result_or_problems, seeds
from tests.knowledge.overlays import GOOD, written
from tests.knowledge.reading import copied
from tests.knowledge.writing import yaml_of
from tests.volume import some_of

unhurried = settings(deadline=None, max_examples=120, suppress_health_check=[HealthCheck.too_slow])


def damaged(text: str, order: random.Random) -> str:
    if order.random() < 0.4:
        return edited(text, order)
    return yaml_of(exchanged(read_bytes(text.encode(), "good.yaml"), order))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("damaged")


def test_the_undamaged_overlay_is_sound(small_folder: Path, tmp_path: Path) -> None:
    (row,) = review_overlays(small_folder, [written(tmp_path, GOOD)])
    assert len(row.overlay.touches) == 10


@given(seeds)
@settings(unhurried, max_examples=some_of(60, 2))
def test_damaged_versions_are_compared_or_refused(small_folder: Path, folder: Path, seed: int) -> None:
    order = random.Random(seed)  # noqa: S311  nothing secret
    new = folder / "rules"
    if not new.exists():
        copied(small_folder, new)
    file = order.choice(sorted(new.rglob("*.yaml")))
    good = file.read_text(encoding="utf-8")
    file.write_text(damaged(good, order), encoding="utf-8")
    try:
        both = [Version(name, path, None) for name, path in (("OLD", small_folder), ("NEW", new))]
        for one, other in (both, both[::-1]):
            result_or_problems(lambda one=one, other=other: compare(one, other, (), ()))  # type: ignore[misc]
    finally:
        file.write_text(good, encoding="utf-8")
