"""What was worked out for one case and serves others that know the same."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import cached_property
from typing import Any, TypeVar

from diagnose.belief.posterior import Posterior
from diagnose.belief.sets import Answers
from diagnose.belief.telling import Telling
from diagnose.diagnosis.outcomes import Evidence
from diagnose.diagnosis.planning import AS_USUAL, FULL, Basis, Effort, Wishes, basis, plan_on
from diagnose.diagnosis.ready import Ready
from diagnose.model.case import Case
from diagnose.plan.repairs import Plan

MOST_OF_A_KIND = 100
# What one evidence comes to takes megabytes; those who weigh many cases take what shows the same together.
MOST_EVIDENCE = 2

V = TypeVar("V")


class Shared:
    """What cases of one type of one rule base share; of each kind what was asked for last."""

    def __init__(self) -> None:
        self._rows: dict[str, dict[Hashable, Any]] = {}

    def alike(self, ready: Ready, evidence: Evidence) -> Alike:
        """What cases share that show this."""
        return self.once("alike", frozenset(evidence.items()), lambda: Alike(ready, evidence), MOST_EVIDENCE)

    def once(self, kind: str, key: Hashable, work_out: Callable[[], V], most: int = MOST_OF_A_KIND) -> V:
        """What is worked out for a key, which says everything that it depends on; from what is kept if it is there."""
        rows = self._rows.setdefault(kind, {})
        found: V = rows.pop(key) if key in rows else work_out()
        rows[key] = found
        if len(rows) > most:
            del rows[next(iter(rows))]
        return found


class Alike(Shared):
    """What cases that show the same share: what that makes of every cause, and the plans for a size and terms.

    Raises:
        ImpossibleEvidenceError: no set of causes that is weighed can have brought the findings about.
    """

    def __init__(self, ready: Ready, evidence: Evidence) -> None:
        super().__init__()
        self._ready = ready
        self.posterior = Posterior(ready.network, evidence)

    @cached_property
    def telling(self) -> Telling:
        """How much an open question would tell."""
        return Telling(self._ready.network, self.posterior.standing)

    def basis(self, case: Case, wishes: Wishes = AS_USUAL, effort: Effort = FULL) -> Basis:
        """What plans for a case are worked out from."""
        key = case.size, wishes, effort
        return self.once("basis", key, lambda: basis(self._ready, case, self.posterior, wishes, effort))

    def plan(self, case: Case, wishes: Wishes) -> Plan:
        """The plan for a case."""
        on = self.basis(case, wishes)
        key = case.size, wishes
        return self.once("plan", key, lambda: plan_on(self._ready, self.posterior.standing, on, wishes))

    def answers(self, on: Basis, wishes: Wishes) -> Answers:
        """What makes of an answer the chances of the sets of causes, which no state or size changes."""
        key = wishes.complaint, wishes.mended
        return self.once("answers", key, lambda: Answers(self._ready.network, on.sets))
