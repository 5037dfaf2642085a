"""`python -m tests.benchmarks.command`: the command as a process, as ratios measured in one run.

Against `python -c "import click, yaml"`, which any command of this kind must pay. Medians of interleaved runs.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from statistics import median

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
RUNS = 15
BASE = [sys.executable, "-c", "import click, yaml"]


def seconds(command: Sequence[str]) -> float:
    """The wall time of one run."""
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - start


def main() -> None:
    """Prints milliseconds and ratios."""
    case = str(EXAMPLES / "relief-runs-stops-on-draw.yaml")
    with tempfile.TemporaryDirectory() as folder:
        picture = str(Path(folder) / "out.svg")
        commands = {
            "import click, yaml": BASE,
            "diagnose --help": [sys.executable, "-m", "diagnose", "--help"],
            "diagnose new RP": [sys.executable, "-m", "diagnose", "new", "RP"],
            "diagnose find CASE": [sys.executable, "-m", "diagnose", "find", case],
            "diagnose find CASE --no-cache": [sys.executable, "-m", "diagnose", "find", case, "--no-cache"],
            "diagnose draw CASE -o out.svg": [sys.executable, "-m", "diagnose", "draw", case, "-o", picture],
        }
        times: dict[str, list[float]] = {name: [] for name in commands}
        for command in commands.values():
            seconds(command)
        for _ in range(RUNS):
            for name, command in commands.items():
                times[name].append(seconds(command))
    base = median(times["import click, yaml"])
    for name, row in times.items():
        print(f"{name:32} {median(row) * 1000:7.0f} ms {median(row) / base:6.2f} x")


if __name__ == "__main__":
    main()
