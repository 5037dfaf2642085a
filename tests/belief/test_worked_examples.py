"""The ranking against published numbers.

Marks behind a source: [R] its text was read, [R2] read in a second source that states it, [M] numbers from memory with
the arithmetic done again, [C] constructed here and agreed upon by independent programs. "Recomputed" values carry more
digits than the publication and were obtained by enumeration.
"""

from __future__ import annotations

from math import log10

import pytest

from diagnose.belief.network import Chances, Network, build_network
from diagnose.belief.noisy_max import noisy_max
from diagnose.belief.posterior import Posterior, decibans, factors, odds, weigh
from diagnose.belief.sets import likely_sets
from diagnose.model.causes import Finding, Mode, Unlisted
from tests.belief.strategies import cause, plain, two_layers

YES, NO = (1,), (0,)


def sign_of(name: str, hit: float, false_alarm: float, condition: str) -> Finding:
    """A sign with P(yes | condition) = hit and P(yes | without it) = false_alarm, hit being the larger."""
    return plain(name, false_alarm, {condition: 1 - (1 - hit) / (1 - false_alarm)})


def bayes(prior: float, hit: float, false_alarm: float) -> float:
    network = two_layers({"ill": prior}, [sign_of("sign", hit, false_alarm, "ill")])
    return weigh(network, {"sign": YES}).causes["ill"]


class TestWeightOfEvidence:
    def test_twenty_heads_of_a_penny(self) -> None:
        """General Report on Tunny (1945), section 21(g), p. 39 [R]: 3 decibans a head, odds 100 to 1 on."""
        tosses = [sign_of(f"head{i}", 1.0, 0.5, "double_headed") for i in range(20)]
        network = two_layers({"double_headed": 1 / 10_001}, tosses)
        evidence = {toss.name: YES for toss in tosses}
        standing = weigh(network, evidence)
        assert odds(standing.causes["double_headed"]) == pytest.approx(104.8576, rel=1e-9)
        assert standing.causes["double_headed"] == pytest.approx(0.990553, abs=5e-7)
        assert decibans(odds(standing.causes["double_headed"])) == pytest.approx(20.2060, abs=5e-5)
        heads = [row["double_headed"] for row in factors(network, evidence).values()]
        assert [round(decibans(factor)) for factor in heads] == [3] * 20
        assert sum(map(decibans, heads)) == pytest.approx(60.2060, abs=5e-5)

    def test_loaded_die(self) -> None:
        """I. J. Good (1950 and later papers) [M]: a six +3 decibans, another face -1."""
        network = two_layers({"loaded": 0.5}, [sign_of("six", 1 / 3, 1 / 6, "loaded")])
        for seen, published, recomputed in ((YES, 3, 3.0103), (NO, -1, -0.9691)):
            factor = factors(network, {"six": seen})["six"]["loaded"]
            assert round(decibans(factor)) == published
            assert decibans(factor) == pytest.approx(recomputed, abs=5e-5)

    @pytest.mark.parametrize(
        ("bad", "expected"),
        [
            (0, (-10.000, 10.000, -60.000)),
            (5, (5.016, -5.063, -27.129)),
            (10, (2.239, -22.110, -2.353)),
            (12, (-7.147, -34.035, 7.134)),
            (20, (-44.965, -95.171, 44.965)),
        ],
    )
    def test_three_machines(self, bad: int, expected: tuple[float, float, float]) -> None:
        """E. T. Jaynes, Probability Theory: The Logic of Science, chapter 4: C's numbers [R2], the rest [M].

        Machine A makes 1/3 bad, B 1/6, and C 99/100. One machine is at work: at most one cause, B being "neither".
        """
        machine_a, machine_c = 1 / 10, 1e-6 / (10 / 11 * (1 - 1e-6))
        rates = {"a": machine_a / (1 + machine_a), "c": machine_c / (1 + machine_c)}
        draws = []
        for i in range(bad):
            to_a, to_c = (1 - (1 - hit) / (5 / 6) for hit in (1 / 3, 99 / 100))
            draws.append(plain(f"bad{i}", 1 / 6, {"a": to_a, "c": to_c}))
        standing = weigh(two_layers(rates, draws), {draw.name: YES for draw in draws}, at_most=1)
        neither = 1 - standing.causes["a"] - standing.causes["c"]
        found = [decibans(odds(p)) for p in (standing.causes["a"], neither, standing.causes["c"])]
        assert found == pytest.approx(expected, abs=6e-4)

    def test_three_machines_after_five_bad(self) -> None:
        """The same example in probabilities, recomputed: .760432, .237635, .001933."""
        draws = [plain(f"bad{i}", 1 / 6, {"a": 0.2, "c": 1 - 0.01 / (5 / 6)}) for i in range(5)]
        rates = {"a": 0.1 / 1.1, "c": 1.1e-6 / (1 + 1.1e-6)}
        standing = weigh(two_layers(rates, draws), {draw.name: YES for draw in draws}, at_most=1)
        assert standing.causes["a"] == pytest.approx(0.760432, abs=1e-6)
        assert standing.causes["c"] == pytest.approx(0.001933, abs=1e-6)

    @pytest.mark.parametrize(
        ("db", "probability"), [(0, 0.5), (3, 0.66614), (6, 0.79924), (10, 0.909091), (20, 0.990099), (30, 0.999001)]
    )
    def test_scale_of_decibans(self, db: float, probability: float) -> None:
        """Jaynes, table 4.1 [M]: 10 db is 10 to 1, 20 db 100 to 1, 30 db 1000 to 1."""
        assert decibans(odds(probability)) == pytest.approx(db, abs=1e-3)

    def test_smallest_change_that_is_noticed(self) -> None:
        """I. J. Good [M]: one deciban, a factor of about 1.26."""
        assert decibans(1.258925) == pytest.approx(1, abs=1e-5)
        assert log10(1.258925) == pytest.approx(0.1, abs=1e-6)


