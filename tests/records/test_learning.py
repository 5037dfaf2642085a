"""What is learnt: by hand where causes are known, by direct maximisation where not, and back from known rates."""

from __future__ import annotations

import random
from itertools import product
from math import exp, fsum, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize, minimize_scalar

from diagnose.belief.evidence import Evidence
from diagnose.belief.network import Network, build_network
from diagnose.belief.posterior import ImpossibleEvidenceError, Posterior, weigh
from diagnose.model.causes import PLAIN_GRADES, Cause, Finding, Mode, Reason, Unlisted
from diagnose.records import learning
from diagnose.records.learning import Estimates, Fault, Home, Homes, homes_of, learn
from diagnose.records.lessons import interval
from tests.shipped import LIBRARY

# A lamp with two parts: 60 % and 40 % of its failures, and within each three and two causes.
PARTS = {"bulb": (0.06, {"burnt": 0.5, "loose": 0.3, "wrong": 0.2}), "cell": (0.04, {"flat": 0.7, "leaking": 0.3})}
SEEN = {"dark": ("burnt", "flat", "loose"), "flickers": ("loose", "leaking"), "dim": ("wrong", "flat")}


def lamp(scale: float = 1.0) -> tuple[Homes, dict[str, Network]]:
    homes = tuple(
        Home("lamp.yaml", name, name, name, scale * rate, tuple(shares), tuple(shares.values()))
        for name, (rate, shares) in PARTS.items()
    )
    where = {f"{row.name}.{cause}": (h, c) for h, row in enumerate(homes) for c, cause in enumerate(row.causes)}
    causes = [
        Cause(name, homes[h].name, "", "", homes[h].rate * homes[h].shares[c], ((f"{name}_mode", 0.9),))
        for name, (h, c) in where.items()
    ]
    modes = [Mode(f"{name}_mode", homes[h].name, "") for name, (h, _) in where.items()]
    findings = [
        Finding(finding, "", PLAIN_GRADES, ("", ""), (0.01,), tuple(
            Reason((f"{name}_mode",), (0.8,)) for name in where if name.partition(".")[2] in by
        ))
        for finding, by in SEEN.items()
    ]  # fmt: skip
    network = build_network(causes, modes, findings, Unlisted("", 0.001, 0.1))
    return Homes(homes, {"lamp": where}), {"lamp": network}


HOMES, NETWORKS = lamp()
NAMES = tuple(HOMES.where["lamp"])
EVIDENCE = [tuple(zip(SEEN, rows, strict=True)) for rows in product([(0,), (1,)], repeat=3)]
OPEN = [Fault("lamp", evidence=rows) for rows in EVIDENCE]


def learned(faults: list[Fault], prior: float = 10.0) -> Estimates:
    return learn(faults, HOMES, NETWORKS, prior)


def chance(estimates: Estimates, name: str) -> float:
    home, place = HOMES.where["lamp"][name]
    return estimates.rates[home] * estimates.shares[home][place]


def test_where_every_cause_is_known_it_is_counting() -> None:
    faults = (
        [Fault("lamp", ("bulb.burnt",))] * 12
        + [Fault("lamp", ("cell.flat",))] * 3
        + [Fault("lamp", ("bulb.loose",))] * 5
    )
    found = learned(faults)
    assert found.counts == ((12, 5, 0), (3, 0))
    assert found.shares[0] == pytest.approx(((5 + 12) / 27, (3 + 5) / 27, 2 / 27))
    assert found.shares[1] == pytest.approx(((7 + 3) / 13, 3 / 13))
    assert found.rates == pytest.approx((0.1 * (6 + 17) / 30, 0.1 * (4 + 3) / 30))
    assert found.rounds == 1


def test_only_the_part_is_divided_among_its_causes_and_no_others() -> None:
    known = [Fault("lamp", ("cell.flat",))] * 5
    found = learned([*known, *[Fault("lamp", (), ("cell",), EVIDENCE[-1])] * 4])
    assert found.counts[0] == (0, 0, 0)
    assert fsum(found.counts[1]) == found.faults[1] == pytest.approx(9)
    told = learned([*known, *[Fault("lamp", (), ("cell",))] * 4])  # nothing observed: the shares are as without them
    assert told.shares[1] == pytest.approx(learned(known).shares[1], abs=2e-3)


