"""`python -m tests.stress.fuzzing KIND [--inputs N] [--seed S] [--seconds T]`: damaged files, and what comes of them.

KIND is cases, rules, overlays or all. Good files are damaged (`mutating`) and read by both YAML readers (`readers`),
which must agree; what is refused must be told in lines that can be shown, each of a place that there is; what is
accepted is worked on further:

- cases: written and read again, each the same; one in 20 worked through to text, Markdown and JSON; one in 60 again
  with its answers in another order and other units, to the same result;
- rules: of the tiny rule base, of the bicycle lamp and of the shipped one: a case worked through, one in 3 checked;
- overlays: laid over the tiny rule base: a case worked through, one in 3 checked.

Some inputs are given to the command as well, which must end with 2 where they are refused. A load may take 2 s of
processor time, all that follows 60 s each; what takes longer is stopped and counted as slow.

Prints the counts. A failure prints how to repeat it, keeps the input under --keep FOLDER, and makes the exit code 1.
`--only N` tries the one input of that number, with all that is else done with a share of them. Every input follows from
KIND, seed and number, so that several runs, each with its own seed, share the work of a night.
"""

from __future__ import annotations

import argparse
import os
import secrets
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from tests.stress.case_inputs import Cases
from tests.stress.rule_inputs import Overlays, Rules
from tests.stress.trying import Kind, Run

KINDS: dict[str, Callable[[Path], Kind]] = {"cases": lambda _: Cases(), "rules": Rules, "overlays": Overlays}


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs what is asked for; the exit code."""
    asked = _asked(arguments)
    failed = False
    for name in KINDS if asked.kind == "all" else (asked.kind,):
        with tempfile.TemporaryDirectory() as folder:
            os.environ["XDG_CACHE_HOME"] = folder
            run = Run(name, KINDS[name](Path(folder)), asked.seed, asked.keep)
            if asked.only is not None:
                run.one(asked.only, everything=True)
            else:
                run.go(asked.inputs, asked.seconds)
            print("\n".join([f"{name}: seed: {asked.seed}", *run.report()]), flush=True)
            failed = failed or bool(run.failures)
    return int(failed)


def _asked(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.stress.fuzzing", description="Damages files and reads them.")
    parser.add_argument("kind", choices=[*KINDS, "all"])
    parser.add_argument("--inputs", type=int, default=10_000, help="how many of each kind")
    parser.add_argument("--seed", type=int, default=secrets.randbelow(10**9), help="a fresh one if left out")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="for each kind, by the clock")
    parser.add_argument("--only", type=int, metavar="N", help="the input of this number alone, and all about it")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="where inputs that fail are kept")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    sys.exit(main())
