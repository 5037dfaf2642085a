"""The ranking against ProbLog, a general-purpose probabilistic logic library (outside check).

ProbLog (De Raedt, Kimmig & Toivonen 2007) computes exact probabilities of logic programs by knowledge compilation, a
method that has nothing in common with the sums of this project. The random networks are written out for it as a
program of independent facts and choices; that no more than three causes are there is a piece of evidence.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from hypothesis import assume, given, settings
from problog import get_evaluatable
from problog.errors import InconsistentEvidenceError
from problog.program import PrologString

from diagnose.belief.exact_sum import MOST
from diagnose.belief.network import UNLISTED
from diagnose.belief.posterior import weigh
from diagnose.model.causes import Finding, Reason
from tests.belief.enumeration import enumerate_world, prior
from tests.belief.strategies import World, worlds


def program(world: World) -> Iterator[str]:
    """The network as a ProbLog program that asks for every cause and mode."""
    for name, rate in prior(world).items():
        yield f"{rate!r}::on('{name}')."
        yield f"query(on('{name}'))."
    for mode in world.modes:
        yield f"query(on('{mode.name}'))."
    for cause in world.causes:
        for mode_name, chance in cause.brings:
            yield f"{chance!r}::on('{mode_name}') :- on('{cause.name}')."
    for finding in world.findings:
        if finding.name in world.evidence and finding.reasons and not finding.weighs:
            yield from graded(world, finding)
    for four in combinations(prior(world), MOST + 1):
        present = ", ".join(f"on('{name}')" for name in four)
        yield f"many :- {present}."
    if len(prior(world)) > MOST:
        yield "evidence(many, false)."


def graded(world: World, finding: Finding) -> Iterator[str]:
    """Each reason picks a level, the worst level counts; every hiding mode that is on may let nothing through."""
    name, worse = finding.name, len(finding.grades) - 1
    reasons = [Reason((), finding.background), *finding.reasons]
    if not finding.sight:
        shows = tuple(world.unlisted.shows * (worse - i) / worse for i in range(worse))
        reasons.append(Reason((UNLISTED,), shows))
    for number, reason in enumerate(reasons):
        steps = [high - low for high, low in zip(reason.at_least, (*reason.at_least[1:], 0.0), strict=True)]
        levels = "; ".join(f"{step!r}::level('{name}',{number},{i + 1})" for i, step in enumerate(steps))
        present = ", ".join(["true", *(f"on('{one}')" for one in reason.all_of)])
        yield f"{levels} :- {present}."
    hiders = [f"through('{name}',{i})" for i in range(len(finding.hidden_by))]
    for hider, (mode, factor) in zip(hiders, finding.hidden_by, strict=True):
        yield f"{factor!r}::{hider} :- on('{mode}')."
        yield f"{hider} :- \\+on('{mode}')."
    shown = ", ".join(["L >= I", *hiders])
    yield f"reached('{name}',I) :- between(1,{worse},I), level('{name}',_,L), {shown}."
    yield from evidence(name, worse, world.evidence[name])


def evidence(name: str, worse: int, possible: tuple[int, ...]) -> Iterator[str]:
    for grade in possible:
        low = f"reached('{name}',{grade})" if grade else "true"
        high = f"\\+reached('{name}',{grade + 1})" if grade < worse else "true"
        yield f"seen('{name}') :- {low}, {high}."
    yield f"evidence(seen('{name}'))."


@settings(max_examples=30, deadline=None)
@given(worlds(biggest=2))
def test_posteriors_equal_those_of_problog(world: World) -> None:
    try:
        assume(enumerate_world(world, MOST).evidence > 1e-9)
        answers = get_evaluatable().create_from(PrologString("\n".join(program(world)))).evaluate()
    except (ZeroDivisionError, InconsistentEvidenceError):
        assume(False)
    standing = weigh(world.network(), world.evidence, at_most=MOST)
    found = standing.causes | standing.modes | {UNLISTED: standing.unlisted}
    assert len(answers) == len(found)
    for name, chance in found.items():
        assert abs(answers_by_name(answers)[name] - chance) < 1e-9


def answers_by_name(answers: dict[object, float]) -> dict[str, float]:
    return {str(term).removeprefix("on(").removesuffix(")").strip("'"): value for term, value in answers.items()}
