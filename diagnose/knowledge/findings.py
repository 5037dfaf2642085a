"""Reading premises, and the `findings` and `rules` of a rule file."""

from __future__ import annotations

from collections.abc import Callable

from diagnose.knowledge.context import Context
from diagnose.knowledge.fields import Fields, as_choice, as_entries, as_items, as_text, complain, local_name, unknown
from diagnose.knowledge.piece import own_name
from diagnose.knowledge.quantities import parse_pressure
from diagnose.knowledge.words import expected
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence
from diagnose.model.causes import PLAIN_GRADES, Finding, Reason
from diagnose.model.foreign import cut
from diagnose.model.premises import All, Answered, AnyOf, Bound, Holds, Measured, Not, Premise, Relation, Rule

RELATIONS: tuple[Relation, ...] = ("at least", "above", "at most", "below")
NOTHING = All(())


def read_premises(node: Node, what: str, context: Context) -> Premise:
    """A mapping of premises, all of which must hold. Problems are noted; the result is then of no use."""
    entries = as_entries(node, what, context.problems)
    if not entries and isinstance(node, Mapping):
        complain(context.problems, node.place, f"{what}: at least one premise is needed")
    parts = tuple(_entry(key, value, what, context) for key, value in entries)
    return parts[0] if len(parts) == 1 else All(parts)


def _entry(key: Scalar, value: Node, what: str, context: Context) -> Premise:
    join = _JOINS.get(key.text)
    if join is not None:
        return join(value, f"{what}, {key.text}", context)
    words = context.vocabulary
    if key.text in words.readings:
        return _reading(key, value, what, context)
    if key.text in words.answers:
        return Answered(key.text, _choices(key, value, words.answers[key.text], what, context))
    if key.text in words.grades:
        return Holds(key.text, _choices(key, value, words.grades[key.text], what, context))
    known = words.names() | set(_JOINS)
    unknown(context.problems, key.place, f"{what}: there is no observation or finding", key.text, known)
    return NOTHING


def _choices(key: Scalar, value: Node, known: tuple[str, ...], what: str, context: Context) -> tuple[str, ...]:
    items = value.items if isinstance(value, Sequence) else (value,)
    if not items:
        complain(context.problems, value.place, f"{what}, {key.text}: the list is empty")
    return tuple(as_choice(item, f"{what}, {key.text}", context.problems, known) for item in items)


def _parts(value: Node, what: str, context: Context) -> tuple[Premise, ...]:
    items = as_items(value, what, context.problems)
    if isinstance(value, Sequence) and not items:
        complain(context.problems, value.place, f"{what}: the list is empty")
    return tuple(read_premises(item, what, context) for item in items)


_JOINS: dict[str, Callable[[Node, str, Context], Premise]] = {
    "all": lambda value, what, context: All(_parts(value, what, context)),
    "any": lambda value, what, context: AnyOf(_parts(value, what, context)),
    "not": lambda value, what, context: Not(read_premises(value, what, context)),
}


def _reading(key: Scalar, value: Node, what: str, context: Context) -> Premise:
    where = f"{what}, {key.text}"
    if isinstance(value, Scalar):
        message = f"{where}: a reading is compared, as in {{below: limit NAME}} or {{at least: 2.0 psid}}"
        complain(context.problems, value.place, message)
        return NOTHING
    parts: list[Premise] = []
    entries = as_entries(value, where, context.problems)
    for relation, bound in entries:
        parts += _comparisons(key.text, relation, bound, where, context)
    if not entries and isinstance(value, Mapping):
        complain(context.problems, value.place, f"{where}: at least one comparison is needed")
    return parts[0] if len(parts) == 1 else All(tuple(parts))


def _comparisons(name: str, relation: Scalar, bound: Node, where: str, context: Context) -> list[Premise]:
    for known in RELATIONS:
        if relation.text == known:
            return [Measured(name, known, read_bound(bound, f"{where}, {known}", context))]
    if relation.text == "between":
        return _between(name, bound, f"{where}, between", context)
    unknown(context.problems, relation.place, f"{where}: no comparison", relation.text, [*RELATIONS, "between"])
    return []