class TestBayesWithATest:
    @pytest.mark.parametrize(
        ("prior", "hit", "false_alarm", "recomputed", "published", "digits"),
        [
            pytest.param(0.01, 0.8, 95 / 990, 0.0776699, 0.078, 3, id="Gigerenzer & Hoffrage 1995 [M], 7.8 % [R2]"),
            pytest.param(0.01, 0.792, 0.096, 0.0769231, 0.077, 3, id="Eddy 1982 [M]"),
            pytest.param(0.001, 1.0, 0.05, 0.0196271, 0.02, 2, id="Casscells et al. 1978 [M]"),
            pytest.param(0.008, 0.90, 0.07, 0.0939457, 0.09, 2, id="Gigerenzer, Calculated Risks, 2002 [R2]"),
            pytest.param(0.01, 0.90, 0.09, 0.0917431, 0.1, 1, id="Gigerenzer, seminar question [R2]"),
            pytest.param(0.005, 0.95, 0.01, 0.3231293, 0.32, 2, id="Mammogram Math, summary [R2]"),
            pytest.param(0.15, 0.8, 0.2, 0.4137931, 0.41, 2, id="Kahneman & Tversky, cabs [M]"),
        ],
    )
    def test_one_sign(
        self, prior: float, hit: float, false_alarm: float, recomputed: float, published: float, digits: int
    ) -> None:
        chance = bayes(prior, hit, false_alarm)
        assert chance == pytest.approx(recomputed, abs=5e-8)
        assert round(chance, digits) == published

    def test_stiff_neck(self) -> None:
        """Russell & Norvig, AIMA, 3rd edition, chapter 13 [M]: P(stiff neck) is .01 in all; 0.0014."""
        prior = 1 / 50_000
        others = (0.01 - 0.7 * prior) / (1 - prior)
        assert bayes(prior, 0.7, others) == pytest.approx(0.0014, rel=1e-9)

    def test_the_test_in_decibans(self) -> None:
        """Eddy's numbers [M]: -19.9564 + 9.1645 = -10.7918 decibans; two independent positives 0.4074074."""
        signs = [sign_of(name, 0.792, 0.096, "ill") for name in ("first", "second")]
        network = two_layers({"ill": 0.01}, signs)
        standing = weigh(network, {"first": YES})
        gain = factors(network, {"first": YES})["first"]["ill"]
        assert decibans(odds(weigh(network, {}).causes["ill"])) == pytest.approx(-19.9564, abs=5e-5)
        assert decibans(gain) == pytest.approx(9.1645, abs=5e-5)
        assert decibans(odds(standing.causes["ill"])) == pytest.approx(-10.7918, abs=1e-4)
        assert weigh(network, {"first": YES, "second": YES}).causes["ill"] == pytest.approx(0.4074074, abs=5e-8)

    def test_play_tennis(self) -> None:
        """Mitchell (1997) 6.9.1 and Witten & Frank, chapter 4; numbers [R]: no .795, yes .205, and the decibans."""
        signs = [
            sign_of("sunny", 3 / 5, 2 / 9, "no"),
            sign_of("not_cool", 4 / 5, 6 / 9, "no"),
            sign_of("high", 4 / 5, 3 / 9, "no"),
            sign_of("strong", 3 / 5, 3 / 9, "no"),
        ]
        network = two_layers({"no": 5 / 14}, signs)
        evidence = {"sunny": YES, "not_cool": NO, "high": YES, "strong": YES}
        standing = weigh(network, evidence)
        assert standing.causes["no"] == pytest.approx(0.7954173, abs=5e-8)
        assert standing.evidence_probability == pytest.approx(0.00529101 + 0.02057143, abs=1e-8)
        weights = {name: decibans(row["no"]) for name, row in factors(network, evidence).items()}
        expected = {"sunny": 4.3136, "not_cool": -2.2185, "high": 3.8021, "strong": 2.5527}
        assert weights == pytest.approx(expected, abs=5e-5)


