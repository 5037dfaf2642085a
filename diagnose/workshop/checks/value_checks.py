"""Checks of single values: rates, limits nobody has looked up for years, sentences too long, short forms, sources."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from math import fsum

from diagnose.knowledge.yamltext import Node, Scalar, entries_of, flat, value_of
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.model.work import Limit
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Month

# At most this many causes are weighed together; the chance of more than that is left out of every answer.
TOGETHER = 3
MOST_LEFT_OUT = 0.05
# By how much `shares` may change what the causes of a part add up to, as a factor.
MOST_SHIFT = 1.25
MOST_MONTHS = 24


def base_rates(base: CheckedBase) -> Iterator[Doubt]:
    """Rates and shares that do not add up."""
    for assembly in base.assemblies.values():
        yield from _left_out(assembly, base.places.key(assembly.place.file, "components"))
        yield from _shifted(base, assembly.place.file)


def _left_out(assembly: Assembly, place: Place) -> Iterator[Doubt]:
    chance = more_than(TOGETHER, [*(cause.rate for cause in assembly.causes), assembly.unlisted.rate])
    if chance > MOST_LEFT_OUT:
        total = fsum(cause.rate for cause in assembly.causes)
        yield Doubt(
            place,
            f"the base rates of {assembly.type} add up to {total:.2f} causes at once, so more than {TOGETHER} are "
            f"there in {chance:.0%} of all assemblies before anything is seen; no more than {TOGETHER} are weighed "
            "together",
        )


def more_than(count: int, rates: Iterable[float]) -> float:
    """The probability that more than `count` of independent things are there (the Poisson binomial distribution)."""
    exactly = [1.0] + [0.0] * count
    for rate in rates:
        for number in range(count, 0, -1):
            exactly[number] = exactly[number] * (1 - rate) + exactly[number - 1] * rate
        exactly[0] *= 1 - rate
    return 1 - fsum(exactly)


def _shifted(base: CheckedBase, file: str) -> Iterator[Doubt]:
    """Shares of a component that leave its other causes with clearly more or less than the part's file gives them."""
    for component, node in base.places.entries(file, "components"):
        shares = {key.text: float(flat(value)) for key, value in entries_of(node, "shares")}
        usual = _shares_of(base, value_of(node, "part")) if shares else {}
        if not usual or not set(usual) - set(shares):
            continue
        before = fsum(usual.values())
        after = fsum((usual | shares).values())
        if not 1 / MOST_SHIFT <= after / before <= MOST_SHIFT:
            yield Doubt(
                base.places.below(component.place, "shares"),
                f"the shares of '{component.text}' bring the sum over its causes from {before:g} to {after:g}, so each "
                f"cause that is not named here counts {before / after:.2f} times what the part's file means",
            )


def _shares_of(base: CheckedBase, part: Node | None) -> dict[str, float]:
    found = {}
    for file in base.files(f"parts/{part.text}.yaml") if isinstance(part, Scalar) else ():
        for name, cause in base.places.entries(file, "causes"):
            found[name.text] = float(flat(value_of(cause, "share")))
    return found


def stale_limit(base: CheckedBase) -> Iterator[Doubt]:
    """Limits not compared with their source for over two years, or in a month that has not come yet."""
    assembly = next(iter(base.assemblies.values()), None)
    if assembly is None:
        return
    for profile in assembly.profiles:
        for limit in profile.limits:
            message = _age(f"limit '{limit.name}'", limit, base.month)
            if message:
                yield Doubt(_where_checked(base, profile.place.file, "limits", limit.name), message)
    message = _age("gauge accuracy", assembly.gauge_accuracy, base.month)
    for file in base.files("limits/gauge.yaml") if message else ():
        yield Doubt(_where_checked(base, file, "gauge accuracy"), message)


def _age(what: str, limit: Limit, now: Month) -> str:
    year, month = map(int, limit.checked.split("-"))
    age = 12 * (now[0] - year) + now[1] - month
    if age > MOST_MONTHS:
        when = f"{limit.checked}, {age} months ago"
        return f"{what} was last compared with its source in {when}; look whether it still holds"
    return f"{what} was compared with its source in {limit.checked}, which has not come yet" if age < 0 else ""


def _where_checked(base: CheckedBase, file: str, *keys: str) -> Place:
    """Where `checked` stands."""
    return base.places.below(base.places.key(file, *keys), "checked")


MOST_WORDS = 32
_END = re.compile(r"(?<=[.?!;:])\s+")
# Capitals in a row (RP, XT-88), letters with full stops (e.g.), or a full stop that ends no sentence.
_SHORT = re.compile(
    r"\b[A-Z][A-Z0-9]+(?:-[A-Za-z0-9]+)*\b|\b(?:[A-Za-z]\.){2,}|\b[a-z]{1,7}\.(?=\s[a-z])"
    r"|\b(?:approx|ca|max|min|no|temp)\.(?=\s\d)"
)
# Words that are stressed by capitals, not shortened.
_STRESSED = {"NOT", "NO", "NEVER", "ALL", "AND", "OR", "ONLY"}


def long_sentence(base: CheckedBase) -> Iterator[Doubt]:
    """Sentences that are too long to be read on a ladder."""
    for key, text in base.shown_texts():
        longest = max(len(sentence.split()) for sentence in _END.split(text.text.strip()))
        if longest > MOST_WORDS:
            message = f"'{key}' has a sentence of {longest} words; make two of it, of {MOST_WORDS} words at most"
            yield Doubt(text.place, message)


def short_form(base: CheckedBase) -> Iterator[Doubt]:
    """Letters that stand for words and are explained nowhere."""
    explained = _explained(base)
    for key, text in base.shown_texts():
        for form in dict.fromkeys(_SHORT.findall(text.text)):
            if form not in explained and form not in _STRESSED:
                message = f"'{key}' has the short form '{form}', which is not explained; write it out"
                yield Doubt(text.place, message)


def _explained(base: CheckedBase) -> set[str]:
    """The short forms of scales.yaml, the sources' keys, which every sheet resolves, and the types of assembly."""
    found = set(base.assemblies)
    for assembly in base.assemblies.values():
        found |= {row.key for row in assembly.sources}
    for file in base.files("scales.yaml"):
        found |= {key.text for key, _ in base.places.entries(file, "short forms")}
    return found


def source_without_statement(base: CheckedBase) -> Iterator[Doubt]:
    """Cases that name a source and not what it states, or the other way round."""
    for row in base.cases:
        if row.source and not row.states:
            yield Doubt(
                row.place, f"the case cites '{row.source}' but does not say under 'states' what is stated there"
            )
        elif row.states and not row.source:
            yield Doubt(row.place, "the case says what is stated but not under 'source' where")
