"""`diagnose why-not`."""

from __future__ import annotations

from diagnose.cli.why import explaining
from diagnose.sheet.explain import Explainer

ABOUT = "What speaks against a cause, what it would show, and what would decide."
command = explaining("why-not", ABOUT, Explainer.why_not)
