"""Reading the `findings` and `rules` of a rule file."""

from __future__ import annotations

from diagnose.knowledge.context import Context, local_name
from diagnose.knowledge.fields import Fields, as_items, as_number, as_text, complain, unknown
from diagnose.knowledge.premises import NOTHING, read_premises
from diagnose.knowledge.words import expected
from diagnose.knowledge.yamltext import Mapping, Node, Scalar
from diagnose.model.causes import PLAIN_GRADES, Finding, Reason
from diagnose.model.foreign import cut
from diagnose.model.premises import Rule

MOST_DECIBANS = 30.0

Rows = list[tuple[Finding, Fields]]


def declare_findings(file: Fields, context: Context) -> Rows:
    """Reads title and grades of every finding and makes its name known."""
    rows: Rows = []
    for key, node in file.entries("findings"):
        name = local_name(key, "findings", context.problems)
        fields = Fields(node, f"finding '{name}'", context.problems)
        grades, says = _grades(fields, context)
        row = Finding(name, fields.text("title"), grades, says, place=key.place)
        row = row._replace(sources=context.sources(fields))
        if context.declare(name, key.place):
            context.vocabulary.grades[name] = grades
            rows.append((row, fields))
    return rows


def read_finding(row: Finding, fields: Fields, sights: frozenset[str], context: Context) -> Finding:
    """Reads what shows the finding. `sights` are the causes of the file, where it describes a part."""
    reasons = tuple(_reason(k, v, row, fields, context) for k, v in fields.entries("reasons"))
    hidden = tuple(_hider(k, v, fields, context) for k, v in fields.entries("hidden by"))
    weighs = tuple(_weight(k, v, fields, context) for k, v in fields.entries("weighs"))
    weighs_on = _components(fields, context)
    background = fields.need("background") if reasons else fields.get("background")
    names = {name for reason in reasons for name in reason.all_of}
    if names & sights and names - sights:
        message = f"{fields.what}: its reasons mix causes and failure modes; use one kind"
        complain(context.problems, fields.place, message)
    _can_be_hidden(fields, bool(reasons), bool(names & sights), sights)
    if weighs_on and not weighs:
        complain(context.problems, fields.place, f"{fields.what}: 'weighs on' goes with 'weighs'")
    if weighs and reasons:
        complain(context.problems, fields.place, f"{fields.what}: 'weighs' and 'reasons' exclude each other")
    fields.done()
    return row._replace(
        background=_grade_chances(background, row.grades, f"{fields.what}, background", context) if background else (),
        reasons=reasons,
        hidden_by=hidden,
        sight=bool(names & sights),
        weighs=weighs,
        weighs_on=weighs_on,
    )


def _can_be_hidden(fields: Fields, has_reasons: bool, is_sight: bool, sights: frozenset[str]) -> None:
    """Only what is seen from outside can be hidden, and only by a failure mode or a site condition."""
    for key, _ in fields.entries("hidden by"):
        if is_sight:
            message = f"{fields.what}: what is seen on the opened part (its reasons are causes) cannot be hidden"
            complain(fields.problems, key.place, message)
        elif key.text in sights:
            message = f"{fields.what}, hidden by: '{key.text}' is a cause; name the failure mode that it brings about"
            complain(fields.problems, key.place, message)
    if not has_reasons and not fields.misspells("reasons"):
        for idle in filter(fields.has, ("hidden by", "background")):
            complain(fields.problems, fields.at(idle), f"{fields.what}: '{idle}' says nothing without 'reasons'")


def _components(fields: Fields, context: Context) -> tuple[str, ...]:
    node = fields.get("weighs on")
    if node is None:
        return ()
    what = f"{fields.what}, weighs on"
    return context.named(as_items(node, what, context.problems), what, context.vocabulary.components)


