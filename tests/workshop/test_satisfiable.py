"""Whether premises can hold together, against plain enumeration and against the engine itself."""

from __future__ import annotations

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.engine.chaining import Chaining
from diagnose.engine.order import order_gates, order_rules
from diagnose.model.premises import All, Answered, AnyOf, Bound, Gate, Holds, Measured, Not, Premise, Relation, Rule
from diagnose.workshop.checks.satisfiable import AnswerSpace, Interval, can_hold, readings_where
from tests.engine.strategies import counted
from tests.volume import some_of

ANSWERS = {"port": ("none", "drip", "stream"), "valve": ("no", "yes")}
# Halves lie between the whole numbers that bounds are made of, so every stretch between two bounds is met.
READINGS = [reading / 2 for reading in range(9)]
RANGES = {"first": Interval(0, 4), "second": Interval(0, 4)}
LIMITS = {"lowest": 1.0}
RELATIONS: tuple[Relation, ...] = ("at least", "above", "at most", "below")
GRADES = {"wet": ("none", "some", "much"), "weak": ("no", "yes")}
SPACE = AnswerSpace(
    answers={name: frozenset(answers) for name, answers in ANSWERS.items()},
    ranges={**RANGES, "margin": Interval(-4, 4)},
    limits=LIMITS,
    grades=GRADES,
    computed={"margin": ("first", "second")},
)


def _answered() -> st.SearchStrategy[Premise]:
    return st.sampled_from(sorted(ANSWERS)).flatmap(
        lambda name: st.lists(st.sampled_from(ANSWERS[name]), min_size=1, max_size=2, unique=True).map(
            lambda answers: Answered(name, tuple(answers))
        )
    )


def _measured(*names: str) -> st.SearchStrategy[Premise]:
    limits = st.sampled_from([(), (), ("lowest",), ("absent",)])
    bounds = st.builds(Bound, st.integers(-1, 4).map(float), limits)
    return st.builds(Measured, st.sampled_from(names), st.sampled_from(RELATIONS), bounds)


def _holds() -> st.SearchStrategy[Premise]:
    return st.sampled_from(sorted(GRADES)).flatmap(
        lambda name: st.lists(st.sampled_from(GRADES[name]), min_size=1, max_size=2, unique=True).map(
            lambda grades: Holds(name, tuple(grades))
        )
    )


def _joined(leaves: st.SearchStrategy[Premise], most: int = 6) -> st.SearchStrategy[Premise]:
    return st.recursive(
        leaves,
        lambda inner: (
            st.lists(inner, min_size=1, max_size=3).map(lambda parts: All(tuple(parts)))
            | st.lists(inner, min_size=1, max_size=3).map(lambda parts: AnyOf(tuple(parts)))
            | inner.map(Not)
        ),
        max_leaves=most,
    )


OBSERVED = _joined(_answered() | _measured("first", "second", "margin"))


def _cases() -> list[dict[str, str | float]]:
    """Every full set of answers; a reading for each bound and for each stretch between two."""
    return [
        {"port": port, "valve": valve, "first": first, "second": second}
        for port, valve, first, second in product(ANSWERS["port"], ANSWERS["valve"], READINGS, READINGS)
    ]


CASES = _cases()


@settings(max_examples=some_of(150, 2), deadline=None)
@given(premise=OBSERVED, wanted=st.booleans())
def test_premises_over_observations_can_hold_just_where_some_answers_make_them(premise: Premise, wanted: bool) -> None:
    chaining = Chaining(order_rules({}, []), LIMITS, {"margin": ("first", "second")})

    def comes_out(case: dict[str, str | float]) -> bool:
        chaining.start(case)
        return chaining.value_of(premise) is wanted

    assert can_hold([(premise, wanted)], SPACE) == any(map(comes_out, CASES))


@settings(max_examples=some_of(300, 3), deadline=None)
@given(premise=_joined(_holds()), wanted=st.booleans())
def test_premises_over_findings_can_hold_just_where_some_grades_make_them(premise: Premise, wanted: bool) -> None:
    """Any of the higher grades may hold, several at once, and the lowest just where none of them does."""

    def value(part: Premise, held: set[tuple[str, str]]) -> bool:
        match part:
            case Holds(finding, grades):
                return any((finding, grade) in held for grade in grades)
            case Not(inner):
                return not value(inner, held)
            case All(parts):
                return all(value(inner, held) for inner in parts)
            case AnyOf(parts):
                return any(value(inner, held) for inner in parts)
        raise AssertionError(part)

    def worlds() -> list[set[tuple[str, str]]]:
        higher = [(name, grade) for name, grades in GRADES.items() for grade in grades[1:]]
        chosen = [{key for key, there in zip(higher, row, strict=True) if there} for row in product([0, 1], repeat=3)]
        lowest = [(name, grades[0]) for name, grades in GRADES.items()]
        return [held | {low for low in lowest if low[0] not in {name for name, _ in held}} for held in chosen]

    assert can_hold([(premise, wanted)], SPACE) == any(value(premise, held) is wanted for held in worlds())


RULES = st.lists(
    st.tuples(_joined(_answered() | _measured("first", "margin"), 3), st.sampled_from(["some", "much"])),
    min_size=2,
    max_size=4,
)


@settings(max_examples=some_of(120, 2), deadline=None)
@given(rules=RULES, wet=st.sampled_from(GRADES["wet"]), asked=_answered(), premise=OBSERVED)
def test_what_the_engine_can_conclude_can_hold(
    rules: list[tuple[Premise, str]], wet: str, asked: Premise, premise: Premise
) -> None:
    """Through rules on rules and gates as well: it is never said of premises that some answers make true."""
    base = [Rule(f"r{i}", part, "wet", grade, "", ()) for i, (part, grade) in enumerate(rules)]
    concluding = {grade: tuple(row.premise for row in base if row.grade == grade) for grade in ("some", "much")}
    goal = All((Holds("wet", (wet,)), premise))
    gates = (Gate("asked when", asked, ("first",)), Gate("void when", Answered("valve", ("yes",)), ("second",)))
    space = SPACE._replace(
        rules={"wet": concluding}, gates={"first": gates[:1], "second": gates[1:]}, grades={"wet": GRADES["wet"]}
    )
    computed = {"margin": ("first", "second")}
    steps = order_rules({"wet": GRADES["wet"]}, base)
    order = order_gates(gates, base, computed)
    for case in CASES[::7]:
        chaining, _ = counted(steps, LIMITS, order, case, computed)
        if chaining.value_of(goal) is True:
            assert can_hold([(goal, True)], space)
            break


def test_a_search_that_grows_too_long_says_that_they_can_hold() -> None:
    choices = AnyOf(tuple(Answered("port", (answer,)) for answer in ANSWERS["port"]))
    impossible = All((Answered("valve", ("no",)), Answered("valve", ("yes",))))
    assert not can_hold([(impossible, True)], SPACE)
    assert can_hold([(impossible, True), *[(choices, True)] * 5000], SPACE)


def test_the_end_of_a_span_belongs_to_it_or_not() -> None:
    at_least, below = readings_where("at least", 1.0, True), readings_where("below", 1.0, True)
    assert at_least.met(readings_where("at most", 1.0, True)) == Interval(1.0, 1.0)
    assert at_least.met(below).is_empty()
    assert not readings_where("above", 1.0, False).met(at_least).is_empty()
    assert Interval(0, 2, high_open=True).minus(Interval(1, 3)) == Interval(-3, 1, False, True)
