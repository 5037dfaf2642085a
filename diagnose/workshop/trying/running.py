"""Running the cases beside the rules: what came out otherwise than expected, and why."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import NamedTuple

from diagnose.belief.posterior import weigh
from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.outcomes import evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import Runs
from diagnose.diagnosis.trial import Difference, chances, ranked, ranks, unmet
from diagnose.workshop.trying.why import why

# Below this many cases a second process costs more than it saves.
WORTH_SHARING = 120
SHARE = 16
MOST_RANKED = 5


class ExplainedDifference(NamedTuple):
    """A difference, and the grounds of what came instead: lines, each with its depth."""

    difference: Difference
    why: tuple[tuple[int, str], ...]


class Tried(NamedTuple):
    """A case that was run. `ranking`: the leaders of what its expectations of the ranking speak of, where asked for."""

    row: BesideCase
    told: tuple[ExplainedDifference, ...]
    ranking: tuple[tuple[str, float], ...] = ()


def try_cases(types: Mapping[str, Ready], rows: Sequence[BesideCase], *, rank: bool = False) -> list[Tried]:
    """Runs the cases, in their order; `rank` adds the ranking to those that expect something of it.

    Cases do not depend on each other, so on a system that can split a running process they are shared among its
    processors.
    """
    workers = os.cpu_count() or 1
    if len(rows) < WORTH_SHARING or workers < 2 or "fork" not in multiprocessing.get_all_start_methods():
        return _Bench(types, rows, rank).work(range(len(rows)))
    shares = [range(at, min(at + SHARE, len(rows))) for at in range(0, len(rows), SHARE)]
    forking = multiprocessing.get_context("fork")
    bench = (types, rows, rank)
    with ProcessPoolExecutor(min(workers, len(shares)), forking, _set_up, bench) as pool:
        return [tried for share in pool.map(_work, shares) for tried in share]


class _Bench:
    def __init__(self, types: Mapping[str, Ready], rows: Sequence[BesideCase], rank: bool) -> None:
        self.types, self.rows, self.rank = types, rows, rank
        self.runs = Runs(types)

    def work(self, share: range) -> list[Tried]:
        return [self._try(self.rows[at]) for at in share]

    def _try(self, row: BesideCase) -> Tried:
        ready = self.types[row.case.type]
        chaining, shut = self.runs.run(row.case)
        told = [
            ExplainedDifference(difference, tuple(why(ready, row.case, difference, chaining, shut)))
            for difference in unmet(ready, row, chaining, shut)
        ]
        ranking: tuple[tuple[str, float], ...] = ()
        if self.rank and ranks(row):
            standing = weigh(ready.network, evidence_of(ready, chaining))
            chance = chances(standing)
            leaders = ranked(ready.assembly, _spoken_of(row), standing)[:MOST_RANKED]
            ranking = tuple((name, chance[name]) for name in leaders)
        return Tried(row, tuple(told), ranking)


def _spoken_of(row: BesideCase) -> str:
    """The first name in the case's expectations of the ranking."""
    return next(filter(None, (row.expected.first, *row.expected.order, *row.expected.not_first)))


# What a process of the pool works on: taken over when it splits off, so that nothing is copied case by case.
_BENCHES: list[_Bench] = []


def _set_up(types: Mapping[str, Ready], rows: Sequence[BesideCase], rank: bool) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that waits; these end with it
    _BENCHES[:] = [_Bench(types, rows, rank)]


def _work(share: range) -> list[Tried]:
    return _BENCHES[0].work(share)
