"""What closed jobs teach about shares and rates: counts, and fractions of counts where the cause stayed unknown.

Given a failure, the parts of a type share it as their rates do, and the causes of a part as their shares do; each of
these divisions has a Dirichlet prior with the rule base's own values, worth a number of cases. Rates are so learnt
relative to each other; what they add up to in a type stays, for jobs that failed tests called for do not tell how often
tests fail. A job whose cause stayed open counts for each cause by its probability under the rates so far, which is
repeated until nothing moves: the mode of the posterior in the logarithms of the rates (EM; Dempster, Laird and Rubin,
J. R. Statist. Soc. B 39, 1977, from memory). Odds before evidence move as the rates do, so that what is climbed is the
exact likelihood of `Posterior`.

Open jobs follow the chances that the rules give to findings, and repeat their errors as often as there are such jobs.
So those of a type weigh together no more than those of it of which a cause or a part was found: the logarithm of the
likelihood of each is taken times the `weights` of its type (a weighted likelihood; Hu and Zidek, Canadian Journal of
Statistics 30, 2002, from memory). A job of which only the part is known is one case of the part for certain, and open
within it: among the causes of a part such jobs weigh together no more than those of it of which the cause was found.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from math import fsum, hypot, isclose
from pathlib import PurePath
from typing import NamedTuple

from diagnose.belief.network import UNLISTED, Network
from diagnose.belief.posterior import ImpossibleEvidenceError, Posterior
from diagnose.diagnosis.outcomes import Evidence
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.model.work import Component


class Home(NamedTuple):
    """A part of a type as its file defines it: its `rate`, and the `shares` of its `causes`, which add up to 1."""

    file: str
    name: str
    title: str
    part: str
    rate: float
    causes: tuple[str, ...]
    shares: tuple[float, ...]


class Homes(NamedTuple):
    """All that can be learnt, and for each type where each of its causes belongs: (home, place among its causes).

    A cause is not there whose part has other numbers in this type than in the file that defines it.
    """

    rows: tuple[Home, ...]
    where: dict[str, dict[str, tuple[int, int]]]

    def beside(self, home: int) -> list[int]:
        """The parts that the same file defines: given a failure, the fault is divided among these."""
        return [number for number, row in enumerate(self.rows) if row.file == self.rows[home].file]


def homes_of(assemblies: Mapping[str, Assembly]) -> Homes:
    """What can be learnt about these types."""
    rows: dict[Place, Home] = {}
    for assembly in assemblies.values():
        for component in assembly.components:
            if component.name == own_name(component.name) and component.place.file == assembly.place.file:
                rows[component.place] = _home(component, assembly)
    numbers = {place: number for number, place in enumerate(rows)}
    where = {
        name: dict(_places(assembly, numbers, tuple(rows.values()))) for name, assembly in sorted(assemblies.items())
    }
    return Homes(tuple(rows.values()), where)


def _home(component: Component, assembly: Assembly) -> Home:
    causes = [row for row in assembly.causes if row.component == component.name]
    rate = fsum(row.rate for row in causes)
    file = PurePath(component.place.file)
    return Home(
        f"{file.parent.name}/{file.name}",
        component.name,
        component.title,
        component.part,
        rate,
        tuple(own_name(row.name) for row in causes),
        tuple(row.rate / rate if rate else 0.0 for row in causes),
    )


def _places(
    assembly: Assembly, numbers: Mapping[Place, int], rows: tuple[Home, ...]
) -> Iterable[tuple[str, tuple[int, int]]]:
    for component in assembly.components:
        number = numbers.get(component.place, -1)
        if number >= 0 and _alike(_home(component, assembly), rows[number]):
            for place, cause in enumerate(rows[number].causes):
                yield f"{component.name}.{cause}", (number, place)


def _alike(one: Home, other: Home) -> bool:
    numbers = zip((one.rate, *one.shares), (other.rate, *other.shares), strict=False)
    return one.causes == other.causes and all(isclose(*pair, rel_tol=1e-9) for pair in numbers)


PRIOR_CASES = 10.0
MOST_ROUNDS = 100
STILL = 1e-3  # of a case

# A home and the place of a cause in it, or UNDIVIDED for what is known to be in the part and divides no further.
Key = tuple[int, int]
UNDIVIDED = -1
Counts = dict[Key, float]


class Fault(NamedTuple):
    """A job in which something was wrong, as far as it teaches causes: equal ones are counted, and weighed once.

    `causes` and `parts` are those found; where there are neither, the cause stayed open and `evidence` divides it.
    """

    type: str
    causes: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    evidence: tuple[tuple[str, tuple[int, ...]], ...] = ()


class Estimates(NamedTuple):
    """Rates by home, shares by home and cause, and the counts that they rest on; `unexplained` jobs have none.

    `faults` are those of a home, `counts` those that divide among its causes.
    `outside` is what of the open jobs fell to site conditions, to "something unlisted" or to nothing wrong.
    """

    rates: tuple[float, ...]
    shares: tuple[tuple[float, ...], ...]
    counts: tuple[tuple[float, ...], ...]
    faults: tuple[float, ...]
    rounds: int
    unexplained: int = 0
    outside: float = 0.0

    def chance(self, key: Key) -> float:
        """The rate of a cause."""
        return self.rates[key[0]] * self.shares[key[0]][key[1]]


class _Counted(NamedTuple):
    """One round: the counts that some estimates lead to, how many jobs no cause explains, what fell outside."""

    counts: Counts
    unexplained: int
    outside: float


def weights(faults: Iterable[Fault]) -> dict[tuple[str, str], float]:
    """What an open job counts for, by its type ("" for the part), and one of which only the part is known, by both."""
    open_jobs, found = Counter[tuple[str, str]](), Counter[tuple[str, str]]()
    for fault in faults:
        (found if fault.causes or fault.parts else open_jobs)[fault.type, ""] += 1
        open_jobs.update((fault.type, part) for part in fault.parts)
        found.update((fault.type, part) for part in {name.rpartition(".")[0] for name in fault.causes})
    return {place: min(1.0, found[place] / number) for place, number in open_jobs.items()}


def learn(
    faults: Iterable[Fault], homes: Homes, networks: Mapping[str, Network], prior_cases: float = PRIOR_CASES
) -> Estimates:
    """The mode, and the counts under it. The order of the faults does not matter.

    To weigh evidence takes long. So two rounds are followed by a leap along the way that they went, which is taken back
    where it leads no nearer (squared extrapolation; Varadhan and Roland, Scand. J. Statist. 35, 2008, from memory).
    """
    jobs = list(faults)
    times, weigh = sorted(Counter(jobs).items()), weights(jobs)
    known = Counter[Key]()
    for fault, number in times:
        for cause in fault.causes:
            if cause in homes.where[fault.type]:
                known[homes.where[fault.type][cause]] += number
    vague = [row for row in times if row[0].parts or (not row[0].causes and weigh[row[0].type, ""])]

    def round_from(counts: Counts) -> _Counted:
        estimates = _estimated(homes, counts, prior_cases)
        return _counted(known, [(_divided(row[0], homes, networks, estimates, weigh), *row) for row in vague])

    here: Counts = dict(known)
    last, rounds = round_from(here), 1
    while vague and rounds + 2 <= MOST_ROUNDS and _apart(here, last.counts) >= STILL:
        middle, there = last.counts, round_from(last.counts)
        leap = _leap(here, middle, there.counts)
        landed = round_from(leap)
        rounds += 2
        if _apart(leap, landed.counts) < _apart(middle, there.counts):
            here, last = leap, landed
        else:
            here, last = middle, there
    estimates = _estimated(homes, last.counts, prior_cases)
    return estimates._replace(rounds=rounds, unexplained=last.unexplained, outside=last.outside)


def _counted(known: Mapping[Key, float], found: Sequence[tuple[Divided | None, Fault, int]]) -> _Counted:
    pieces: dict[Key, list[float]] = {key: [float(number)] for key, number in known.items()}
    explained = [(divided, fault, number) for divided, fault, number in found if divided is not None]
    for divided, _, number in explained:
        for key, fraction in divided.counts.items():
            pieces.setdefault(key, []).append(number * fraction)
    outside = fsum(number * divided.outside for divided, _, number in explained)
    lost = sum(number for divided, _, number in found if divided is None)
    return _Counted({key: fsum(some) for key, some in pieces.items()}, lost, outside)


def _leap(first: Counts, second: Counts, third: Counts) -> Counts:
    """From three counts in a row to where they seem to go; no count falls below zero."""
    step = {key: number - first.get(key, 0.0) for key, number in second.items()}
    bend = {key: number - second.get(key, 0.0) - step.get(key, 0.0) for key, number in third.items()}
    length, turn = (hypot(*some.values()) for some in (step, bend))
    far = length / turn if turn else 1.0
    ways = ((key, first.get(key, 0.0) + 2 * far * step.get(key, 0.0) + far * far * bend[key]) for key in third)
    return {key: max(number, 0.0) for key, number in ways}


def _apart(one: Counts, other: Counts) -> float:
    """By how much two counts differ at most."""
    return max((abs(number - one.get(key, 0.0)) for key, number in other.items()), default=0.0)


def _estimated(homes: Homes, counts: Mapping[Key, float], prior: float) -> Estimates:
    rows = tuple(
        tuple(counts.get((home, place), 0.0) for place in range(len(row.causes))) for home, row in enumerate(homes.rows)
    )
    spread = [fsum(row) for row in rows]
    faults = [number + counts.get((home, UNDIVIDED), 0.0) for home, number in enumerate(spread)]
    shares = tuple(
        tuple((prior * share + number) / (prior + some) for share, number in zip(row.shares, numbers, strict=True))
        for row, numbers, some in zip(homes.rows, rows, spread, strict=True)
    )
    rates = []
    for home, row in enumerate(homes.rows):
        beside = homes.beside(home)
        total, others = fsum(homes.rows[one].rate for one in beside), fsum(faults[one] for one in beside)
        rates.append(total * (prior * row.rate / total + faults[home]) / (prior + others) if total else 0.0)
    return Estimates(tuple(rates), shares, rows, tuple(faults), 0)


class Divided(NamedTuple):
    """A job as counts, weighted; `outside` is what no part took of it."""

    counts: Counts
    outside: float = 0.0


def _divided(
    fault: Fault,
    homes: Homes,
    networks: Mapping[str, Network],
    estimates: Estimates,
    weigh: Mapping[tuple[str, str], float],
) -> Divided | None:
    """What a job whose cause is not known counts for; None where its part is not either and nothing explains it."""
    where = homes.where[fault.type]
    network = at_rates(networks[fault.type], fault.type, homes, estimates)
    try:
        causes = Posterior(network, dict(fault.evidence)).standing.causes
    except ImpossibleEvidenceError:
        causes = {}
    found: defaultdict[Key, float] = defaultdict(float)  # a type may hold a part twice, and learns of both as of one
    if not fault.parts:
        chances = {name: chance for name, chance in causes.items() if name in where}
        for name, chance in chances.items():
            found[where[name]] += weigh[fault.type, ""] * chance
        return Divided(found, max(0.0, 1 - fsum(chances.values()))) if causes else None
    for part in fault.parts:
        inside = {name: causes.get(name, 0.0) for name in where if name.rpartition(".")[0] == part}
        total = fsum(inside.values())
        weight = weigh[fault.type, part] if total else 0.0
        for name, chance in inside.items():
            found[where[name]] += weight * chance / (total or 1)
        for home in {home for home, _ in map(where.__getitem__, inside)}:
            found[home, UNDIVIDED] += 1 - weight
    return Divided(found)


def at_rates(network: Network, kind: str, homes: Homes, estimates: Estimates) -> Network:
    """The network of a type with the odds of its causes moved as their rates have moved."""
    where = homes.where[kind]

    def moved(name: str, odds: float) -> float:
        if name == UNLISTED or name not in where:
            return odds
        home, place = where[name]
        before = homes.rows[home].rate * homes.rows[home].shares[place]
        return odds * estimates.chance((home, place)) / before if before else odds

    parts = (part._replace(odds=tuple(map(moved, part.causes, part.odds))) for part in network.parts)
    return network._replace(parts=tuple(parts))


def evidence_key(evidence: Evidence) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Evidence in an order of its own, so that equal evidence is one."""
    return tuple(sorted(evidence.items()))
