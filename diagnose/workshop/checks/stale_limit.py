"""A limit that has not been compared with its source for over two years."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.model.places import Place
from diagnose.model.work import Limit
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, Month, RuleCheck

MOST_MONTHS = 24


def _find(base: CheckedBase) -> Iterator[Doubt]:
    assembly = next(iter(base.assemblies.values()), None)
    if assembly is None:
        return
    for profile in assembly.profiles:
        for limit in profile.limits:
            message = _message(f"limit '{limit.name}'", limit, base.month)
            if message:
                yield Doubt(_at(base, profile.place.file, "limits", limit.name), message)
    message = _message("gauge accuracy", assembly.gauge_accuracy, base.month)
    for file in base.files("limits/gauge.yaml") if message else ():
        yield Doubt(_at(base, file, "gauge accuracy"), message)


def _message(what: str, limit: Limit, now: Month) -> str:
    year, month = map(int, limit.checked.split("-"))
    age = 12 * (now[0] - year) + now[1] - month
    if age > MOST_MONTHS:
        when = f"{limit.checked}, {age} months ago"
        return f"{what} was last compared with its source in {when}; look whether it still holds"
    return f"{what} was compared with its source in {limit.checked}, which has not come yet" if age < 0 else ""


def _at(base: CheckedBase, file: str, *keys: str) -> Place:
    """Where `checked` stands."""
    entries = {key.text: value for key, value in base.places.entries(file, *keys)}
    checked = entries.get("checked")
    return checked.place if checked else base.places.key(file, *keys)


CHECK = RuleCheck(
    name="stale-limit",
    about="A limit not compared with its source for over two years.",
    means="""
The month under `checked` lies more than 24 months back, or has not come yet. `--today` says as of which day to
judge; today if it is left out.
""",
    matters="""
Standards and local codes change. A limit that was right once passes an assembly that must fail, or fails one
that is sound, and nothing else in the rule base would show it.
""",
    example=Example(
        "limits/my_town.yaml",
        """\
profile: my_town
title: City of my town
explains: The values on the form of an invented town.
limits:
  first_check_minimum:
    at least: 5.0 psid
    source: estimate
    checked: 2019-05
""",
        "limit 'first_check_minimum' was last compared with its source in 2019-05, 90 months ago; look whether it "
        "still holds",
    ),
    mend="""
Take the source in its present edition, compare the value, and write the month in which you did. If the value
changed, change the limit, or make a new profile where both are in use, and run the cases: those on either side
of the limit show what changes. Do not move the month without looking.
""",
    find=_find,
)