class TestNoisyOr:
    @pytest.mark.parametrize(
        ("present", "fever"),
        [(0, 0.0), (4, 0.9), (2, 0.8), (6, 0.98), (1, 0.4), (5, 0.94), (3, 0.88), (7, 0.988)],
    )
    def test_fever(self, present: int, fever: float) -> None:
        """AIMA's noisy-OR table [R2]: cold, flu and malaria fail to bring fever with .6, .2 and .1; no leak."""
        chances = Chances(2, (0.0,), ((1, (0.4,)), (2, (0.8,)), (4, (0.9,))))
        assert noisy_max(chances, YES)[present] == pytest.approx(fever, abs=1e-12)

    def test_leak(self) -> None:
        """Pearl (1988) p. 184 as cited in a help page [R]: formula with leak .1 and .2, .4; recomputed 0.568."""
        chances = Chances(2, (0.1,), ((1, (0.2,)), (2, (0.4,))))
        assert noisy_max(chances, YES)[3] == pytest.approx(0.568, abs=1e-12)


def chest_clinic(smoker: bool) -> Network:
    """Lauritzen & Spiegelhalter (1988), the part of it that is noisy-OR: what brings tuberculosis and the rest.

    Tuberculosis has one cause at its rate over all travellers, so that with smoking known three causes are all there
    are. X-ray and dyspnoea rest on "either" by a table that no noisy-OR gives: rows with evidence cannot be had here.
    """
    lung, bronc = (0.1, 0.6) if smoker else (0.01, 0.3)
    causes = [
        cause("any_tub", "patient", 0.01 * 0.05 + 0.99 * 0.01, {"tub": 1.0}),
        cause("any_lung", "patient", lung, {"lung": 1.0}),
        cause("any_bronc", "patient", bronc, {"bronc": 1.0}),
    ]
    modes = [Mode(name, "patient", "") for name in ("tub", "lung", "bronc")]
    all_three = plain("all_three", 0.0, {"tub and lung and bronc": 1.0})
    return build_network(causes, modes, [all_three], Unlisted("", 0.0, 0.0))


class TestChestClinic:
    """Half of the patients smoke, so what holds of all is the mean of the two."""

    def test_without_evidence(self) -> None:
        """The vignette "chest clinic" of the R package gRain [R]: .0104, .0550, .4500."""
        rows = [weigh(chest_clinic(smoker), {}).modes for smoker in (True, False)]
        modes = {name: (rows[0][name] + rows[1][name]) / 2 for name in rows[0]}
        assert modes == pytest.approx({"tub": 0.0104, "lung": 0.055, "bronc": 0.45}, abs=1e-12)

    def test_all_three_diseases(self) -> None:
        """The same vignette [R]: .0003276 for all three together."""
        rows = [weigh(chest_clinic(smoker), {"all_three": YES}) for smoker in (True, False)]
        assert sum(row.evidence_probability for row in rows) / 2 == pytest.approx(0.0003276, rel=1e-9)
        assert rows[0].modes == pytest.approx({"tub": 1.0, "lung": 1.0, "bronc": 1.0})


TWO_LAYERS = two_layers(
    {"d1": 0.02, "d2": 0.10, "d3": 0.05},
    [
        plain("F1", 0.01, {"d1": 0.8, "d2": 0.3}),
        plain("F2", 0.02, {"d2": 0.6, "d3": 0.9}),
        plain("F3", 0.05, {"d1": 0.2, "d3": 0.4}),
    ],
)


@pytest.mark.parametrize(
    ("positive", "negative", "evidence", "marginals", "best"),
    [
        ("F1", "", 0.0550648000, (0.29345063, 0.57766123, 0.05), [("d2", 0.519056)]),
        ("F1 F2", "", 0.0213915672, (0.09364439, 0.93031321, 0.12046524), [("d2", 0.812361)]),
        ("F1 F2", "F3", 0.0190179143, (0.06832236, 0.95313484, 0.07283657), [("d2", 0.868065)]),
        ("F2", "F1", 0.0988624328, (0.00406504, 0.43154049, 0.43309737), [("d3", 0.398336), ("d2", 0.396785)]),
        ("", "F1 F2 F3", 0.8014337404, (0.00325468, 0.03017241, 0.00314795), [("", 0.963628)]),
        ("F1 F2 F3", "", 0.0023736529, (0.29652669, 0.74746433, 0.50207030), [("d2", 0.366053)]),
    ],
)
def test_two_layer_network(
    positive: str,
    negative: str,
    evidence: float,
    marginals: tuple[float, float, float],
    best: list[tuple[str, float]],
) -> None:
    """[C]: enumeration, the Quickscore sum (Heckerman 1989, abstract [R]) and ProbLog agree on these numbers."""
    known = dict.fromkeys(positive.split(), YES) | dict.fromkeys(negative.split(), NO)
    standing = weigh(TWO_LAYERS, known)
    assert standing.evidence_probability == pytest.approx(evidence, abs=5e-11)
    assert tuple(standing.causes.values()) == pytest.approx(marginals, abs=5e-9)
    found = likely_sets(Posterior(TWO_LAYERS, known), 1.0, len(best))
    assert [set(row.causes) for row in found] == [set(name.split()) for name, _ in best]
    assert [row.chance for row in found] == pytest.approx([chance for _, chance in best], abs=5e-7)
