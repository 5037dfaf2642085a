"""`diagnose why`, and what `why-not` shares with it."""

from __future__ import annotations

from collections.abc import Callable

import click

from diagnose.cli.shared import ChosenRules, case_argument, load_case, rules_options, shown, unit_option
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Ranked
from diagnose.diagnosis.worth_showing import ranked_by_name
from diagnose.knowledge.fields import no_such
from diagnose.sheet.blocks import Block
from diagnose.sheet.explain import Explainer

NAMED = "NAME is a cause (check_1.debris), a site condition, a part (then its likeliest cause), or a finding."


def explaining(command: str, about: str, explain: Callable[[Explainer, Ranked], list[Block]]) -> click.Command:
    """A command that explains a finding, or by `explain` a cause, in a case."""

    @click.command(command, help=f"{about}\n\n{NAMED}")
    @case_argument
    @click.argument("name", metavar="NAME")
    @unit_option
    @rules_options
    def explained(case_file: str, name: str, unit: str, chosen: ChosenRules) -> None:
        result = Diagnosis(*load_case(case_file, chosen.library()))
        explainer = Explainer(result, unit)
        row = ranked_by_name(result, name)
        if name in explainer.findings:
            blocks = explainer.finding(name)
        elif row is not None:
            blocks = explain(explainer, row)
        else:
            known = [row.name for rows in (result.assembly.causes, result.assembly.components) for row in rows]
            sentence = f"{result.assembly.type} has no cause, part or finding"
            raise no_such("NAME", sentence, name, [*known, *explainer.findings])
        click.echo(shown("text", blocks), nl=False)

    return explained


command = explaining("why", "Why a cause or finding is held: down to observations and limits.", Explainer.why)
