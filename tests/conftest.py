"""What tests of several rooms share: the tiny rule base about an invented assembly."""

from __future__ import annotations

import gc
import os
from pathlib import Path

import pytest
from hypothesis import settings

from diagnose.knowledge.rulebase import read_rule_base
from diagnose.model.assembly import Assembly
from tests.volume import some_of


def pytest_runtest_setup() -> None:
    """A command stops looking for garbage, as its process soon ends; the one that runs the tests does not."""
    gc.enable()


@pytest.fixture(scope="session")
def small_folder() -> Path:
    return Path(__file__).parent / "knowledge" / "small_rules"


@pytest.fixture(scope="session")
def small(small_folder: Path) -> dict[str, Assembly]:
    return read_rule_base(small_folder).assemblies


# A hook or a rebase that runs the tests names its own repository to git; the tests make theirs in folders of their own.
for name in [name for name in os.environ if name.startswith("GIT_")]:
    del os.environ[name]

# Rule bases are large and stay: looking through them for garbage every few hundred objects takes a tenth of all time.
gc.set_threshold(200_000, 10, 10)

# How long an example takes says more of the machine than of the code. What judges a change draws the same examples each
# time; whoever works on it, and the night, draw others.
settings.register_profile(
    "untimed", deadline=None, derandomize="SAME_EXAMPLES" in os.environ, max_examples=some_of(100, 2)
)
settings.load_profile("untimed")