def test_only_the_part_counts_once_for_it_and_divides_no_more_than_what_was_found_inside() -> None:
    vague = [Fault("lamp", (), ("cell",), EVIDENCE[3])] * 40
    alone = learned(vague)
    assert alone.faults == pytest.approx((0, 40))
    assert alone.rates == pytest.approx((0.1 * 6 / 50, 0.1 * 44 / 50))
    assert alone.shares[1] == pytest.approx(HOMES.rows[1].shares)
    beside = learned([*vague, *[Fault("lamp", ("cell.flat",))] * 8, *[Fault("lamp", ("bulb.burnt",))] * 90])
    assert beside.faults == pytest.approx((90, 48))
    assert fsum(beside.counts[1]) == pytest.approx(16)


def test_a_part_counts_even_where_no_cause_explains_what_was_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    def refusing(*_: object) -> Posterior:
        raise ImpossibleEvidenceError

    monkeypatch.setattr(learning, "Posterior", refusing)
    strange = learned([Fault("lamp", (), ("cell",), EVIDENCE[3]), OPEN[3]])
    assert (strange.faults, strange.counts[1], strange.unexplained) == ((0, 1), (0, 0), 1)


def test_a_cause_that_was_found_counts_beside_a_part_of_which_no_more_is_known() -> None:
    found = learned([Fault("lamp", ("bulb.burnt",), ("cell",))])
    assert found.counts[0] == (1, 0, 0)
    assert found.faults == pytest.approx((1, 1))


def _objective(logits: np.ndarray, faults: list[Fault], prior: float) -> float:
    """Minus the logarithm of the posterior, in a parametrisation of its own: logits of parts, then of causes."""
    parts = [exp(x) for x in logits[:2]]
    rates = [0.1 * x / sum(parts) for x in parts]
    shares, at = [], 2
    for row in HOMES.rows:
        some = [exp(x) for x in logits[at : at + len(row.causes)]]
        shares.append([x / sum(some) for x in some])
        at += len(row.causes)
    total = prior * sum(row.rate / 0.1 * log(rate) for row, rate in zip(HOMES.rows, rates, strict=True))
    total += prior * sum(
        w * log(s) for row, own in zip(HOMES.rows, shares, strict=True) for w, s in zip(row.shares, own, strict=True)
    )
    odds = {}
    for name, (h, c) in HOMES.where["lamp"].items():
        before = HOMES.rows[h].rate * HOMES.rows[h].shares[c]
        odds[name] = before / (1 - before) * rates[h] * shares[h][c] / before
    network = NETWORKS["lamp"]
    moved = tuple(
        part._replace(odds=tuple(odds.get(name, old) for name, old in zip(part.causes, part.odds, strict=True)))
        for part in network.parts
    )
    network = network._replace(parts=moved)
    found = sum(bool(fault.causes) for fault in faults)
    weight = min(1.0, found / max(1, len(faults) - found))
    for fault in faults:
        if fault.causes:
            total += sum(log(odds[name]) for name in fault.causes)
        else:
            chance = weigh(network, dict(fault.evidence)).evidence_probability
            total += weight * (log(chance) + sum(log(1 + one) for one in odds.values()))
    return -total


@pytest.mark.parametrize("burnt", [3, 20])  # fewer and more than stayed open
def test_the_mode_is_the_one_that_a_general_maximiser_finds(burnt: int) -> None:
    faults = [Fault("lamp", ("bulb.burnt",))] * burnt + OPEN[1:] * 2 + [OPEN[4]] * 3
    found = learned(faults, 4.0)
    best = minimize(_objective, np.zeros(7), (faults, 4.0), method="BFGS", options={"gtol": 1e-3})
    parts = [exp(x) for x in best.x[:2]]
    assert found.rates == pytest.approx([0.1 * x / sum(parts) for x in parts], rel=2e-3)
    bulb = [exp(x) for x in best.x[2:5]]
    assert found.shares[0] == pytest.approx([x / sum(bulb) for x in bulb], rel=2e-3)
    assert found.rounds < 40


