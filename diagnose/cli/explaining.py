"""What `why` and `why-not` share."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.shared import library, load_case, terminal_width
from diagnose.diagnosis.result import Diagnosis, ranked_by_name
from diagnose.knowledge.fields import Problems, unknown
from diagnose.model.places import Place, ProblemsFoundError
from diagnose.sheet.blocks import Block
from diagnose.sheet.explain import Explainer
from diagnose.sheet.text import as_text


def explained_page(
    case_file: str, name: str, unit: str, rules: Path | None, no_cache: bool, *, against: bool
) -> list[Block]:
    """The page of `why` or `why-not` for a cause, site condition, part or finding.

    Raises:
        ProblemsFoundError: the case has problems, or the name means nothing for its type.
    """
    ready, case = load_case(case_file, library(rules, no_cache))
    result = Diagnosis(ready, case)
    explainer = Explainer(result, unit)
    if name in explainer.findings:
        return explainer.finding(name)
    row = ranked_by_name(result, name)
    if row is None:
        problems: Problems = []
        known = [cause.name for cause in ready.assembly.causes] + [part.name for part in ready.assembly.components]
        sentence = f"{ready.assembly.type} has no cause, part or finding"
        unknown(problems, Place("NAME"), sentence, name, [*known, *explainer.findings])
        raise ProblemsFoundError(problems)
    return explainer.why_not(row) if against else explainer.why(row)


def show_page(blocks: list[Block]) -> None:
    """Prints a page as text as wide as the terminal, 60 to 80 columns."""
    click.echo(as_text(blocks, terminal_width()), nl=False)
