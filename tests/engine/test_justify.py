"""A justification names what was used to conclude and no more; what is missing could still decide."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from diagnose.engine.chaining import Chaining
from diagnose.engine.justify import Judged, Justification, Proposition, Reasons
from diagnose.engine.order import order_rules
from diagnose.model.premises import All, Answered, AnyOf, Bound, Gate, Holds, Measured, Not, Premise
from tests.engine.naive import Naive, both, either, opposite, with_computed
from tests.engine.strategies import (
    COMPUTED,
    FINDINGS,
    Answers,
    RuleBase,
    answers,
    counted,
    plain,
    rule,
    rule_bases,
    total_answers,
    yes,
)

PROPOSITIONS = [Proposition(finding, grade) for finding, grades in FINDINGS.items() for grade in grades]


def reasons_of(base: RuleBase, given_answers: Answers) -> tuple[Chaining, Reasons]:
    chaining = Chaining(order_rules(base.grades, base.rules), base.limits, COMPUTED)
    chaining.start(given_answers)
    return chaining, Reasons(chaining, base.rules)


def of_one(premise: Premise, given_answers: Answers) -> Judged:
    """The premise of the one rule for the finding f, as it was judged."""
    rules = [rule("r", premise, "f"), rule("r_g", yes("a"), "g"), rule("r_h", yes("b"), "h")]
    chaining = Chaining(order_rules(plain("f", "g", "h"), rules), {"edge": 1.5})
    chaining.start(given_answers)
    (judged,) = Reasons(chaining, rules).why("f", "yes").rules
    return judged.premise


@given(rule_bases(), answers())
def test_the_answers_named_are_enough_for_the_conclusion(base: RuleBase, given_answers: Answers) -> None:
    chaining, reasons = reasons_of(base, given_answers)
    for finding, grade in PROPOSITIONS:
        named: Answers = {}
        for step in reasons.trail(finding, grade):
            for judged in step.premises():
                if isinstance(judged.premise, Answered | Measured) and judged.answer is not None:
                    named[judged.premise.observation] = judged.answer
        value = chaining.value_of(Holds(finding, (grade,)))
        assert value is None or Naive(base, named).grade(finding, grade) is value


@given(rule_bases(), answers())
def test_each_step_follows_from_the_parts_that_it_names(base: RuleBase, given_answers: Answers) -> None:
    chaining, reasons = reasons_of(base, given_answers)
    for finding, grade in PROPOSITIONS:
        steps = {step.proposition: step for step in reasons.trail(finding, grade)}
        for step in steps.values():
            assert step.value is chaining.value_of(Holds(step.proposition.finding, (step.proposition.grade,)))
            assert step.value is followed(step, steps, base)


def followed(step: Justification, steps: dict[Proposition, Justification], base: RuleBase) -> bool | None:
    """The value that the step's own parts give it, each re-evaluated from the parts below."""
    ruled = [rule for rule in base.rules if (rule.finding, rule.grade) == step.proposition]
    values = [reevaluated(judged.premise, steps) for judged in step.rules]
    if ruled:
        assert step.value is not False or len(step.rules) == len(ruled)
        return either(values)
    if step.proposition.grade != base.grades[step.proposition.finding][0]:
        return None
    assert step.value is not True or len(step.others) == len(base.grades[step.proposition.finding]) - 1
    return both([opposite(steps[other].value) for other in step.others])


def reevaluated(judged: Judged, steps: dict[Proposition, Justification]) -> bool | None:
    below = [reevaluated(part, steps) for part in judged.parts]
    match judged.premise:
        case All(parts):
            assert judged.value is not True or len(below) == len(parts)
            found = both(below)
        case AnyOf(parts):
            assert judged.value is not False or len(below) == len(parts)
            found = either(below)
        case Not():
            found = opposite(below[0])
        case Holds(_, grades):
            assert judged.value is not False or len(judged.leads_to) == len(grades)
            found = either([steps[proposition].value for proposition in judged.leads_to])
        case _:
            found = judged.value
    assert found is judged.value
    return found


@given(rule_bases(), answers(), total_answers())
def test_answers_to_what_is_not_missing_leave_a_grade_unknown(
    base: RuleBase, given_answers: Answers, more: Answers
) -> None:
    chaining, reasons = reasons_of(base, given_answers)
    for finding, grade in PROPOSITIONS:
        missing = reasons.missing(finding, grade)
        if chaining.value_of(Holds(finding, (grade,))) is not None:
            assert missing == ()
            continue
        assert not set(missing) & (given_answers.keys() | COMPUTED.keys())
        others = {name: value for name, value in more.items() if name not in missing}
        full = with_computed({**others, **given_answers}, COMPUTED)
        assert Naive(base, full).grade(finding, grade) is None


@given(rule_bases(total=True), answers(), total_answers())
def test_answers_to_all_that_is_missing_decide_a_grade(base: RuleBase, given_answers: Answers, more: Answers) -> None:
    _, reasons = reasons_of(base, given_answers)
    for finding, grade in PROPOSITIONS:
        missing = reasons.missing(finding, grade)
        full = with_computed({**{name: more[name] for name in missing}, **given_answers}, COMPUTED)
        assert Naive(base, full).grade(finding, grade) is not None