def _between(name: str, node: Node, where: str, context: Context) -> list[Premise]:
    if not isinstance(node, Sequence) or len(node.items) != 2:
        complain(context.problems, node.place, f"{where}: expected two bounds, as in [1.0 psid, 3.0 psid]")
        return []
    low, high = (read_bound(item, where, context) for item in node.items)
    if not low.limits and not high.limits and low.amount >= high.amount:
        complain(context.problems, node.place, f"{where}: the first bound must be the smaller one")
    return [Measured(name, "at least", low), Measured(name, "below", high)]


def read_bound(node: Node, what: str, context: Context) -> Bound:
    """`2.0 psid`, `limit NAME`, or several joined with ` plus `."""
    amount, limits = 0.0, []
    for term in as_text(node, what, context.problems).split(" plus "):
        if term.startswith("limit "):
            limits.append(_limit(node, term.removeprefix("limit ").strip(), what, context))
        elif term:
            try:
                amount += parse_pressure(term)
            except ValueError as error:
                complain(context.problems, node.place, f"{what}: {error}, or 'limit NAME'")
    return Bound(round(amount, 6), tuple(limits))


def _limit(node: Node, name: str, what: str, context: Context) -> str:
    if name not in context.vocabulary.limits:
        unknown(context.problems, node.place, f"{what}: no profile has a limit", name, context.vocabulary.limits)
    return name


Rows = list[tuple[Finding, Fields]]


def declare_findings(file: Fields, context: Context) -> Rows:
    """Reads title and grades of every finding and makes its name known."""
    rows: Rows = []
    for key, fields in file.things("findings"):
        grades, says = _grades(fields)
        row = Finding(key.text, fields["title"], grades, says, sources=fields["source"], place=key.place)
        if context.declare(row.name, key.place):
            context.vocabulary.grades[row.name] = grades
            rows.append((row, fields))
    return rows


def read_finding(row: Finding, fields: Fields, context: Context) -> Finding:
    """Reads what shows the finding. One that has causes of its file as reasons is a sight."""
    reasons = tuple(
        Reason(
            tuple(part.strip() for part in key.text.split(" and ")),
            _grade_chances(node, row.grades, f"{fields.what}, {cut(key.text)}", context),
        )
        for key, node in fields["reasons"]
    )
    background = fields.get("background")
    sights = context.vocabulary.causes - context.vocabulary.modes
    names = {name for reason in reasons for name in reason.all_of}
    if names & sights and names - sights:
        rows = zip(fields["reasons"], reasons, strict=True)
        cause = next(key for (key, _), reason in rows if sights.intersection(reason.all_of))
        fields.miss("its reasons mix causes and failure modes; use one kind", place=cause.place)
        fields.problems[-1] = fields.problems[-1]._replace(lacks=own_name(cause.text))
    _can_be_hidden(fields, bool(names & sights), sights)
    return row._replace(
        background=_grade_chances(background, row.grades, f"{fields.what}, background", context) if background else (),
        reasons=reasons,
        hidden_by=tuple((key.text, chance) for key, chance in fields["hidden by"]),
        sight=bool(names & sights),
        weighs=tuple((key.text, decibans) for key, decibans in fields["weighs"]),
        weighs_on=fields["weighs on"],
        ends_the_work=fields["ends the work"],
        reason_otherwise=fields["reason otherwise"],
    )


def _can_be_hidden(fields: Fields, is_sight: bool, sights: set[str]) -> None:
    """Only what is seen from outside can be hidden, and only by a failure mode or a site condition."""
    for key, _ in fields["hidden by"]:
        if is_sight:
            fields.miss("what is seen on the opened part (its reasons are causes) cannot be hidden", place=key.place)
        elif key.text in sights:
            message = f"'{key.text}' is a cause; name the failure mode that it brings about"
            fields.miss(message, "hidden by", key.place)


def _grades(fields: Fields) -> tuple[tuple[str, ...], tuple[str, ...]]:
    node, what = fields.get("says"), f"{fields.what}, says"
    if not isinstance(node, Mapping):
        says = as_text(node, what, fields.problems) if node else ""
        return PLAIN_GRADES, (fields["says otherwise"] or f"Not so: {says}", says)
    if len(node.entries) < 2:
        fields.miss("at least two grades are needed", "says")
    names = tuple(local_name(key, what, fields.problems) for key, _ in node.entries)
    return names, tuple(as_text(value, what, fields.problems) for _, value in node.entries)


