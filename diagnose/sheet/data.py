"""A diagnosis as data with stable keys; docs/result.schema.json describes it."""

from __future__ import annotations

import json
from typing import Any

from diagnose import __version__
from diagnose.diagnosis.looking import Weighed
from diagnose.diagnosis.outcomes import OpenQuestion
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found, Ranked, Weight
from diagnose.diagnosis.verdicts import Verdict
from diagnose.diagnosis.work import Work
from diagnose.plan.repairs import Option, Plan
from diagnose.sheet.jobs import steps_for

FIGURES = 6
MOST_TOGETHER = 12


def as_json(result: Diagnosis) -> str:
    """JSON text, indented, keys in the order of the schema."""
    return json.dumps(as_data(result), indent=2, ensure_ascii=False)


def as_data(result: Diagnosis) -> dict[str, Any]:
    """Plain dictionaries and lists. Pressures are psi; probabilities are rounded to six decimals."""
    case = result.case
    return {
        "made_by": _made_by(result),
        "case": {
            "assembly": case.type,
            "title": case.title,
            "size_in": case.size or None,
            "profile": result.profile.name,
            "notes": case.notes,
            "state": case.state or None,
            "parts": list(case.parts),
            "observations": {name: answer.written for name, answer in case.answers},
        },
        "answer": result.answer,
        "causes": [_cause(row) for row in result.causes],
        "site_conditions": [_cause(row) for row in result.conditions],
        "nothing_wrong": _rounded(result.nothing_wrong),
        "unlisted": _rounded(result.unlisted),
        "prior_left_out": _rounded(result.left_out),
        "parts": [
            {
                "name": row.name,
                "title": row.title,
                "probability": _rounded(row.probability),
                "failure_modes": [
                    {"name": name, "text": text, "probability": _rounded(chance)} for name, text, chance in row.modes
                ],
                "weights": [_weight(weight) for weight in row.weights],
            }
            for row in result.parts
        ],
        "together": [
            {"causes": list(names), "probability": _rounded(chance)}
            for names, chance in result.combinations[:MOST_TOGETHER]
        ],
        "readings": [_reading(row) for row in result.verdicts],
        "not_counted": [
            {"observation": row.observation.name, "because": row.gate.kind, "findings": list(row.because)}
            for row in result.set_aside
        ],
        "findings": [_found(row) for row in result.found],
        "open_questions": [_question(row) for row in result.questions],
        "to_do": {
            "cautions": [{"name": row.name, "text": row.text} for row in result.cautions],
            **_options(result, result.plan),
            "next_check": _weighed(result.advice.check) if result.advice.check else None,
            "checks": [_weighed(row) for row in result.advice.weighed if row.saves is not None],
            **plan_data(result.plan),
            "retest": result.assembly.retest,
        },
    }


def work_as_json(result: Diagnosis, work: Work) -> str:
    """A plan on the terms of the person on site, as JSON."""
    hurry, advice, wishes = work.hurry, work.advice, work.wishes
    check = advice.check if advice else hurry and hurry.check
    data = {
        "made_by": _made_by(result),
        "answer": result.answer,
        "terms": {
            "minutes": work.minutes,
            "have": None if wishes.have is None else sorted(wishes.have),
            "state": wishes.state or None,
            "not_into": sorted(wishes.closed),
            "second_trip": wishes.second_trip,
            "parts_count": wishes.parts_count,
        },
        "cautions": [{"name": row.name, "text": row.text} for row in work.cautions],
        "next_check": _weighed(check) if check else None,
        "check_raises_chance_by": _rounded(hurry.gains) if hurry and check else None,
        "clock_minutes_at_most": round(hurry.timed.minutes, 1) if hurry else None,
        "chance_to_pass": _rounded(hurry.timed.passes if hurry else work.plan.order.passes()),
        **_options(result.in_state(wishes.state, wishes.parts), work.plan),
        **plan_data(work.plan),
    }
    return json.dumps(data, indent=2, ensure_ascii=False)


