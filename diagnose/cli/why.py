"""`diagnose why`."""

from __future__ import annotations

from diagnose.cli.explaining import explaining
from diagnose.sheet.explain import Explainer

command = explaining("why", "Why a cause or finding is held: down to observations and limits.", Explainer.why)
