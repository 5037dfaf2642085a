from __future__ import annotations

from itertools import product
from math import prod
from pathlib import Path

import pytest

from diagnose.workshop.checks.value_checks import more_than
from tests.workshop.laying import place_of, replaced, told

FILE = "assemblies/twin.yaml"


def test_shares_that_change_what_the_others_mean(tiny: Path) -> None:
    message = (
        "the shares of 'flap_2' bring the sum over its causes from 40 to 60, so each cause that is not named here "
        "counts 0.67 times what the part's file means"
    )
    assert told(tiny, "base-rates") == [f"{place_of(tiny, FILE, '{worn: 30}')}: {message}"]


@pytest.mark.parametrize("shares", ["{worn: 18}", "{worn: 3}", "{worn: 30, grit: 300}"])
def test_shares_that_keep_the_sum_or_name_all_causes(tiny: Path, shares: str) -> None:
    replaced(tiny, FILE, "{worn: 30}", shares)
    assert told(tiny, "base-rates") == []


def test_rates_that_make_more_causes_likely_than_are_weighed(tiny: Path) -> None:
    replaced(tiny, FILE, "{worn: 30}", "{worn: 10}")
    assert told(tiny, "base-rates") == []
    rows = "".join(f"  c{i}: {{text: condition {i}, kind: site, rate: 0.4, source: estimate}}\n" for i in range(4))
    replaced(tiny, "site/conditions.yaml", "conditions:\n  pressure", f"conditions:\n{rows}  pressure")
    lines = told(tiny, "base-rates")
    assert lines[0].startswith(f"{place_of(tiny, FILE, 'components:')}: the base rates of TWIN add up to 1.77 causes")
    assert len(lines) == 2  # and the type that includes it


def test_the_chance_of_more_than_so_many_is_that_of_enumeration() -> None:
    rates = [0.5, 0.1, 0.25, 0.9, 0.3]
    for count in range(5):
        exact = sum(
            prod(rate if there else 1 - rate for rate, there in zip(rates, world, strict=True))
            for world in product([True, False], repeat=len(rates))
            if sum(world) > count
        )
        assert more_than(count, rates) == pytest.approx(exact)
