"""Work shared among processes that are split off with the tools for it."""

from __future__ import annotations

import gc
import os
import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_all_start_methods, get_context, parent_process
from multiprocessing.process import BaseProcess
from threading import Thread
from typing import Any, Generic, NamedTuple, TypeVar

AHEAD = 3
# The tools are large, and a process that is split off has them at once.
FORK = "fork"
ENDS = (signal.SIGINT, signal.SIGTERM)
# Objects made between two looks for garbage; of what is weighed little holds itself.
SELDOM = 50_000

K = TypeVar("K")
T = TypeVar("T")
R = TypeVar("R")


class Crew(NamedTuple, Generic[K]):
    """Processes that have the tools; without a `pool` this one does the work alone."""

    tools: K
    pool: Executor | None
    jobs: int

    def each(self, work: Callable[[K, T], R], items: Iterable[T]) -> Iterator[R]:
        """What work makes of each item, in their order; only a few are under way, so that little is held."""
        if self.pool is None:
            yield from (work(self.tools, item) for item in items)
            return
        waiting: deque[Future[R]] = deque()
        for item in items:
            waiting.append(self.pool.submit(_there, work, item))
            if len(waiting) >= AHEAD * self.jobs:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def cores() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class _Here:
    """Where a process of a crew finds its tools."""

    tools: Any


def _there(work: Callable[[Any, T], R], item: T) -> R:
    return work(_Here.tools, item)


@contextmanager
def crew(jobs: int | None, tools: K) -> Iterator[Crew[K]]:
    """So many processes with these tools, which end with it; one alone where processes cannot be split off."""
    jobs = jobs or cores()
    if jobs < 2 or FORK not in get_all_start_methods():
        yield Crew(tools, None, 1)
        return
    pool = ProcessPoolExecutor(jobs, get_context(FORK), initializer=_equip, initargs=(tools,))
    try:
        _start(pool)
        yield Crew(tools, pool, jobs)
    finally:
        pool.shutdown(cancel_futures=True)


def _start(pool: Executor) -> None:
    """The first task starts all processes. Ctrl-C waits meanwhile: it would be lost in a fork, or leave half a pool.

    Half a pool is one that nobody ends, and for which the command would wait for ever.
    """
    heard: list[int] = []
    before = {number: signal.signal(number, lambda one, _: heard.append(one)) for number in ENDS}
    try:
        pool.submit(os.getpid)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    for which in heard[:1]:
        signal.raise_signal(which)


def _equip(tools: Any) -> None:
    """What is broken off is broken off by the process that asked for it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    Thread(target=_end_with, args=(parent_process(),), daemon=True).start()
    gc.freeze()
    gc.set_threshold(SELDOM)
    gc.enable()
    _Here.tools = tools


def _end_with(parent: BaseProcess | None) -> None:
    """Nothing is left to be done once the process that asks for it has been killed."""
    if parent is not None:
        parent.join()
        os._exit(1)
