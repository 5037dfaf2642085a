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
    """Causes that share modes: one component, or a single site condition, or "something unlisted".

    `odds[c]` are prior odds; `brings[c][m]` is the probability that cause c brings about mode m of this part,
    whose number in the network is `first` + m. `component` is "" for a site condition.
    """

    name: str
    component: str
    causes: tuple[str, ...]
    kinds: tuple[str, ...]
    odds: tuple[float, ...]
    modes: tuple[str, ...]
    first: int
    brings: tuple[tuple[float, ...], ...]


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

    def concerns(self, component: str) -> bool:
        """Whether it changes the odds of this component's causes."""
        return not self.components or component in self.components


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
        ValueError: a cause brings about another component's mode; a sight has reasons in two components or outside
            them, or is hidden by a mode; a probability of a cause is 1 or more; a reason names nothing known.
    """
    causes, modes, findings = tuple(causes), tuple(modes), tuple(findings)
    parts = _parts(causes, modes, unlisted)
    bits = {mode: 1 << (part.first + i) for part in parts for i, mode in enumerate(part.modes)}
    unreached = tuple(mode.name for mode in modes if mode.name not in bits)
    opened = [(p, part) for p, part in enumerate(parts) if part.component not in ("", UNLISTED)]
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
    parts: list[Part] = []
    first = 0
    components = dict.fromkeys(cause.component for cause in causes if cause.component)
    for component in components:
        members = [cause for cause in causes if cause.component == component]
        parts.append(_component(component, members, modes, first))
        first += len(parts[-1].modes)
    alone = [(cause.name, cause.kind, cause.rate) for cause in causes if not cause.component]
    for name, kind, rate in (*alone, (UNLISTED, "", unlisted.rate)):
        component = UNLISTED if name == UNLISTED else ""
        parts.append(Part(name, component, (name,), (kind,), (_odds(name, rate),), (name,), first, ((1.0,),)))
        first += 1
    return tuple(parts)


def _component(name: str, causes: Sequence[Cause], modes: Sequence[Mode], first: int) -> Part:
    brought = {mode for cause in causes for mode, _ in cause.brings}
    own = tuple(mode.name for mode in modes if mode.component == name and mode.name in brought)
    if foreign := sorted(brought - set(own)):
        raise ValueError(f"a cause of {name} brings about {foreign[0]}, which is not a mode of {name}")
    brings = tuple(tuple(dict(cause.brings).get(mode, 0.0) for mode in own) for cause in causes)
    return Part(
        name,
        name,
        tuple(cause.name for cause in causes),
        tuple(cause.kind for cause in causes),
        tuple(_odds(cause.name, cause.rate) for cause in causes),
        own,
        first,
        brings,
    )


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
