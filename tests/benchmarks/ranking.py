"""How long ranking takes, in milliseconds; run by hand: `python -m tests.benchmarks.ranking`.

A made-up network of about the size of one assembly (75 causes in eight components, 12 site conditions) with 13 known
findings, two of them abnormal and one that can be hidden; then twice the components with 20 known findings.
"First" has to work out the tables of the parts and findings; "again" finds them kept from before. Each figure is the
least of many runs, since other programs only ever add time; the reference loop tells how fast the machine was.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from time import perf_counter

from diagnose.belief.network import Chances, Network, Sight, build_network
from diagnose.belief.noisy_max import noisy_max
from diagnose.belief.part_table import table_of
from diagnose.belief.posterior import factors, weigh
from diagnose.belief.telling import Telling
from diagnose.model.causes import Cause, Finding, Mode, Reason, Unlisted

RUNS = 25
ABNORMAL = 0.25
FINDINGS = 13
GRADED = ("none", "some", "much")
SIZES = (10, 10, 14, 8, 9, 8, 8, 8)
MODES = (3, 3, 5, 3, 2, 2, 2, 2)
Evidence = dict[str, tuple[int, ...]]


def synthetic(copies: int, seed: int = 1) -> tuple[Network, Evidence]:
    """A network of `copies` times the parts of one assembly; evidence about every copy."""
    random_ = random.Random(seed)  # noqa: S311 - a repeatable network, not a secret
    causes: list[Cause] = []
    modes: list[Mode] = []
    for part, (size, count) in enumerate(zip(SIZES * copies, MODES * copies, strict=True)):
        own = [Mode(f"part{part}.mode{i}", f"part{part}", "") for i in range(count)]
        modes += own
        causes += [_cause(random_, f"part{part}", i, own) for i in range(size)]
    site = [Cause(f"site{i}", "", "", "site", 0.05, ()) for i in range(12)]
    findings: list[Finding] = []
    for copy in range(copies):
        span = len(modes) // copies
        own_signs = [mode.name for mode in modes[copy * span : (copy + 1) * span]]
        findings += _findings(random_, copy, own_signs, [cause.name for cause in site])
    known = [finding for i, finding in enumerate(findings) if i < FINDINGS or i % 2]
    evidence = {finding.name: _evidence(finding, i) for i, finding in enumerate(known)}
    return build_network([*causes, *site], modes, findings, Unlisted("", 0.01, 0.1)), evidence


def _cause(random_: random.Random, part: str, number: int, modes: list[Mode]) -> Cause:
    brings = tuple(
        (mode.name, random_.choice((0.3, 0.6, 0.8))) for mode in random_.sample(modes, random_.choice((1, 2)))
    )
    return Cause(f"{part}.cause{number}", part, "", "wear", random_.choice((0.001, 0.005, 0.02)), brings)


def _findings(random_: random.Random, copy: int, modes: list[str], site: list[str]) -> list[Finding]:
    found = []
    for number in range(FINDINGS):
        signs = random_.sample(modes, 4) + random_.sample(site, 2)
        reasons = [Reason((sign,), (0.9, 0.6)) for sign in signs[1:]]
        reasons.append(Reason((signs[0], signs[-1]), (0.8, 0.7)))
        hidden_by = ((random_.choice(modes), 0.05),) if number == 0 else ()
        told = tuple(reasons if number < 2 else reasons[:-1])
        name = f"finding{copy}.{number}"
        found.append(Finding(name, name, GRADED, GRADED, (0.03, 0.002), told, hidden_by))
    return found


def _evidence(finding: Finding, number: int) -> tuple[int, ...]:
    """The first two findings of the first copy are abnormal, all others normal."""
    abnormal = number in (1, 2) and finding.name.startswith("finding0")
    return (1 + number % 2,) if abnormal else (0,)


def many_answers(seed: int = 1) -> tuple[Network, Evidence]:
    """The double network with everything known, and something seen of every cause; a quarter of it is abnormal."""
    random_ = random.Random(seed)  # noqa: S311 - a repeatable network, not a secret
    network, _ = synthetic(2)
    sights = tuple(
        Sight(f"{cause}.seen", p, Chances(2, (0.02,), ((1 << c, (0.8,)), (1 << (c + 1) % len(part.causes), (0.1,)))))
        for p, part in enumerate(network.parts)
        if part.components
        for c, cause in enumerate(part.causes)
    )
    names = [row.name for row in network.shown] + [row.name for row in sights]
    return network._replace(sights=sights), {name: (int(random_.random() < ABNORMAL),) for name in names}


def forget() -> None:
    """Empties every table that is kept from one ranking to the next."""
    for kept in (table_of, noisy_max):
        kept.cache_clear()


def least(work: Callable[[], object], before: Callable[[], None] = lambda: None, runs: int = RUNS) -> float:
    """The shortest time of so many runs, in milliseconds."""
    times = []
    for _ in range(runs):
        before()
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return min(times) * 1000


def measure(copies: int) -> dict[str, float]:
    """Milliseconds by what is measured."""
    network, evidence = synthetic(copies)
    standing = weigh(network, evidence)
    open_ = [{f"finding0.{FINDINGS - 1}": (grade,)} for grade in range(len(GRADED))]
    numbers = list(range(1000))
    return {
        "posterior, first": least(lambda: weigh(network, evidence), forget),
        "posterior, again": least(lambda: weigh(network, evidence)),
        "with factors of all findings": least(lambda: factors(network, evidence)),
        "telling power of one question": least(lambda: Telling(network, standing).power(open_)),
        "reference: 100,000 products": least(
            lambda: [[x * y for x, y in zip(numbers, numbers, strict=True)] for _ in range(100)]
        ),
    }


def measure_many() -> dict[str, float]:
    """Milliseconds with many answers, the least of a few runs."""
    network, evidence = many_answers()
    standing = least(lambda: weigh(network, evidence), runs=3)
    count = len(evidence)
    return {
        "posterior of many answers": standing,
        f"with the factors of all {count} findings": least(lambda: factors(network, evidence), runs=3),
    }


def main() -> None:
    """Prints one table."""
    single, double = measure(1), measure(2)
    many = measure_many()
    for name, time in many.items():
        print(f"{name:44}{time:9.1f}{time / many['posterior of many answers']:9.2f}")
    print(f"{'':32}{'one':>9}{'double':>9}{'growth':>9}")
    for name, time in single.items():
        print(f"{name:32}{time:9.2f}{double[name]:9.2f}{double[name] / time:9.2f}")


if __name__ == "__main__":
    main()
