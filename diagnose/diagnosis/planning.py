"""From what is known of a case to a plan: which causes count, which repairs are tried, which checks are weighed.

A plan is worked out exactly over the likeliest combinations of those causes that have some probability. A site
condition counts as something to be mended only where no part of the assembly is faulty: it then is what looks like a
fault. Where a part is faulty as well, mending the part is what makes the test pass.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import accumulate
from typing import NamedTuple

from diagnose.belief.network import UNLISTED
from diagnose.belief.posterior import Posterior, Standing
from diagnose.belief.sets import LikelySet, likely_sets
from diagnose.diagnosis.ready import Ready
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.work import Repair, State
from diagnose.plan.attempts import Attempt, Terms, allowed, attempts_of, level_of
from diagnose.plan.order import Order, cheapest_order
from diagnose.plan.parts import SECOND_TRIP, parts_to_bring
from diagnose.plan.repairs import LIKELY, Means, Plan, outline, size_factor
from diagnose.plan.worlds import World, scaled

LEAST_CONDITION = 0.05
RAISED = 1.3
LEAST_CAUSE = 0.01
LEAST_UNLISTED = 0.005
MOST_CAUSES = 24
LEAST_CURE = 0.02
LEAST_PRICE = 5.0
LEAST_FAULT = 0.3
MANY_TIMES = 10.0
RETEST = "retest"


def speaks_for(chance: float, rate: float) -> bool:
    """Whether what was seen made a site condition notably likelier than it was beforehand, and worth naming."""
    return chance >= LEAST_CONDITION and chance >= RAISED * rate


def is_suspected(standing: Standing, least: float = LEAST_FAULT) -> bool:
    """Whether some part is likely enough to be faulty for one to be opened or worked on."""
    return max(standing.components.values(), default=0.0) >= least


class Effort(NamedTuple):
    """How much is weighed: sets of causes, as many as have this share of those listed, and repairs."""

    sets: int
    attempts: int
    share: float = 1.0


# For a plan that is shown; and for the many plans that the value of questions takes. Their expected minutes differ by
# 0.7 % at the median of the cases beside the rules, by more than a quarter in one of a hundred.
FULL = Effort(120, 8)
QUICK = Effort(100, 7, 0.99)


class Wishes(NamedTuple):
    """What the person on site asks for beyond the usual.

    `state` is the one reached so far, "" for an assembly in service; `parts` are open in it, none named: all. `closed`
    are states not to go into. `have` are the parts at hand, None for any part. `second_trip` is the chance of a second
    trip to stay below. `parts_count` multiplies what parts cost, as minutes of work. `complaint`: there is a reason to
    look at the assembly at all (`field_test.is_complaint`), so it is left out that nothing is wrong anywhere. `barred`
    are states that nobody may go into as things stand, `mended` parts whose work has passed its retest. `suspected`:
    some part is likely enough to be faulty; else nothing is taken apart, and no part worked on.
    """

    state: str = ""
    closed: frozenset[str] = frozenset()
    have: frozenset[str] | None = None
    second_trip: float = SECOND_TRIP
    parts_count: float = 1.0
    complaint: bool = False
    parts: tuple[str, ...] = ()
    barred: frozenset[str] = frozenset()
    mended: frozenset[str] = frozenset()
    suspected: bool = True


AS_USUAL = Wishes()


class Basis(NamedTuple):
    """What plans are worked out from: sets of causes, the same as worlds that repairs can mend, repairs, terms.

    `worlds` and `sets` stand in the same order; a world is what of a set has to be mended.
    """

    sets: tuple[LikelySet, ...]
    worlds: tuple[World, ...]
    attempts: tuple[Attempt, ...]
    terms: Terms

    def mixed(self, weights: Sequence[float]) -> dict[World, float]:
        """The weights of the sets as probabilities of worlds, adding up to 1.

        Raises:
            ZeroDivisionError: they add up to 0.
        """
        found: dict[World, float] = {}
        for world, weight in zip(self.worlds, weights, strict=True):
            found[world] = found.get(world, 0.0) + weight
        return scaled(found)

    @property
    def now(self) -> dict[World, float]:
        """The probabilities of worlds as things stand."""
        return self.mixed([row.chance for row in self.sets])


def basis(ready: Ready, case: Case, posterior: Posterior, wishes: Wishes = AS_USUAL, effort: Effort = FULL) -> Basis:
    """What plans for this case are worked out from."""
    bare = without_attempts(ready, case, posterior, wishes, effort)
    return bare._replace(attempts=attempts(ready, case, bare.now, wishes, effort.attempts))


def without_attempts(ready: Ready, case: Case, posterior: Posterior, wishes: Wishes, effort: Effort) -> Basis:
    """The same but for the repairs."""
    assembly = ready.assembly
    counted = relevant(ready, posterior.standing, complaint=wishes.complaint)
    names = frozenset(counted | _partners(posterior))
    if names not in posterior.listed:
        posterior.listed[names] = tuple(likely_sets(posterior, 1.0, FULL.sets, names))
    sets = _share_of(posterior.listed[names][: effort.sets], effort.share)
    if wishes.complaint:
        sets = tuple(row for row in sets if row.causes & counted) or sets
    done = {row.name for row in assembly.causes if row.component in wishes.mended}
    worlds = tuple(to_mend(ready, [(row.causes & counted) - done for row in sets]))
    return Basis(sets, worlds, (), _reached(assembly, case.size, wishes))


def _share_of(sets: tuple[LikelySet, ...], share: float) -> tuple[LikelySet, ...]:
    """The first of these sets, as many as come to this share of all those in which something is wrong."""
    sums = [*accumulate(row.chance if row.causes else 0.0 for row in sets)]
    return sets[: bisect_left(sums, share * sums[-1]) + 1] if sums else sets


def _reached(assembly: Assembly, size: float, wishes: Wishes) -> Terms:
    """The terms in the state that has been reached, with the parts that are open in it."""
    state = next((row for row in states_at(assembly, size) if row.name == wishes.state), None)
    terms = terms_of(assembly, size)
    if state is None:
        return terms
    opened = wishes.parts or tuple(row.name for row in assembly.components)
    return terms._replace(reached=level_of(state), opened=frozenset(opened if state.cover else ()))


def terms_of(assembly: Assembly, size: float) -> Terms:
    """What holds for every plan at a nominal size in inches (0: not known), for an assembly in service.

    The fall-back grows with size as repairs do: were it to stay, no repair of a large assembly would seem worth making.
    """
    minutes = assembly.plan_minutes
    return Terms(minutes.fall_back * size_factor(size, assembly.size_minutes), minutes.retest)


def likeliest_worlds(on: Basis, sound: float, outside: Collection[str]) -> tuple[tuple[tuple[str, ...], float], ...]:
    """What may have to be mended together, with its probability, likeliest first.

    Causes that hardly count are left aside, yet not what they come to: the combinations in which no part is faulty have
    together the probability `sound` that they have by the exact posterior, all others the rest of it.
    """
    now = {world: chance for world, chance in on.now.items() if chance}
    shares = {True: 0.0, False: 0.0}
    for world, chance in now.items():
        shares[world <= set(outside)] += chance
    exact = {True: sound, False: 1 - sound}
    rows = [
        (tuple(sorted(world)), chance * exact[whole] / shares[whole])
        for world, chance in now.items()
        for whole in [world <= set(outside)]
    ]
    return tuple(sorted(rows, key=lambda row: (-row[1], row[0])))


def relevant(ready: Ready, standing: Standing, *, complaint: bool = False) -> set[str]:
    """The causes that count: likely enough, or outside the assembly and spoken for by what was seen.

    With a complaint they are likely enough if they would be, were there one cause.
    """
    inside = [row.name for row in ready.assembly.causes if row.component]
    least = LEAST_CAUSE * (min(1.0, sum(standing.causes[name] for name in inside)) if complaint else 1.0)
    inside = [name for name in inside if standing.causes[name] >= least]
    inside.sort(key=lambda name: (-standing.causes[name], name))
    rates = {row.name: row.rate for row in ready.assembly.causes if not row.component}
    outside = {name for name, rate in rates.items() if speaks_for(standing.causes[name], rate)}
    unlisted = {UNLISTED} if standing.unlisted >= LEAST_UNLISTED else set()
    return {*inside[:MOST_CAUSES], *outside, *unlisted}


def _partners(posterior: Posterior) -> set[str]:
    """Site conditions without which a fault would not show what was found, as pressure from downstream behind a check.

    They need no mending themselves, and are common enough to be there without being spoken for.
    """
    return {name for name in posterior.partners if posterior.standing.causes[name] >= LEAST_CONDITION}


def to_mend(ready: Ready, sets: Iterable[Collection[str]]) -> Iterator[World]:
    """What of each set of causes stands between the assembly and a passed test."""
    outside = {row.name for row in ready.assembly.causes if not row.component}
    cured = {cause for repair in ready.assembly.repairs for cause, _ in repair.cures}
    for causes in sets:
        inside = {name for name in causes if name not in outside}
        yield frozenset(inside or {name for name in causes if name in cured})


def own_factors(assembly: Assembly) -> dict[str, float]:
    """The size factors of the components that have a size of their own, as those of a bypass have."""
    return {row.name: size_factor(row.size, assembly.size_minutes) for row in assembly.components if row.size}


def states_at(assembly: Assembly, size: float) -> tuple[State, ...]:
    """The states with the minutes that they take at a nominal size in inches: a large line takes longer to shut."""
    more = size_factor(size, assembly.turning_minutes) - 1
    return tuple(row._replace(minutes=row.minutes + row.turning * more) for row in assembly.states)


def attempts_at(assembly: Assembly, repairs: Sequence[Repair], size: float) -> tuple[Attempt, ...]:
    """Repairs as attempts at a nominal size in inches; what is put right outside the assembly takes the same at any."""
    sizes = {row.name: row.size for row in assembly.components}
    testing = {row.state for row in assembly.observations if row.limit}
    testing |= {row.name for row in assembly.states if not row.minutes}
    turning = {
        row.name: size_factor(sizes.get(row.component) or size, assembly.turning_minutes)
        for row in repairs
        if row.only_turning
    }
    turning |= {row.name: 1.0 for row in repairs if not row.component and testing.issuperset(row.states)}
    factor = size_factor(size, assembly.size_minutes)
    return attempts_of(repairs, states_at(assembly, size), factor, own_factors(assembly), turning)


def attempts(ready: Ready, case: Case, worlds: Mapping[World, float], wishes: Wishes, most: int) -> tuple[Attempt, ...]:
    """The repairs worth trying, at most so many, and a plain retest."""
    assembly = ready.assembly
    marginal: dict[str, float] = {}
    for world, chance in worlds.items():
        for name in world:
            marginal[name] = marginal.get(name, 0.0) + chance
    every = attempts_at(assembly, assembly.repairs, case.size)
    possible = allowed(every, {row.name: row.minutes for row in assembly.states}, wishes.closed, wishes.have)
    outside = {row.name for row in assembly.repairs if not row.component}
    possible = tuple(
        row for row in possible if wishes.barred.isdisjoint(row.states) and (wishes.suspected or row.name in outside)
    )
    possible = tuple(_but_for_mended(possible, assembly.repairs, marginal))
    calling = {row.name: row.called_for for row in assembly.repairs}
    worth = {
        row.name: sum(
            marginal.get(cause, 0.0) * cure for cause, cure in row.cures if cause in (calling[row.name] or (cause,))
        )
        for row in possible
    }
    ranked = sorted(possible, key=lambda row: (-worth[row.name], row.name))
    chosen = [row for row in ranked if worth[row.name] >= LEAST_CURE][:most]
    priced = [row._replace(parts_minutes=row.parts_minutes * wishes.parts_count) for row in chosen]
    priced = [*_in_goes(priced, assembly, worlds)]
    return (*priced, *((Attempt(RETEST, 0.0, ()),) if _may_retest(ready, wishes) else ()))


def _in_goes(rows: Sequence[Attempt], assembly: Assembly, worlds: Mapping[World, float]) -> Iterator[Attempt]:
    """The attempts, of which work on a part that is no more likely faulty than not goes with work on that part alone.

    On a mere suspicion nobody takes another cover off, or fits another part, before the test has been taken again.
    """
    part_of = {row.name: row.component for row in assembly.causes}
    faulty: dict[str, float] = {}
    for world, chance in worlds.items():
        for part in {part_of.get(name, "") for name in world}:
            faulty[part] = faulty.get(part, 0.0) + chance
    components = {row.name: row.component for row in assembly.repairs}
    for row in rows:
        part = components[row.name]
        alone = part and (row.cover or row.parts) and faulty.get(part, 0.0) <= LIKELY
        yield row._replace(go=(*row.go, part)) if alone and row.go else row


def _but_for_mended(
    possible: Sequence[Attempt], repairs: Sequence[Repair], chance: Mapping[str, float]
) -> Iterator[Attempt]:
    """The attempts without those on parts that are better replaced altogether: nobody mends what is to be scrapped."""
    names = {row.name for row in possible}
    whole = [row for row in repairs if row.name in names and any(chance.get(x, 0.0) > LIKELY for x in row.called_for)]
    mended = {name for row in whole for name in row.mends}
    component = {row.name: row.component for row in repairs}
    return (row for row in possible if component[row.name] not in mended)


def _may_retest(ready: Ready, wishes: Wishes) -> bool:
    """Whether the field test by itself may be taken: not where its state, or a lighter one, is not to be gone into."""
    minutes = {row.name: row.minutes for row in ready.assembly.states}
    closed = min((minutes[name] for name in wishes.closed), default=float("inf"))
    return all(minutes[row.state] < closed for row in ready.assembly.observations if row.limit and row.state)


def plan_on(ready: Ready, standing: Standing, on: Basis, wishes: Wishes = AS_USUAL) -> Plan:
    """The repairs in the order of least expected minutes, with warnings and parts to bring.

    Where giving up would take less than any repair, though a part is likely enough to be faulty, it is no way out: what
    helps most for its minutes is named all the same.
    """
    order = cheapest_order(on.attempts, on.now, on.terms)
    if not order.steps and is_suspected(standing):
        dear = on.terms._replace(fall_back=MANY_TIMES * on.terms.fall_back)
        order = cheapest_order([row for row in on.attempts if row.cures], on.now, dear)
    return told(ready, standing, order, on, wishes)


def prices(repairs: Sequence[Repair]) -> dict[str, float]:
    """What each part costs at the most, in minutes of work: its even share of the parts of the cheapest repair.

    Parts that the rules give no price count as carrying something costs: a few minutes.
    """
    found: dict[str, float] = {}
    for repair in repairs:
        for part in repair.parts:
            share = LEAST_PRICE + repair.parts_minutes / len(repair.parts)
            found[part] = min(found.get(part, share), share)
    return found


def told(ready: Ready, standing: Standing, order: Order, on: Basis, wishes: Wishes = AS_USUAL) -> Plan:
    """An order, whatever it came from, as a plan."""
    assembly = ready.assembly
    load = parts_to_bring(order, on.now, wishes.second_trip, prices(assembly.repairs))
    means = Means(assembly.repairs, assembly.states, assembly.cautions)
    return outline(order, load, means, standing.causes, standing.components)
