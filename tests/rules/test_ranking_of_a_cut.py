"""The ranking on a cut of the shipped rule base against ProbLog and plain enumeration (outside checks).

ProbLog is a general-purpose probabilistic logic library. The cut keeps a few causes of three parts and two site
conditions of the reduced pressure type, with all that the rule base says of them, hiding and combinations included.
"""

from __future__ import annotations

import pytest
from problog import get_evaluatable
from problog.program import PrologString

from diagnose.belief.exact_sum import MOST
from diagnose.belief.network import UNLISTED
from diagnose.belief.posterior import weigh
from diagnose.model.causes import Finding
from tests.belief.enumeration import enumerate_world
from tests.belief.strategies import World
from tests.belief.test_problog import answers_by_name, program
from tests.shipped import LIBRARY
from tests.volume import EVERY_CASE

RP = LIBRARY.get("RP")
CAUSES = (
    "check_1.debris",
    "check_1.spring_weak",
    "check_2.debris",
    "relief_valve.stem_stiff",
    "relief_valve.disc_worn",
    "backpressure",
    "pressure_fluctuation",
)
EVIDENCE: list[dict[str, tuple[int, ...]]] = [
    {"relief_discharge": (2,), "first_check_reading": (2,)},
    {"relief_discharge": (0,), "first_check_reading": (3,)},
    {"relief_discharge": (2,), "discharge_stops_with_outlet_closed": (1,)},
    {"relief_discharge": (1, 2), "relief_opening": (2, 3), "second_check_backpressure": (0,)},
]


def cut(evidence: dict[str, tuple[int, ...]]) -> World:
    assembly = RP.assembly
    causes = tuple(row for row in assembly.causes if row.name in CAUSES)
    brought = {mode for row in causes for mode, _ in row.brings}
    modes = tuple(row for row in assembly.modes if row.name in brought)
    known = {row.name for row in modes} | set(CAUSES)
    findings = tuple(_within(row, known) for row in assembly.findings if row.name in evidence)
    return World(causes, modes, findings, assembly.unlisted, evidence)


def _within(finding: Finding, known: set[str]) -> Finding:
    reasons = tuple(reason for reason in finding.reasons if set(reason.all_of) <= known)
    return finding._replace(reasons=reasons, hidden_by=tuple(row for row in finding.hidden_by if row[0] in known))


def test_the_cut_keeps_what_it_is_there_for() -> None:
    world = cut({name: grades for rows in EVIDENCE for name, grades in rows.items()})
    assert len(world.causes) == len(CAUSES)
    assert {name for rows in EVIDENCE for name in rows} == {row.name for row in world.findings}
    assert any(len(reason.all_of) > 1 for row in world.findings for reason in row.reasons)
    assert any(row.hidden_by for row in world.findings)


# It takes seconds for each; enumeration judges all of them every time.
@pytest.mark.parametrize("evidence", EVIDENCE if EVERY_CASE else EVIDENCE[:3:2])
def test_posteriors_equal_those_of_problog(evidence: dict[str, tuple[int, ...]]) -> None:
    world = cut(evidence)
    answers = answers_by_name(get_evaluatable().create_from(PrologString("\n".join(program(world)))).evaluate())
    standing = weigh(world.network(), evidence, at_most=MOST)
    for name, chance in (standing.causes | standing.modes | {UNLISTED: standing.unlisted}).items():
        assert answers[name] == pytest.approx(chance, abs=1e-9)


@pytest.mark.parametrize("evidence", EVIDENCE)
def test_posteriors_over_three_causes_equal_enumeration(evidence: dict[str, tuple[int, ...]]) -> None:
    world = cut(evidence)
    counted = enumerate_world(world, 3)
    standing = weigh(world.network(), evidence)
    for name, chance in standing.causes.items():
        assert counted.chances[name] == pytest.approx(chance, abs=1e-9)