@pytest.mark.parametrize("flat", [3, 30])  # fewer and more than are known by their part alone
def test_within_a_part_the_mode_is_the_one_that_a_general_maximiser_finds(flat: int) -> None:
    """Rates so low that two causes at once are out of the question, as the sum over the causes of a part has it."""
    homes, networks = lamp(1e-4)
    vague = [Fault("lamp", (), ("cell",), rows) for rows in (EVIDENCE[2], EVIDENCE[2], EVIDENCE[4], EVIDENCE[6])] * 3
    found = learn([Fault("lamp", ("cell.flat",))] * flat + vague, homes, networks, 4.0)
    explains = []
    for fault in vague:
        posterior = weigh(networks["lamp"], dict(fault.evidence))
        chances = [posterior.causes[f"cell.{cause}"] for cause in ("flat", "leaking")]
        explains.append([x / share for x, share in zip(chances, homes.rows[1].shares, strict=True)])

    def objective(x: float) -> float:
        shares = 1 / (1 + exp(-x)), 1 / (1 + exp(x))
        known = sum(4.0 * before * log(s) for before, s in zip(homes.rows[1].shares, shares, strict=True))
        each = sum(log(fsum(s * e for s, e in zip(shares, some, strict=True))) for some in explains)
        return -(known + flat * log(shares[0]) + min(1.0, flat / len(vague)) * each)

    best = minimize_scalar(objective).x
    assert found.shares[1][0] == pytest.approx(1 / (1 + exp(-best)), rel=2e-3)
    assert found.rates[1] == pytest.approx(1e-5 * (4 * 0.4 + flat + len(vague)) / (4 + flat + len(vague)))


@given(st.lists(st.sampled_from([*OPEN, *(Fault("lamp", (name,)) for name in NAMES)]), max_size=8), st.randoms())
@settings(max_examples=15)
def test_the_order_of_cases_does_not_matter(faults: list[Fault], dice: random.Random) -> None:
    other = [*faults]
    dice.shuffle(other)
    assert learned(other) == learned(faults)


def drawn(number: int, seed: int) -> tuple[dict[str, float], list[Fault]]:
    """Rates that are not the rules' own, and so many causes drawn from them."""
    dice = random.Random(seed)  # noqa: S311  nothing is kept secret by it
    weights = {name: chance(learned([]), name) * dice.choice((0.3, 1, 3)) for name in NAMES}
    truth = {name: weight / sum(weights.values()) for name, weight in weights.items()}
    return truth, [Fault("lamp", (name,)) for name in dice.choices(NAMES, [truth[name] for name in NAMES], k=number)]


def test_rates_that_cases_were_drawn_from_come_back_within_their_intervals() -> None:
    hits = total = 0
    for seed in range(20):
        truth, faults = drawn(400, seed)
        found = learned(faults)
        for h, row in enumerate(HOMES.rows):
            part = sum(truth[f"{row.name}.{cause}"] for cause in row.causes)
            own = found.faults[h]
            for c, cause in enumerate(row.causes):
                count = 10 * row.shares[c] + found.counts[h][c]
                low, high = interval(count, 10 + own - count)
                hits += low <= truth[f"{row.name}.{cause}"] / part <= high
                total += 1
    assert hits / total > 0.8  # of 100 intervals of 90 %; the prior is wrong on purpose


def test_the_loss_on_fresh_cases_falls_with_their_number_and_never_exceeds_the_priors() -> None:
    losses = []
    for number in (0, 10, 40, 400):
        loss = 0.0
        for seed in range(30):
            truth, faults = drawn(number, seed)
            found = learned(faults)
            loss -= sum(truth[name] * log(chance(found, name) / 0.1) for name in NAMES)
        losses.append(loss / 30)
    assert losses == sorted(losses, reverse=True)


