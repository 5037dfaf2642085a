"""The network that the ranking weighs: causes, the modes they bring about, and the findings that these show.

Three layers, each a noisy-OR of the one before; graded findings combine by noisy-MAX (Henrion 1988, Diez 1993).
Modes are numbered through the whole network, part after part, so that a set of modes is an integer of bits.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from diagnose.model.causes import Cause, Finding, Mode, Reason, Unlisted

UNLISTED = "unlisted"


class Part(NamedTuple):
    """Causes that share modes: those of one component, or a single site condition, or "something unlisted".

    Components on which a cause acts together (a stone that jams two pumps) are one part. `acts_on[c]` has
    the components of cause c, its own first; none for a site condition. `odds[c]` are prior odds; `brings[c][m]` is
    the probability that cause c brings about mode m of this part, whose number in the network is `first` + m.
    """

    name: str
    causes: tuple[str, ...]
    acts_on: tuple[tuple[str, ...], ...]
    kinds: tuple[str, ...]
    odds: tuple[float, ...]
    modes: tuple[str, ...]
    first: int
    brings: tuple[tuple[float, ...], ...]

    @property
    def components(self) -> tuple[str, ...]:
        """The components that its causes act on: none for a site condition and for "something unlisted"."""
        return tuple(dict.fromkeys(component for some in self.acts_on for component in some))

    @property
    def on_site(self) -> bool:
        """Whether it is a site condition."""
        return not self.components and self.name != UNLISTED


class Chances(NamedTuple):
    """How a graded finding comes about: each reason (a set of bits) and the background show grade i + 1 or higher.

    `hidden_by` pairs a mode's bit with the factor by which it multiplies the chance that the finding shows.
    """

    grades: int
    background: tuple[float, ...]
    reasons: tuple[tuple[int, tuple[float, ...]], ...]
    hidden_by: tuple[tuple[int, float], ...] = ()

    def mask(self) -> int:
        """All bits that the finding rests on."""
        found = 0
        for bits, _ in (*self.reasons, *self.hidden_by):
            found |= bits
        return found


class Shown(NamedTuple):
    """A finding whose reasons are modes; the bits are numbers of modes in the network."""

    name: str
    chances: Chances


class Sight(NamedTuple):
    """What is seen on one opened part; the bits are positions of causes within `part` (a place in `parts`)."""

    name: str
    part: int
    chances: Chances


class Circumstance(NamedTuple):
    """A finding that multiplies the prior odds of every cause of a kind by a factor while it is true.

    Where `components` names any, causes of other components are left alone.
    """

    name: str
    grades: int
    times: tuple[tuple[str, float], ...]
    components: tuple[str, ...] = ()

    def odds_ratios(self, part: Part) -> tuple[float, ...]:
        """By how much it multiplies the odds of each of a part's causes; () where it leaves all as they are."""
        times = dict(self.times)
        if times.keys().isdisjoint(part.kinds):
            return ()
        rows = zip(part.kinds, part.acts_on, strict=True)
        concerns = (not self.components or not set(self.components).isdisjoint(own[:1]) for _, own in rows)
        found = tuple(times.get(kind, 1.0) if here else 1.0 for kind, here in zip(part.kinds, concerns, strict=True))
        return () if set(found) == {1.0} else found


class Network(NamedTuple):
    """Everything `weigh` needs; made of text, numbers and tuples only, so that it can be kept on disk.

    `silent` names the findings that are never evidence, `unreached` the modes that no cause brings about.
    """

    parts: tuple[Part, ...]
    shown: tuple[Shown, ...]
    sights: tuple[Sight, ...]
    circumstances: tuple[Circumstance, ...]
    silent: tuple[str, ...]
    unreached: tuple[str, ...]


def build_network(
    causes: Iterable[Cause], modes: Iterable[Mode], findings: Iterable[Finding], unlisted: Unlisted
) -> Network:
    """Compiles the three layers.

    Raises:
        ValueError: a site condition brings about a mode; a sight has reasons in two parts or outside components, or is
            hidden by a mode; a probability of a cause is 1 or more; a cause or a reason names nothing known.
    """
    causes, modes, findings = tuple(causes), tuple(modes), tuple(findings)
    parts = _parts(causes, modes, unlisted)
    bits = {mode: 1 << (part.first + i) for part in parts for i, mode in enumerate(part.modes)}
    unreached = tuple(mode.name for mode in modes if mode.name not in bits)
    opened = [(p, part) for p, part in enumerate(parts) if part.components]
    homes = {cause: p for p, part in opened for cause in part.causes}
    seats = {cause: 1 << i for _, part in opened for i, cause in enumerate(part.causes)}
    telling = [finding for finding in findings if finding.reasons and not finding.weighs]
    return Network(
        parts,
        tuple(_shown(finding, bits, unreached, unlisted) for finding in telling if not finding.sight),
        tuple(_sight(finding, homes, seats) for finding in telling if finding.sight),
        tuple(_circumstance(finding) for finding in findings if finding.weighs),
        tuple(finding.name for finding in findings if not finding.reasons and not finding.weighs),
        unreached,
    )