def _grade_chances(node: Node, grades: tuple[str, ...], what: str, context: Context) -> tuple[float, ...]:
    """P(this grade or a worse one) for each grade above the lowest."""
    if not isinstance(node, Mapping):
        if len(grades) == 2:
            return (context.probability(node, what),)
        message = f"{what}: write a probability for each grade, as in {{{grades[-1] if grades else 'GRADE'}: 0.1}}"
        complain(context.problems, node.place, message)
        return (0.5,) * (len(grades) - 1)
    if not node.entries:
        complain(context.problems, node.place, f"{what}: at least one grade is needed")
    given: dict[str, float] = {}
    for key, value in node.entries:
        if key.text in grades[1:]:
            given[key.text] = context.probability(value, f"{what}, {key.text}")
        else:
            unknown(context.problems, key.place, f"{what}: above the lowest there is no grade", key.text, grades[1:])
    return _filled(given, grades, node, what, context)


def _filled(
    given: dict[str, float], grades: tuple[str, ...], node: Node, what: str, context: Context
) -> tuple[float, ...]:
    chances: list[float] = []
    worse = 0.0
    for grade in reversed(grades[1:]):
        chance = given.get(grade, worse)
        if chance < worse:
            message = f"{what}: '{grade}' counts this grade or worse, so it cannot be less likely than a worse grade"
            complain(context.problems, node.place, message)
        worse = max(chance, worse)
        chances.append(worse)
    return tuple(reversed(chances))


def read_rules(file: Fields, context: Context) -> tuple[Rule, ...]:
    """Reads the rules; every name they use must be known by now."""
    return tuple(_rule(key, fields, context) for key, fields in file.things("rules"))


def _rule(key: Scalar, fields: Fields, context: Context) -> Rule:
    context.declare(f"rule {key.text}", key.place)
    premises = fields.get("premises")
    finding, grade = _conclusion(fields, context)
    premise = read_premises(premises, fields.what, context) if premises is not None else NOTHING
    return fields.into(Rule, key, premise=premise, finding=finding, grade=grade)


def _conclusion(fields: Fields, context: Context) -> tuple[str, str]:
    """`name`, or `name is grade`."""
    node = fields.get("finding")
    if node is None:
        return "", ""
    text = as_text(node, f"{fields.what}, finding", context.problems)
    name, _, grade = (part.strip() for part in text.partition(" is "))
    grades = context.vocabulary.grades.get(name)
    if grades is None:
        if name in context.vocabulary.reasons:
            kind = "a failure mode" if "." in name else "a failure mode, cause or site condition"
            fields.miss(
                f"'{cut(name)}' is {kind}; a rule concludes a finding, which has it as a reason", place=node.place
            )
            return "", ""
        unknown(context.problems, node.place, f"{fields.what}: there is no finding", name, context.vocabulary.grades)
        return "", ""
    if not grade and grades == PLAIN_GRADES:
        return name, "yes"
    if grade not in grades:
        wrong = f"'{name}' has no grade '{cut(grade)}'" if grade else f"write '{name} is GRADE'"
        complain(context.problems, node.place, f"{fields.what}: {wrong}; {expected(grade, grades)}")
        return "", ""
    return name, grade


def rule_less_findings(findings: Rows, rules: tuple[Rule, ...], context: Context) -> None:
    """A grade that no rule concludes can never be found: a problem."""
    if not all(rule.finding for rule in rules):
        return  # a rule whose conclusion could not be read may be the one
    concluded = {(rule.finding, rule.grade) for rule in rules}
    for row, _ in findings:
        for grade in row.grades[1:]:
            if (row.name, grade) not in concluded:
                shown = row.name if row.grades == PLAIN_GRADES else f"{row.name} is {grade}"
                complain(context.problems, context.vocabulary.places[row.name], f"no rule concludes '{shown}'")
                context.problems[-1] = context.problems[-1]._replace(lacks=shown)  # rules may be what is hidden