def _grades(fields: Fields, context: Context) -> tuple[tuple[str, ...], tuple[str, ...]]:
    node = fields.need("says")
    if not isinstance(node, Mapping):
        says = as_text(node, f"{fields.what}, says", context.problems) if node else ""
        return PLAIN_GRADES, (fields.text("says otherwise", "") or f"Not so: {says}", says)
    if len(node.entries) < 2:
        complain(context.problems, node.place, f"{fields.what}, says: at least two grades are needed")
    names = tuple(local_name(key, f"{fields.what}, says", context.problems) for key, _ in node.entries)
    return names, tuple(as_text(value, f"{fields.what}, says", context.problems) for _, value in node.entries)


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


def _reason(key: Scalar, node: Node, row: Finding, fields: Fields, context: Context) -> Reason:
    all_of = tuple(part.strip() for part in key.text.split(" and "))
    for name in all_of:
        _known_reason(name, key, f"{fields.what}, reasons", context)
    return Reason(all_of, _grade_chances(node, row.grades, f"{fields.what}, {cut(key.text)}", context))


def _known_reason(name: str, key: Scalar, what: str, context: Context) -> None:
    if name not in context.vocabulary.reasons:
        sentence = f"{what}: there is no failure mode, cause or site condition"
        unknown(context.problems, key.place, sentence, name, context.vocabulary.reasons)


def _hider(key: Scalar, node: Node, fields: Fields, context: Context) -> tuple[str, float]:
    _known_reason(key.text, key, f"{fields.what}, hidden by", context)
    return key.text, context.probability(node, f"{fields.what}, hidden by {cut(key.text)}")


def _weight(key: Scalar, node: Node, fields: Fields, context: Context) -> tuple[str, float]:
    what = f"{fields.what}, weighs"
    if key.text not in context.settings.kinds:
        unknown(context.problems, key.place, f"{what}: no kind of cause", key.text, context.settings.kinds)
    return key.text, as_number(node, f"{what}, {cut(key.text)}", context.problems, -MOST_DECIBANS, MOST_DECIBANS)


def read_rules(file: Fields, context: Context) -> tuple[Rule, ...]:
    """Reads the rules; every name they use must be known by now."""
    return tuple(_rule(key, node, context) for key, node in file.entries("rules"))


def _rule(key: Scalar, node: Node, context: Context) -> Rule:
    name = local_name(key, "rules", context.problems)
    context.declare(f"rule {name}", key.place)
    fields = Fields(node, f"rule '{name}'", context.problems)
    premises = fields.need("premises")
    finding, grade = _conclusion(fields, context)
    rule = Rule(
        name=name,
        premise=read_premises(premises, fields.what, context) if premises is not None else NOTHING,
        finding=finding,
        grade=grade,
        reason=fields.text("reason"),
        sources=context.sources(fields),
        confused_with=fields.text("easily confused with", ""),
        disputed=fields.text("disputed", ""),
        place=key.place,
    )
    fields.done()
    return rule


def _conclusion(fields: Fields, context: Context) -> tuple[str, str]:
    """`name`, or `name is grade`."""
    node = fields.need("finding")
    if node is None:
        return "", ""
    text = as_text(node, f"{fields.what}, finding", context.problems)
    name, _, grade = (part.strip() for part in text.partition(" is "))
    grades = context.vocabulary.grades.get(name)
    if grades is None:
        if name in context.vocabulary.reasons:
            kind = "a failure mode" if "." in name else "a failure mode, cause or site condition"
            message = f"{fields.what}: '{cut(name)}' is {kind}; a rule concludes a finding, which has it as a reason"
            complain(context.problems, node.place, message)
            return "", ""
        unknown(context.problems, node.place, f"{fields.what}: there is no finding", name, context.vocabulary.grades)
        return "", ""
    if not grade and grades == PLAIN_GRADES:
        return name, "yes"
    if grade not in grades:
        wanted = expected(grade, grades)
        complain(context.problems, node.place, f"{fields.what}: write '{name} is GRADE'; {wanted}")
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
