"""A joint finding as a handful of values that parts move one after another, so that parts can be added up in turn.

Every reason that is present draws a grade of its own and the finding has the highest of them (noisy-MAX), so for a run
of possible grades it is enough to know whether anything has come within the run yet: "waiting" while everything was
below it, "met" afterwards. Chances of a grade above the run are dropped where they arise. Nothing is subtracted.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import NamedTuple

from diagnose.belief.grades import Partly, Run, runs, share
from diagnose.belief.network import Chances

Change = tuple[float, float, float]
Reasons = Sequence[Sequence[float]]


class Track(NamedTuple):
    """One way in which the finding can be as it is known to be: within `run`, or blocked by what hides it.

    A run that begins with the lowest grade has nothing to wait for. `value` stands for waiting, the next one for met;
    `setters` are the bits that can turn waiting into met.
    """

    run: Run
    blocked: bool
    value: int
    setters: int

    def waits(self) -> bool:
        """Whether there is something to wait for."""
        return self.blocked or self.run[0] > 0

    def change(self, reasons: Reasons, shows: float) -> Change:
        """The factors from waiting to waiting, from waiting to met and from met to met.

        `reasons` are the chances of those that are present, `shows` the chance that nothing hides the finding.
        """
        if self.blocked:
            return shows, 1 - shows, 1.0
        below, within, up_to = float(self.run[0] > 0), float(self.run[0] == 0), 1.0
        for at_least in reasons:
            reach, inside = share(at_least, self.run)
            under = 1 - at_least[self.run[0] - 1] if self.run[0] else 0.0
            within = within * reach + below * inside
            below *= under
            up_to *= reach
        return below * shows, within * shows if self.run[0] else 0.0, up_to * shows


class Flag:
    """A joint finding. Its value takes the bits `field` of a state; `lanes[v]` tells whether variant v knows it.

    In a variant that does not, the value starts as met and stays so.
    """

    def __init__(self, finding: Partly, shift: int, lanes: Sequence[bool]) -> None:
        _, self._chances, possible = finding
        self.mask = self._chances.mask()
        self.tracks = tracks(self._chances, possible)
        self.lanes = lanes
        self.shift = shift
        self.width = (self.tracks[-1].value + 1).bit_length()
        self.field = (1 << self.width) - 1 << shift
        self._of_value = {value: track for track in self.tracks for value in (track.value, track.value + 1)}
        self._known: dict[tuple[int, int, int], Change] = {}

    def reasons(self) -> list[int]:
        """The sets of bits that are reasons."""
        return [bits for bits, _ in self._chances.reasons]

    def start(self) -> list[tuple[int, list[float]]]:
        """The values, in their place in a state, with their chances in every variant where no part has a say."""
        first = self.tracks[0].value + 1
        found = []
        for track in self.tracks:
            wait, meet, stay = track.change([self._chances.background], 1.0)
            both = [(track.value, wait), (track.value + 1, meet)] if track.waits() else [(track.value + 1, stay)]
            found += [(value, self._chance(chance, value == first)) for value, chance in both]
        return [(value << self.shift, chances) for value, chances in found if any(chances)]

    def moves(self, state: int, before: int, brought: Sequence[int]) -> list[tuple[int, list[float]]]:
        """What sets of modes make of the value in `state`, beside the modes `before`: new values with factors.

        The factors are those of every set in `brought` for the first variant, then for the second, and so on.
        """
        value = (state & self.field) >> self.shift
        track = self._of_value[value]
        changes = [self._change(track, before & self.mask, modes & self.mask) for modes in brought]
        waits, meets, stays = map(list, zip(*changes, strict=True))
        if value == track.value:
            found = [(value, self._spread(waits, 1.0)), (value + 1, self._spread(meets, 0.0))]
        else:
            found = [(value, self._spread(stays, 1.0))]
        return [(new << self.shift, factors) for new, factors in found if any(factors)]

    def _change(self, track: Track, before: int, brought: int) -> Change:
        key = (track.value, before, brought)
        if key not in self._known:
            present = before | brought
            reasons = [row for bits, row in self._chances.reasons if bits & brought and bits & present == bits]
            shows = 1.0
            for bit, factor in self._chances.hidden_by:
                if bit & brought:
                    shows *= factor
            self._known[key] = track.change(reasons, shows)
        return self._known[key]

    def _spread(self, factors: list[float], otherwise: float) -> list[float]:
        """The factors where the finding is known and `otherwise` where it is not, variant after variant."""
        unknown = [otherwise] * len(factors)
        return [*chain.from_iterable(factors if known else unknown for known in self.lanes)]

    def _chance(self, chance: float, first: bool) -> list[float]:
        return [chance if known else float(first) for known in self.lanes]


def tracks(chances: Chances, possible: tuple[int, ...]) -> list[Track]:
    """All tracks of a finding, with values from 1 on."""
    told = hides = 0
    for bits, _ in chances.reasons:
        told |= bits
    for bit, _ in chances.hidden_by:
        hides |= bit
    found: list[Track] = []
    for run in runs(possible):
        found.append(Track(run, False, 2 * len(found) + 1, told if run[0] else 0))
        if not run[0] and hides:
            found.append(Track(run, True, 2 * len(found) + 1, hides))
    return found