def _made_by(result: Diagnosis) -> dict[str, Any]:
    return {
        "version": __version__,
        "rule_base": result.version,
        "rule_base_version": result.ready.edition or None,
        "overlay": result.ready.overlay or None,
    }


def plan_data(plan: Plan) -> dict[str, Any]:
    """The order of repairs and the parts to bring."""
    order = plan.order
    return {
        "order": [
            {
                "repair": step.attempt.name if step.attempt.cures else None,
                "in_one_go": step.attempt.at_once,
                "chance_of_coming_to_it": _rounded(step.comes_to_it),
                "minutes": round(step.minutes - step.attempt.parts_minutes, 1),
                "parts_as_minutes": round(step.attempt.parts_minutes, 1),
                "chance_passed": _rounded(step.passes),
            }
            for step in order.steps
        ],
        "expected_minutes": round(plan.clock_minutes, 1),
        "expected_parts_minutes": round(plan.parts_minutes, 1),
        "parts": [{"part": row.part, "chance": _rounded(row.chance), "bring": row.bring} for row in plan.load.parts],
        "chance_of_second_trip": _rounded(plan.load.second_trip),
    }


def _weighed(row: Weighed) -> dict[str, Any]:
    return {
        "observation": row.observation.name,
        "minutes": row.observation.minutes,
        "minutes_to_state": row.reaching,
        "saves_minutes": None if row.saves is None else round(row.saves, 1),
        "separates": list(row.separates),
        "takes_back_readings": row.takes_back,
    }


def _rounded(number: float) -> float:
    return round(number, FIGURES)


def _cause(row: Ranked) -> dict[str, Any]:
    return {
        "name": row.cause.name,
        "part": row.cause.component or None,
        "text": row.cause.text,
        "probability": _rounded(row.probability),
        "tied_with": list(row.tied_with),
        "brings": dict(row.cause.brings),
        "base_rate": _rounded(row.cause.rate),
        "sources": list(row.cause.sources),
        "weights": [_weight(weight) for weight in row.weights],
    }


def _weight(row: Weight) -> dict[str, Any]:
    return {"finding": row.finding, "factor": _rounded(row.factor), "decibans": round(row.decibans, 3)}


def _reading(row: Verdict) -> dict[str, Any]:
    limit = row.limit
    return {
        "observation": row.observation.name,
        "psi": row.value,
        "limit": None
        if limit is None
        else {"name": limit.name, "relation": limit.relation, "psi": limit.amount, "sources": list(limit.sources)},
        "outcome": row.outcome,
        "near_limit": row.near,
        "chance_true_value_fails": None if row.fails is None else _rounded(row.fails),
        "judged_otherwise_by": list(row.elsewhere),
    }


def _found(row: Found) -> dict[str, Any]:
    return {
        "name": row.finding.name,
        "grade": row.grade,
        "says": row.says,
        "abnormal": row.abnormal,
        "rules": [
            {
                "name": rule.name,
                "reason": rule.reason,
                "sources": list(rule.sources),
                "disputed": rule.disputed or None,
            }
            for rule in row.rules
        ],
    }


def _question(row: OpenQuestion) -> dict[str, Any]:
    observation = row.observation
    return {
        "observation": observation.name,
        "question": observation.question,
        "how": observation.how,
        "answers": [name for name, _ in observation.answers] or None,
        "unit": observation.unit or None,
        "state": observation.state,
        "minutes": observation.minutes,
        "bits": _rounded(row.bits),
    }


def _options(result: Diagnosis, plan: Plan) -> dict[str, Any]:
    return {key: [_option(result, row) for row in rows] for key, rows in (("first", plan.first), ("then", plan.then))}


def _option(result: Diagnosis, row: Option) -> dict[str, Any]:
    return {
        "name": row.repair.name,
        "title": row.repair.title,
        "chance": _rounded(row.chance),
        "minutes": round(row.minutes, 1),
        "in_one_go": row.at_once,
        "states": list(row.repair.states),
        "steps": list(steps_for(result, row.repair)),
        "parts": list(row.repair.parts),
        "cautions": list(row.repair.cautions),
    }
