"""`diagnose bank`, and what other commands take of it."""

from __future__ import annotations

import click

from diagnose.cli.shared import ChosenRules, cases_beside, load_type, rules_options, with_options
from diagnose.diagnosis.library import Library
from diagnose.knowledge.fields import no_such
from diagnose.practice.bank import DIFFICULTIES, Bank, Wanted, known_themes

# `--type`, `--theme` and `--difficulty`, which the command gets as `kinds`, `themes` and `difficulties`.
wanted_options = with_options(
    click.option("--type", "kinds", metavar="TYPE", multiple=True, help="Only this type; may be given twice."),
    click.option("--theme", "themes", metavar="THEME", multiple=True, help="Only about this, as the list calls it."),
    click.option(
        "--difficulty",
        "difficulties",
        type=click.Choice(DIFFICULTIES),
        multiple=True,
        help="By how near the second comes, how many answers there are, and whether some do not count.",
    ),
)


def open_bank(types: Library) -> Bank:
    """The bank of a rule base and of what is laid over it.

    Raises:
        ProblemsFoundError: a case beside the rules is wrong.
    """
    return Bank(types.all(), cases_beside(types))


def wanted_of(types: Library, kinds: tuple[str, ...], themes: tuple[str, ...], difficulties: tuple[str, ...]) -> Wanted:
    """What was asked for.

    Raises:
        ProblemsFoundError: there is no such type or theme.
    """
    known = known_themes(row.assembly for row in types.all().values())
    for theme in themes:
        if theme not in known:
            raise no_such("--theme", "no case is about", theme, known)
    return Wanted(tuple(load_type(kind, types).assembly.type for kind in kinds), themes, difficulties)


@click.command("bank")
@wanted_options
@rules_options
def command(
    kinds: tuple[str, ...], themes: tuple[str, ...], difficulties: tuple[str, ...], chosen: ChosenRules
) -> None:
    """List practice cases for a class: what each is called, how hard it is, its answers, and what it is about.

    They are the cases beside the rules that teach something: at some answer the standings move, none asks what there
    is nothing to ask of, and none repeats another. `diagnose lesson NAME` makes one a lesson; `diagnose exam` makes a
    paper of several. The last column is for who teaches.
    """
    types = chosen.library()
    wanted = wanted_of(types, kinds, themes, difficulties)
    for row in open_bank(types).chosen(wanted):
        count = len(row.result.case.answers)
        click.echo(f"{row.case.name:<13} {row.difficulty:<7} {count:>2} answers  {', '.join(row.themes)}")
