"""A case and a ready assembly -> a diagnosis."""

from __future__ import annotations

from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Case


def examine(ready: Ready, case: Case) -> Diagnosis:
    """Works a case through."""
    return Diagnosis(ready, case)