def _parts(causes: Sequence[Cause], modes: Sequence[Mode], unlisted: Unlisted) -> tuple[Part, ...]:
    homes = {mode.name: mode.component for mode in modes}
    acts_on = {row.name: _components(row, homes) for row in causes if row.component}
    parts: list[Part] = []
    first = 0
    for components in _acted_on_together(acts_on.values()):
        members = [cause for cause in causes if cause.component in components]
        brought = {mode for cause in members for mode, _ in cause.brings}
        own = tuple(mode.name for mode in modes if mode.name in brought)
        brings = tuple(tuple(dict(cause.brings).get(mode, 0.0) for mode in own) for cause in members)
        named = tuple(cause.name for cause in members)
        odds = tuple(_odds(cause.name, cause.rate) for cause in members)
        kinds = tuple(cause.kind for cause in members)
        touched = tuple(acts_on[name] for name in named)
        parts.append(Part(" and ".join(components), named, touched, kinds, odds, own, first, brings))
        first += len(own)
    alone = [(cause.name, cause.kind, cause.rate) for cause in causes if not cause.component]
    for name, kind, rate in (*alone, (UNLISTED, "", unlisted.rate)):
        parts.append(Part(name, (name,), ((),), (kind,), (_odds(name, rate),), (name,), first, ((1.0,),)))
        first += 1
    return tuple(parts)


def _components(cause: Cause, homes: Mapping[str, str]) -> tuple[str, ...]:
    """The component of a cause, and those of other modes that it brings about."""
    found = [cause.component]
    for mode, _ in cause.brings:
        if mode not in homes:
            raise ValueError(f"{cause.name} brings about {mode}, which nothing in the network is called")
        found.append(homes[mode])
    return tuple(dict.fromkeys(found))


def _acted_on_together(acted_on: Iterable[Sequence[str]]) -> list[list[str]]:
    """Components in lots, so that each cause acts on one lot only."""
    lots: list[list[str]] = []
    for components in acted_on:
        met = [lot for lot in lots if not set(lot).isdisjoint(components)]
        if met:
            joined = [name for lot in met for name in lot]
            met[0][:] = dict.fromkeys((*joined, *components))
            lots = [lot for lot in lots if lot is met[0] or lot not in met]
        else:
            lots.append(list(components))
    return lots


def _odds(name: str, rate: float) -> float:
    if not 0 <= rate < 1:
        raise ValueError(f"the rate of {name} is {rate}; it must be at least 0 and below 1")
    return rate / (1 - rate)


def _background(finding: Finding) -> tuple[float, ...]:
    return finding.background or (0.0,) * (len(finding.grades) - 1)


def _shown(finding: Finding, bits: Mapping[str, int], unreached: Sequence[str], unlisted: Unlisted) -> Shown:
    worse = len(finding.grades) - 1
    anything = Reason((UNLISTED,), tuple(unlisted.shows * (worse - i) / worse for i in range(worse)))
    reasons = [reason for reason in finding.reasons if not set(reason.all_of) & set(unreached)]
    hiding = [(mode, factor) for mode, factor in finding.hidden_by if mode not in unreached]
    placed = tuple((_together(reason, bits, finding), reason.at_least) for reason in (*reasons, anything))
    hidden_by = tuple((_bit(mode, bits, finding), factor) for mode, factor in hiding)
    return Shown(finding.name, Chances(worse + 1, _background(finding), placed, hidden_by))


def _together(reason: Reason, bits: Mapping[str, int], finding: Finding) -> int:
    present = 0
    for name in reason.all_of:
        present |= _bit(name, bits, finding)
    return present


def _bit(name: str, bits: Mapping[str, int], finding: Finding) -> int:
    if name not in bits:
        raise ValueError(f"finding {finding.name} names {name}, which nothing in the network is called")
    return bits[name]


def _sight(finding: Finding, homes: Mapping[str, int], seats: Mapping[str, int]) -> Sight:
    if finding.hidden_by:
        raise ValueError(f"finding {finding.name} is a sight; it cannot be hidden by a mode")
    placed = tuple((_together(reason, seats, finding), reason.at_least) for reason in finding.reasons)
    parts = {homes[name] for reason in finding.reasons for name in reason.all_of}
    if len(parts) > 1:
        raise ValueError(f"finding {finding.name} is a sight; its reasons lie in more than one part")
    return Sight(finding.name, parts.pop(), Chances(len(finding.grades), _background(finding), placed))


def _circumstance(finding: Finding) -> Circumstance:
    times = tuple((kind, 10 ** (decibans / 10)) for kind, decibans in finding.weighs)
    return Circumstance(finding.name, len(finding.grades), times, finding.weighs_on)
