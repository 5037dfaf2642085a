"""Base rates that do not add up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import fsum

from diagnose.knowledge.yamltext import Mapping, Node, Scalar
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck

# At most this many causes are weighed together; the chance of more than that is left out of every answer.
TOGETHER = 3
MOST_LEFT_OUT = 0.05
# By how much `shares` may change what the causes of a part add up to, as a factor.
MOST_SHIFT = 1.25


def _find(base: CheckedBase) -> Iterator[Doubt]:
    for file in base.files():
        keys = {key.text: node for key, node in base.places.entries(file)} if "assemblies" in file else {}
        kind = keys.get("assembly")
        assembly = base.assemblies.get(kind.text) if isinstance(kind, Scalar) else None
        if assembly is not None:
            yield from _left_out(assembly, base.places.key(file, "components"))
            yield from _shifted(base, file)


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
        keys = _keys(node)
        shares = {name: _number(value) for name, value in _keys(keys.get("shares")).items()}
        usual = _shares_of(base, keys.get("part")) if shares else {}
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
            found[name.text] = _number(_keys(cause).get("share"))
    return found


def _keys(node: Node | None) -> dict[str, Node]:
    return {key.text: value for key, value in node.entries} if isinstance(node, Mapping) else {}


def _number(node: Node | None) -> float:
    """A share; the loader has seen to it that it is a number."""
    return float(node.text) if isinstance(node, Scalar) else 0.0


CHECK = RuleCheck(
    name="base-rates",
    about="Base rates that do not add up.",
    means="""
A component's `rate` is the chance that it has a fault at all, and the shares of its causes only divide it, so
within a part the rates add up by themselves. Two sums can still be wrong:

- all rates of a type together, site conditions among them: if they make more than three causes at once likely
  (5 %) before anything was seen, each answer leaves that much out, since no more than three causes are weighed
  together;
- the `shares` of a component that replace those of the part's file: if their sum is clearly another (by a
  quarter), the causes that are *not* named change their meaning as well.
""",
    matters="""
The base rates decide between causes that the readings do not separate. A sum that is off shifts every ranking a
little and none visibly.
""",
    example=Example(
        "assemblies/pvb.yaml",
        """\
components:
  spare_check:
    part: check_valve
    title: spare check valve
    rate: 0.01
    shares: {debris: 450}
    source: estimate
""",
        "the shares of 'spare_check' bring the sum over its causes from 138.4 to 543.4, so each cause that is not "
        "named here counts 0.25 times what the part's file means",
    ),
    mend="""
Give rates as "in how many of a hundred assemblies that somebody looks at", and shares on the scale of the
part's file (its head comment names it): what one cause gains others lose. If all shares are meant to be new,
name all causes.
""",
    find=_find,
)