@given(rule_bases(), answers(), st.integers(min_value=0))
def test_justifications_do_not_depend_on_the_order_of_rules(base: RuleBase, given_answers: Answers, turn: int) -> None:
    place = turn % (len(base.rules) + 1)
    turned = base._replace(rules=base.rules[place:] + base.rules[:place])
    _, reasons = reasons_of(base, given_answers)
    _, again = reasons_of(turned, given_answers)
    for proposition in PROPOSITIONS:
        assert again.trail(*proposition) == reasons.trail(*proposition)


def test_a_false_conjunction_names_its_false_parts_only() -> None:
    judged = of_one(All((yes("a"), yes("b"), yes("c"))), {"a": "yes", "b": "no"})
    assert judged.value is False
    assert judged.parts == (Judged(yes("b"), False, answer="no"),)


def test_an_unknown_conjunction_names_its_unknown_parts_only() -> None:
    judged = of_one(All((yes("a"), yes("b"), yes("c"))), {"a": "yes"})
    assert [(part.premise, part.value) for part in judged.parts] == [(yes("b"), None), (yes("c"), None)]


def test_a_true_disjunction_names_its_true_parts_only() -> None:
    judged = of_one(AnyOf((yes("a"), Not(yes("b")), yes("c"))), {"a": "no", "b": "no"})
    assert judged.parts == (Judged(Not(yes("b")), True, (Judged(yes("b"), False, answer="no"),)),)


def test_a_comparison_carries_the_reading_and_what_it_was_compared_with() -> None:
    below = Measured("p", "below", Bound(0.5, ("edge",)))
    assert of_one(below, {"p": 1.75}) == Judged(below, True, answer=1.75, bound=2.0)
    unstated = Measured("p", "below", Bound(0.5, ("elsewhere",)))
    assert of_one(unstated, {"p": 1.75}) == Judged(unstated, None, answer=1.75)


def test_a_rule_for_a_grade_leads_on_to_the_finding_it_rests_on() -> None:
    judged = of_one(AnyOf((Holds("g"), Holds("h", ("no", "yes")))), {"a": "no", "b": "no"})
    assert [part.leads_to for part in judged.parts] == [(Proposition("h", "no"),)]


def test_only_the_rules_that_made_it_so_are_named() -> None:
    rules = [rule(f"r_{name}", yes(name), "f") for name in "abc"]
    chaining = Chaining(order_rules(plain("f"), rules), {})
    reasons = Reasons(chaining, rules)
    named: list[list[str]] = []
    for given_answers in ({"a": "no", "b": "yes"}, {"a": "no"}, {"a": "no", "b": "no", "c": "no"}):
        chaining.start(given_answers)
        named.append([judged.rule.name for judged in reasons.why("f", "yes").rules])
    assert named == [["r_b"], ["r_b", "r_c"], ["r_a", "r_b", "r_c"]]


def test_the_lowest_grade_rests_on_the_other_grades_being_ruled_out() -> None:
    rules = [rule("r_some", yes("a"), "f", "some"), rule("r_much", yes("b"), "f", "much")]
    chaining = Chaining(order_rules({"f": ("none", "some", "much")}, rules), {})
    some, much = Proposition("f", "some"), Proposition("f", "much")
    chaining.start({"a": "no", "b": "no"})
    reasons = Reasons(chaining, rules)
    assert reasons.why("f", "none") == Justification(Proposition("f", "none"), True, (), (some, much))
    chaining.answer("b", "yes")
    assert reasons.why("f", "none") == Justification(Proposition("f", "none"), False, (), (much,))
    chaining.answer("a", None)
    chaining.answer("b", "no")
    assert reasons.why("f", "none") == Justification(Proposition("f", "none"), None, (), (some,))
    assert reasons.missing("f", "none") == ("a",)


def test_missing_names_the_readings_of_a_computed_reading_and_nothing_that_would_not_count() -> None:
    premise = AnyOf(
        (Measured("gap", "below", Bound(1.0)), yes("a"), yes("b"), Measured("p", "above", Bound(0, ("x",))))
    )
    rules = [rule("r", premise, "f")]
    gates = [Gate("asked when", yes("c"), ("b",))]
    steps = order_rules(plain("f"), rules)
    chaining, _ = counted(steps, {}, gates, {"left": 2.0}, {"gap": ("left", "right")})
    assert Reasons(chaining, rules).missing("f", "yes") == ("a", "right")


def test_a_trail_through_5000_findings() -> None:
    names = [f"f{i:04}" for i in range(5000)]
    rules = [rule("start", yes("o"), names[0])]
    rules += [rule(f"r{upper}", Holds(lower), upper) for lower, upper in pairwise(names)]
    chaining = Chaining(order_rules(plain(*names), rules), {})
    reasons = Reasons(chaining, rules)
    assert reasons.missing(names[-1], "yes") == ("o",)
    chaining.answer("o", "yes")
    trail = reasons.trail(names[-1], "yes")
    assert [step.proposition.finding for step in trail] == names[::-1]
