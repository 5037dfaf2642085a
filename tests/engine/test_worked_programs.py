"""Chaining against clingo on total cases, and textbook programs with known models.

Programs with variables are written out for the constants at hand. What the sources call false because
nothing derives it is here a finding whose one rule has a false premise: a finding without rules is unknown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import product

import pytest
from hypothesis import given

from diagnose.engine.chaining import Chaining
from diagnose.engine.order import CircleFoundError, order_rules
from diagnose.model.premises import All, AnyOf, Holds, Not, Premise
from tests.engine.naive import with_computed
from tests.engine.stable_models import grades_that_hold, models
from tests.engine.strategies import COMPUTED, Answers, RuleBase, plain, rule, rule_bases, total_answers, yes


@given(rule_bases(total=True), total_answers())
def test_grades_are_those_of_the_stable_model_that_clingo_finds(base: RuleBase, answers: Answers) -> None:
    chaining = Chaining(order_rules(base.grades, base.rules), base.limits, COMPUTED)
    chaining.start(answers)
    values = {
        (finding, grade): value
        for finding, grades in base.grades.items()
        for grade, value in zip(grades, tuple(chaining.grades[finding].values()), strict=True)
    }
    assert None not in values.values()
    expected = grades_that_hold(base, with_computed(answers, COMPUTED))
    assert {fact for fact, value in values.items() if value} == expected


def concluded(program: Mapping[str, Premise], facts: Iterable[str] = ()) -> dict[str, bool | None]:
    """Each plain finding's value, from one premise each and these facts answered yes."""
    rules = [rule(f"for {finding}", premise, finding) for finding, premise in program.items()]
    chaining = Chaining(order_rules(plain(*program), rules), {})
    chaining.start(dict.fromkeys(facts, "yes"))
    return {finding: chaining.grades[finding]["yes"] for finding in program}


def test_a_penguin_does_not_fly() -> None:
    """The textbook default; constructed, and the model found by clingo."""
    program: dict[str, Premise] = {
        "bird": yes("penguin"),
        "abnormal": yes("penguin"),
        "flies": All((Holds("bird"), Not(Holds("abnormal")))),
    }
    assert concluded(program, ["penguin"]) == {"bird": True, "abnormal": True, "flies": False}
    text = "bird :- penguin. abnormal :- penguin. flies :- bird, not abnormal. penguin."
    assert models(text) == [{"bird", "abnormal", "penguin"}]


def test_what_cannot_be_reached_is_the_complement_of_what_can() -> None:
    """The closure of a-b, b-c, d-d, by paths of up to four steps; constructed, the model found by clingo."""
    nodes, edges = "abcd", {"ab", "bc", "dd"}
    pairs = [x + y for x, y in product(nodes, repeat=2)]
    program: dict[str, Premise] = {f"1{pair}": yes(pair) for pair in pairs}
    for steps, x, z in product((2, 3, 4), nodes, nodes):
        longer = [All((yes(x + y), Holds(f"{steps - 1}{y}{z}"))) for y in nodes]
        program[f"{steps}{x}{z}"] = AnyOf((Holds(f"1{x}{z}"), *longer))
    program |= {f"not {pair}": Not(Holds(f"4{pair}")) for pair in pairs}
    rules = [rule(f"for {finding}", premise, finding) for finding, premise in program.items()]
    chaining = Chaining(order_rules(plain(*program), rules), {})
    chaining.start({pair: "yes" if pair in edges else "no" for pair in pairs})
    assert {pair for pair in pairs if chaining.rules[f"for 4{pair}"]} == {"ab", "ac", "bc", "dd"}
    unreached = {pair for pair in pairs if chaining.rules[f"for not {pair}"]}
    assert len(unreached) == 12
    text = "node(a;b;c;d). e(a,b;b,c;d,d). r(X,Y) :- e(X,Y). r(X,Z) :- e(X,Y), r(Y,Z)."
    (model,) = models(f"{text} u(X,Y) :- node(X), node(Y), not r(X,Y).")
    assert {f"u({x},{y})" for x, y in map(tuple, unreached)} == {atom for atom in model if atom.startswith("u(")}


def test_colonel_west_is_a_criminal() -> None:
    """AIMA sec. 9.3: four facts and four rules give eight atoms."""
    facts = ["owns nono m1", "missile m1", "american west", "enemy nono america"]
    program: dict[str, Premise] = {
        "weapon m1": yes("missile m1"),
        "sells west m1 nono": All((yes("missile m1"), yes("owns nono m1"))),
        "hostile nono": yes("enemy nono america"),
        "criminal west": All(
            (yes("american west"), Holds("weapon m1"), Holds("sells west m1 nono"), Holds("hostile nono"))
        ),
    }
    values = concluded(program, facts)
    assert len(facts) + sum(value is True for value in values.values()) == 8
    text = """owns(nono,m1). missile(m1). american(west). enemy(nono,america).
        weapon(X) :- missile(X). sells(west,X,nono) :- missile(X), owns(nono,X). hostile(X) :-
        enemy(X,america).
        criminal(X) :- american(X), weapon(Y), sells(X,Y,Z), hostile(Z)."""
    assert [len(model) for model in models(text)] == [8]
    for fact in facts:
        without = [other for other in facts if other != fact]
        assert concluded(program, without)["criminal west"] is None


def win_move(moves: Iterable[str]) -> dict[str, Premise]:
    """A position wins if it has a move to one that does not."""
    positions = sorted(set("".join(moves)))
    return {x: AnyOf(tuple(Not(Holds(move[1])) for move in moves if move[0] == x)) for x in positions}


def test_win_move_without_a_circle() -> None:
    """Moves 12, 23, 24, 35: constructed; 2 and 3 win, 1, 4 and 5 lose."""
    values = concluded(win_move(["12", "23", "24", "35"]))
    assert values == {"1": False, "2": True, "3": True, "4": False, "5": False}


@pytest.mark.parametrize(
    ("program", "circle"),
    [
        # Win-move of Abiteboul, Hull and Vianu ch. 15 (from memory): no stable model.
        (win_move(["bc", "ca", "ab", "ad", "de", "df", "fg"]), ("a", "b", "c")),
        # Win-move on a circle of moves, XSB manual part 1, non-stratified programs: undefined everywhere.
        (win_move(["12", "23", "34", "41"]), ("1", "2", "3", "4")),
        # XSB manual part 2, extended programs: s :- not t. t :- r. t. r :- not r.
        ({"s": Not(Holds("t")), "t": AnyOf((Holds("r"), yes("t given"))), "r": Not(Holds("r"))}, ("r",)),
        # XSB manual part 1: two rules, each blocked by the other, have two stable models.
        (
            {"john writes": Not(Holds("mary writes")), "mary writes": Not(Holds("john writes"))},
            ("john writes", "mary writes"),
        ),
    ],
)
def test_programs_in_which_findings_rest_on_each_other_are_refused(
    program: dict[str, Premise], circle: tuple[str, ...]
) -> None:
    with pytest.raises(CircleFoundError) as found:
        concluded(program)
    assert found.value.names == circle
