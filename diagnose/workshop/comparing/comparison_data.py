"""The comparison of two versions of a rule base as data with stable keys."""

from __future__ import annotations

from typing import Any

from diagnose.model.places import Place
from diagnose.workshop.comparing.case_change import CaseChange, Move
from diagnose.workshop.comparing.case_pairs import UnreadCase
from diagnose.workshop.comparing.compare import Comparison
from diagnose.workshop.comparing.rule_files import KINDS, RuleDifference


def comparison_data(result: Comparison) -> dict[str, Any]:
    """Plain dictionaries and lists; probabilities are rounded to six decimals. Every case is there."""
    return {
        "old": result.old,
        "new": result.new,
        "overlays": list(result.overlays),
        "rules": {kind: [_difference_data(row) for row in result.rules.of_kind(kind)] for kind in KINDS},
        "cases": {
            "total": result.cases.total,
            "worked": result.cases.worked,
            "changed": [_change_data(row) for row in result.cases.changed],
            "new": [
                {"name": row.name, "place": str(row.place), "old_lacks": list(row.lacks)} for row in result.cases.new
            ],
            "not_read": [
                {"name": row.name, "place": str(row.place), "version": row.version, "problems": _lines(row)}
                for row in result.cases.unread
            ],
        },
        "problems": [line for problem in result.problems for line in problem.lines()],
    }


def _lines(row: UnreadCase) -> list[str]:
    return [line for problem in row.problems for line in problem.lines()]


def _difference_data(row: RuleDifference) -> dict[str, Any]:
    return {
        "section": row.section,
        "old": _end(row.old_name, row.old_file, row.old_place),
        "new": _end(row.new_name, row.new_file, row.new_place),
        "how": row.how or None,
        "values": [
            {
                "path": list(value.path),
                "old": value.old,
                "new": value.new,
                "old_place": str(value.old_place) if value.old_place else None,
                "new_place": str(value.new_place) if value.new_place else None,
                "wording": value.wording,
            }
            for value in row.values
        ],
    }


def _end(name: str, file: str, place: Place | None) -> dict[str, str] | None:
    return {"name": name, "file": file, "place": str(place)} if place else None


def _change_data(row: CaseChange) -> dict[str, Any]:
    return {
        "name": row.name,
        "place": str(row.place),
        "assembly": row.type,
        "distance": round(row.distance, 6),
        "little": row.is_little,
        "leader_old": _move_data(row.leader[0]),
        "leader_new": _move_data(row.leader[1]),
        "moves": [_move_data(move) for move in row.moves],
        "readings": [change._asdict() for change in row.readings],
        "findings": [change._asdict() for change in row.findings],
        "first_old": list(row.first[0]),
        "first_new": list(row.first[1]),
        "then_old": list(row.then[0]),
        "then_new": list(row.then[1]),
        "cautions_gone": list(row.cautions_gone),
        "cautions_new": list(row.cautions_new),
    }


def _move_data(move: Move) -> dict[str, Any]:
    old, new = (None if chance is None else round(chance, 6) for chance in (move.old, move.new))
    return {"name": move.name, "old": old, "new": new}
