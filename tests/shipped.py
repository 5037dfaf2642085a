"""The shipped rule base, its cases and the examples: read and worked through once in a process, for all tests of it.

Nothing in them can be changed; a `Diagnosis` works out the rest when it is asked for, whoever asks.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from diagnose.cases.beside import BesideCase, read_beside
from diagnose.cli.shared import load_case
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.assembly import Assembly
from tests.volume import EVERY_CASE

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
LIBRARY = Library(keep=False)
# Every type, with two faults, a test that is void and readings in another unit; by night all examples.
SPREAD = (
    *("air-inlet-opens-late", "detector-bypass-check-low", "detector-ii-relief-runs", "detector-meter-moves"),
    *("detector-ii-second-check-or-bypass", "double-check-fails-after-main-work", "readings-in-kilopascals"),
    *("spill-resistant-check-low", "test-voided-by-outlet-leak", "two-faults"),
)
SOME_EXAMPLES = sorted(path.stem for path in EXAMPLES.glob("*.yaml")) if EVERY_CASE else SPREAD


@cache
def assemblies() -> dict[str, Assembly]:
    """The types, as they were read."""
    return {name: ready.assembly for name, ready in LIBRARY.all().items()}


@cache
def beside() -> tuple[BesideCase, ...]:
    """The cases beside the rules."""
    return tuple(read_beside(LIBRARY.folder, assemblies()))


@cache
def example(name: str) -> Diagnosis:
    """A case of examples/, worked through."""
    return Diagnosis(*load_case(str(EXAMPLES / f"{name}.yaml"), LIBRARY))
