"""`diagnose rules`: the workshop of those who write rules, one module a command."""

from __future__ import annotations

import click

from diagnose.cli.main import group_of

# Command -> the sentence that the list of commands shows.
COMMANDS = {
    "check": "Every error and every doubtful place of a rule base.",
    "try": "Run the cases beside the rules; what came out otherwise, and why.",
    "coverage": "Which rules, answers and limits the cases exercise, on which side.",
    "compare": "Two versions of a rule base: what changed, and what that does to each case.",
    "show": "Everything about one rule, finding, cause, part or limit.",
    "list": "The names of what the rule base holds.",
    "overlay": "Your own rules beside the shipped ones.",
    "schemas": "JSON Schemas with which an editor completes and checks rule files.",
}


@click.group("rules", cls=group_of("diagnose.cli.rules", COMMANDS))
def command() -> None:
    """For who writes rules: check, try, compare, look up, add your own."""
