"""`python -m tests.benchmarks.quality [SAMPLES [TYPE ...]]`: how good the answers are on the model's own cases.

For every cause of every type: the cause is taken as present, all others by their base rates; findings are drawn with
the stated probabilities; a random two thirds of them are known. Once without what is seen on opened parts ("outside"),
once with it ("opened"). Prints, as Markdown for docs/quality.md: share of cases whose cause is among the first one and
three (ties broken against the cause), log loss (nats, -ln of the probability given to the cause), Brier score (mean
squared error of that probability), per type and per part; a calibration table over all causes on cases drawn from the
base rates themselves; and the causes that are not first even when their part shows all that they most likely show.

Scores as general-purpose libraries define them (top-k accuracy, log loss, Brier score, calibration curve). Invented
data: every case here is drawn from the rule base, none was seen on a site.
"""

from __future__ import annotations

import random
import sys
from collections import defaultdict
from collections.abc import Mapping
from math import log

from diagnose.belief.posterior import weigh
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.ready import Ready
from diagnose.model.causes import Finding
from diagnose.practice.truth import Sampler

KNOWN_SHARE = 2 / 3
SEED = 2026
LEAST = 1e-6


class Scores:
    """Adds up the scores of one group of cases."""

    def __init__(self) -> None:
        self.count = self.first = self.third = self.part = 0
        self.loss = self.brier = 0.0

    def add(self, rank: int, chance: float, part_rank: int) -> None:
        """Takes one case in which the present cause had this rank (from 1) and probability, and its part this rank."""
        self.count += 1
        self.part += part_rank <= 1
        self.first += rank <= 1
        self.third += rank <= 3
        self.loss -= log(max(chance, LEAST))
        self.brier += (1 - chance) ** 2

    def row(self, name: str) -> str:
        """A line of the table."""
        n = max(self.count, 1)
        shares = " | ".join(f"{share / n:.0%}" for share in (self.part, self.first, self.third))
        return f"| {name} | {shares} | {self.loss / n:.2f} | {self.brier / n:.2f} |"


def rank_of(name: str, causes: Mapping[str, float]) -> int:
    """1 for the most probable; a tie counts against the cause."""
    return sum(chance >= causes[name] for other, chance in causes.items() if other != name) + 1


def per_cause(ready: Ready, samples: int, *, opened: bool) -> dict[str, Scores]:
    """Scores by part, and of all."""
    sampler = Sampler(ready, random.Random(SEED))  # noqa: S311  nothing secret is drawn
    inside = {row.name: row for row in ready.assembly.causes if row.component}
    parts: dict[str, Scores] = defaultdict(Scores)
    for name, row in inside.items():
        for _ in range(samples):
            standing = weigh(ready.network, sampler.shown(sampler.causes([name]), opened=opened, share=KNOWN_SHARE))
            ranked = {cause: chance for cause, chance in standing.causes.items() if cause in inside}
            for scores in (parts[row.component], parts["all"]):
                part_rank = rank_of(row.component, standing.components)
                scores.add(rank_of(name, ranked), standing.causes[name], part_rank)
    return parts


def calibration(ready: Ready, samples: int) -> list[tuple[float, float, int]]:
    """(mean probability, share present, count) in tenths, over all causes and cases drawn from the base rates."""
    sampler = Sampler(ready, random.Random(SEED + 1))  # noqa: S311
    bins: list[list[tuple[float, bool]]] = [[] for _ in range(10)]
    for _ in range(samples):
        causes = sampler.causes()
        standing = weigh(ready.network, sampler.shown(causes, opened=False, share=KNOWN_SHARE))
        for name, chance in standing.causes.items():
            bins[min(int(chance * 10), 9)].append((chance, name in causes))
    return [(sum(p for p, _ in row) / len(row), sum(y for _, y in row) / len(row), len(row)) for row in bins if row]


def never_first(ready: Ready) -> list[str]:
    """The causes that are not first even when their part is opened and shows all that they most likely show."""
    inside = {row.name: row for row in ready.assembly.causes if row.component}
    sights = [row for row in ready.assembly.findings if row.sight]
    found = []
    for name, row in inside.items():
        own = [
            sight for sight in sights if any(row.component + "." in cause for r in sight.reasons for cause in r.all_of)
        ]
        standing = weigh(ready.network, {sight.name: (_likeliest(sight, name),) for sight in own})
        ranked = {cause: chance for cause, chance in standing.causes.items() if cause in inside}
        if rank_of(name, ranked) > 1:
            found.append(f"{name} (behind {max(ranked, key=lambda cause: ranked[cause])})")
    return found


def _likeliest(finding: Finding, cause: str) -> int:
    """The grade that the cause alone most likely shows."""
    quiet = [1 - chance for chance in finding.background]
    for reason in finding.reasons:
        if reason.all_of == (cause,):
            quiet = [rest * (1 - chance) for rest, chance in zip(quiet, reason.at_least, strict=True)]
    reached = [1.0, *(1 - rest for rest in quiet), 0.0]
    return max(range(len(finding.grades)), key=lambda grade: reached[grade] - reached[grade + 1])


def main() -> None:
    """Prints the page."""
    samples = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    types = {name: ready for name, ready in Library().all().items() if name in sys.argv[2:] or len(sys.argv) < 3}
    print("| type and part | part first | cause first | among three | log loss | Brier |\n|---|---|---|---|---|---|")
    for name, ready in types.items():
        for opened in (False, True):
            parts = per_cause(ready, samples, opened=opened)
            label = "opened" if opened else "outside"
            print(parts["all"].row(f"**{name}, {label}**"))
            if not opened:
                for part in sorted(set(parts) - {"all"}):
                    print(parts[part].row(f"{name}, {part}"))
    print("\n| type | mean probability given | share present | causes counted |\n|---|---|---|---|")
    for name, ready in types.items():
        for mean, share, count in calibration(ready, samples * 100):
            print(f"| {name} | {mean:.3f} | {share:.3f} | {count} |")
    print("\nNot first even when their part is opened and shows all that they most likely show:\n")
    for name, ready in types.items():
        print(f"- {name}: {'; '.join(never_first(ready)) or 'none'}")


if __name__ == "__main__":
    main()