def invented(number: int, seed: int) -> tuple[list[Fault], list[str]]:
    """So many jobs from rates that are not the rules' own, and their causes; of some the records tell only the part.

    Of others they tell only what was seen.
    """
    truth, _ = drawn(0, 7)
    dice = random.Random(seed)  # noqa: S311  nothing is kept secret by it
    jobs, causes = [], dice.choices(NAMES, [truth[name] for name in NAMES], k=number)
    for name in causes:
        own = name.partition(".")[2]
        seen = {finding: (int(dice.random() < (0.72 if own in by else 0.01)),) for finding, by in SEEN.items()}
        known = dice.choice(("cause", "cause", "part", "open"))
        jobs.append(Fault(
            "lamp",
            (name,) if known == "cause" else (),
            (name.partition(".")[0],) if known == "part" else (),
            () if known == "cause" else tuple(seen.items()),
        ))  # fmt: skip
    return jobs, causes


def test_what_a_thousand_jobs_teach_the_next_thousand_confirm() -> None:
    found, (_, later) = learned(invented(1000, 1)[0]), invented(1000, 2)
    before = learned([])
    for name in NAMES:
        expected, seen = chance(found, name) / 0.1 * 1000, later.count(name)
        assert abs(seen - expected) < 3 * (2 * expected) ** 0.5  # both thousands scatter
    losses = [-sum(log(chance(rates, name) / 0.1) for name in later) / 1000 for rates in (before, found)]
    best = -sum(later.count(name) / 1000 * log(later.count(name) / 1000) for name in NAMES)
    assert losses[0] - best > 0.1
    assert losses[1] - best < 0.01


def test_a_part_that_a_type_holds_twice_loses_nothing_of_a_job() -> None:
    """The bypass of a detector assembly has the checks of its main line, and both teach the same values."""
    types = {name: LIBRARY.get(name) for name in ("RP", "RPDA")}
    homes = homes_of({name: ready.assembly for name, ready in types.items()})
    networks = {name: ready.network for name, ready in types.items()}
    known = Fault("RPDA", ("check_1.debris", "bypass.check_1.debris"))
    both = Fault("RPDA", (), ("check_1", "bypass.check_1"))
    open_job = Fault("RPDA", evidence=(("discharge_is_full", (1,)),))
    found = learn([known, open_job], homes, networks)
    inside = weigh(networks["RPDA"], dict(open_job.evidence)).causes
    at = homes.where["RPDA"]["check_1.debris"]
    assert at == homes.where["RPDA"]["bypass.check_1.debris"]
    assert inside["check_1.debris"] > 0.01
    assert fsum(found.faults) == pytest.approx(2 + fsum(inside[name] for name in homes.where["RPDA"]), rel=0.02)
    assert learn([known, both], homes, networks).faults[at[0]] == pytest.approx(4)


def test_equal_evidence_is_weighed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    weighed: list[Evidence] = []

    def weighing(network: Network, evidence: Evidence) -> Posterior:
        weighed.append(evidence)
        return Posterior(network, evidence)

    monkeypatch.setattr(learning, "Posterior", weighing)
    found = learned([OPEN[3]] * 500 + [OPEN[4]] * 500 + [Fault("lamp", ("bulb.burnt",))])
    assert len(weighed) == 2 * found.rounds


def test_open_jobs_weigh_together_no_more_than_those_that_were_found() -> None:
    burnt = [Fault("lamp", ("bulb.burnt",))] * 10
    many = learned(burnt + [OPEN[4]] * 3000)
    assert fsum(map(fsum, many.counts)) == pytest.approx(20 - many.outside / 300, abs=1e-6)
    assert many.rates == pytest.approx(learned(burnt + [OPEN[4]] * 10).rates, rel=1e-3)
    alone = learned([OPEN[4]] * 3000)
    assert alone.rates == pytest.approx([row.rate for row in HOMES.rows])
    assert alone.counts == ((0, 0, 0), (0, 0))
