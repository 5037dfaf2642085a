"""Small random networks about nothing in particular, and evidence for them."""

from __future__ import annotations

from fractions import Fraction
from typing import Any, NamedTuple

from hypothesis import strategies as st

from diagnose.belief.network import Network, build_network
from diagnose.model.causes import PLAIN_GRADES, Cause, Finding, Mode, Reason, Unlisted

GRADES = (PLAIN_GRADES, ("none", "some", "much"), ("good", "fair", "poor", "bad"))
KINDS = ("dirt", "wear", "site")


class World(NamedTuple):
    """The types that a network is built from, with evidence about it."""

    causes: tuple[Cause, ...]
    modes: tuple[Mode, ...]
    findings: tuple[Finding, ...]
    unlisted: Unlisted
    evidence: dict[str, tuple[int, ...]]

    def network(self) -> Network:
        return build_network(self.causes, self.modes, self.findings, self.unlisted)


def exact(world: World) -> World:
    """The same world with every probability as the fraction that its float is, so that enumeration cannot round."""

    def fractions(value: Any) -> Any:
        if isinstance(value, tuple):
            parts = [fractions(item) for item in value]
            return type(value)(*parts) if hasattr(value, "_fields") else tuple(parts)
        return Fraction(value) if isinstance(value, float) else value

    return world._replace(
        causes=fractions(world.causes),
        findings=fractions(world.findings),
        unlisted=fractions(world.unlisted),
    )


def cause(name: str, component: str, rate: float, brings: dict[str, float], kind: str = "wear") -> Cause:
    return Cause(name, component, "", kind, rate, tuple(brings.items()))


def plain(name: str, background: float, reasons: dict[str, float], **more: Any) -> Finding:
    """A finding with the grades no and yes; a reason "x and y" is a combination."""
    told = tuple(Reason(tuple(names.split(" and ")), (chance,)) for names, chance in reasons.items())
    return Finding(name, name, PLAIN_GRADES, PLAIN_GRADES, (background,), told, **more)


def two_layers(rates: dict[str, float], findings: list[Finding], unlisted: float = 0.0) -> Network:
    """A network in which every cause is its own mode, as site conditions are."""
    causes = [cause(name, "", rate, {}) for name, rate in rates.items()]
    return build_network(causes, (), findings, Unlisted("", unlisted, 0.1))


chances = st.sampled_from([0.01, 0.1, 0.3, 0.5, 0.8, 0.95])
rates = st.sampled_from([1e-4, 0.003, 0.05, 0.3])
backgrounds = st.sampled_from([1e-6, 0.002, 0.1])


@st.composite
def worlds(draw: st.DrawFn, biggest: int = 3) -> World:
    """At most 2 + 2 components of `biggest` causes together with one or two site conditions."""
    causes: list[Cause] = []
    modes: list[Mode] = []
    for component in ("pump", "lamp", "belt")[: draw(st.integers(1, 3))]:
        own = [Mode(f"{component}.m{i}", component, "") for i in range(draw(st.integers(0, 2)))]
        modes += own
        causes += [_cause(draw, f"{component}.c{i}", component, modes) for i in range(draw(st.integers(1, biggest)))]
    causes += [_cause(draw, f"weather{i}", "", []) for i in range(draw(st.integers(0, 2)))]
    findings = _findings(draw, causes, modes)
    evidence = {f.name: draw(_possible(len(f.grades))) for f in findings if draw(st.integers(0, 3))}
    unlisted = Unlisted("", draw(st.sampled_from([0.0, 0.01, 0.2])), draw(st.sampled_from([0.05, 0.3])))
    return World(tuple(causes), tuple(modes), tuple(findings), unlisted, evidence)


def _cause(draw: st.DrawFn, name: str, component: str, modes: list[Mode]) -> Cause:
    """Now and then it acts on a component before its own as well."""
    far = draw(st.integers(0, 5)) == 0
    own = [mode for mode in modes if mode.component == component or far]
    brings = {mode.name: draw(chances) for mode in own if draw(st.booleans())}
    return cause(name, component, draw(rates), brings, draw(st.sampled_from(KINDS)))


def _findings(draw: st.DrawFn, causes: list[Cause], modes: list[Mode]) -> list[Finding]:
    signs = [mode.name for mode in modes] + [cause.name for cause in causes if not cause.component]
    found = [_finding(draw, f"seen{i}", signs, hidden=True) for i in range(draw(st.integers(0, 3))) if signs]
    for component in dict.fromkeys(cause.component for cause in causes if cause.component):
        if draw(st.integers(0, 2)) == 0:
            own = [cause.name for cause in causes if cause.component == component]
            found.append(_finding(draw, f"{component}.sight", own)._replace(sight=True))
    if draw(st.booleans()):
        weighs = (("dirt", draw(st.sampled_from([-5.0, 3.0, 10.0]))),)
        where = draw(st.sampled_from([(), ("pump",), ("belt", "lamp")]))
        found.append(Finding("old", "old", PLAIN_GRADES, PLAIN_GRADES, weighs=weighs, weighs_on=where))
    return found


def _finding(draw: st.DrawFn, name: str, signs: list[str], *, hidden: bool = False) -> Finding:
    grades = draw(st.sampled_from(GRADES))
    some = st.lists(st.sampled_from(signs), min_size=1, max_size=2, unique=True)
    together = draw(st.lists(some.map(sorted).map(tuple), min_size=1, max_size=3, unique=True))
    reasons = tuple(Reason(names, draw(_falling(len(grades) - 1, chances))) for names in together)
    hiding = draw(st.lists(st.sampled_from(signs), max_size=2, unique=True)) if hidden else []
    hidden_by = tuple((name, draw(chances)) for name in hiding)
    background = draw(_falling(len(grades) - 1, backgrounds))
    return Finding(name, name, grades, grades, background, reasons, hidden_by)


def _falling(count: int, values: st.SearchStrategy[float]) -> st.SearchStrategy[tuple[float, ...]]:
    drawn = st.lists(values, min_size=count, max_size=count)
    return drawn.map(lambda numbers: tuple(sorted(numbers, reverse=True)))


def _possible(grades: int) -> st.SearchStrategy[tuple[int, ...]]:
    some = st.lists(st.integers(0, grades - 1), min_size=1, max_size=grades - 1, unique=True)
    return some.map(lambda numbers: tuple(sorted(numbers)))
