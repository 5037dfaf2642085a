"""What people do at an assembly: what they can observe, in which state, and what they repair."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.model.places import NOWHERE, Place
from diagnose.model.premises import Premise


class Observation(NamedTuple):
    """One thing a person sees, measures or answers.

    `answers` pairs each possible answer with what it means; empty for a reading, which has a `unit`
    and a `low`..`high` range in psi. `computed` names two readings whose difference (first minus
    second) this one is. `limit` names the acceptance limit that the reading is judged by.
    `only_in_service` marks what can be seen only while the assembly is in service; other things of a state that takes
    no minutes can be answered later. `only_told` marks what nobody is asked for, as it has to have happened first.
    `recorded` names the field of a test's record in which it stands. `a_year_before` names the reading of which this is
    the one of the test about a year before.
    """

    name: str
    component: str
    title: str
    question: str
    how: str
    answers: tuple[tuple[str, str], ...]
    unit: str
    low: float
    high: float
    limit: str
    computed: tuple[str, str] | None
    state: str
    minutes: float
    sources: tuple[str, ...] = ()
    place: Place = NOWHERE
    only_in_service: bool = False
    recorded: str = ""
    only_told: bool = False
    answers_with_parts: tuple[tuple[str, tuple[str, ...]], ...] = ()
    a_year_before: str = ""


class State(NamedTuple):
    """A state of the assembly that checks and repairs need, with the minutes it takes to reach.

    `cover` is how many of them are for getting at one part, at the smallest size: each further part costs them again.
    `last_steps` end every repair made in it: what comes before the assembly is back in service. `steps` lead into it,
    from the state that it comes `after`.
    `turning` is how many are for closing what shuts the line and opening it again, at the smallest size.
    `takes_apart` says that the part worked on is taken apart in it. Nobody goes into it `not_while` that holds.
    """

    name: str
    text: str
    minutes: float
    cautions: tuple[str, ...] = ()
    place: Place = NOWHERE
    last_steps: tuple[str, ...] = ()
    cover: float = 0.0
    takes_apart: bool = False
    not_while: Premise | None = None
    steps: tuple[str, ...] = ()
    after: str = ""
    turning: float = 0.0


class PlanMinutes(NamedTuple):
    """Minutes that every plan counts besides the work itself.

    `retest` follows each repair; `fall_back` is what it costs where all repairs have failed, at the
    smallest size.
    """

    retest: float
    fall_back: float


class Caution(NamedTuple):
    """A warning that is read before the step it concerns. `always` puts it on every sheet.

    `parts` are the kinds of part it is about; an assembly without any of them does not carry it. None: any assembly.
    It is not said where `said_when` is known to be false, nor on an assembly known to be smaller than `from_size`
    (inches). `in_short` is it as a clause, and `danger` says that what it warns of can kill or maim. It is set in the
    first step that has one of the words `read_at`.
    """

    name: str
    text: str
    always: bool
    sources: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    place: Place = NOWHERE
    said_when: Premise | None = None
    in_short: str = ""
    danger: bool = False
    from_size: float = 0.0
    read_at: tuple[str, ...] = ()


class Repair(NamedTuple):
    """What is done about causes. `minutes` is for the smallest size; `cures` gives cause -> probability.

    `parts_minutes` is what the parts cost, as minutes of work; it counts in the order of repairs. One that is made on
    several components together names them under `mends`; it is worth trying only where one of `called_for` is.
    `only_turning`: it is no other work than closing and opening what shuts the line.
    """

    name: str
    component: str
    title: str
    steps: tuple[str, ...]
    parts: tuple[str, ...]
    minutes: float
    states: tuple[str, ...]
    cautions: tuple[str, ...]
    cures: tuple[tuple[str, float], ...]
    retest: str
    sources: tuple[str, ...] = ()
    place: Place = NOWHERE
    parts_minutes: float = 0.0
    mends: tuple[str, ...] = ()
    called_for: tuple[str, ...] = ()
    only_turning: bool = False


class Recorded(NamedTuple):
    """What the record of a test asks of a kind of part.

    `tick`: two words, one of which is ticked in each test. `confirm` is ticked once for the assembly, `in_one_line`
    lists all of the kind together among the repairs.
    """

    tick: tuple[str, ...] = ()
    confirm: str = ""
    in_one_line: bool = False


class Component(NamedTuple):
    """A part of an assembly that can fail. `part` is its kind, as a file of rules/parts names it.

    `size` is its nominal size in inches where it is another than the assembly's, else 0.
    """

    name: str
    part: str
    title: str
    place: Place = NOWHERE
    recorded: Recorded = Recorded()
    size: float = 0.0

    @property
    def called(self) -> str:
        """Its title as it stands in a sentence."""
        return definite(self.title)


def definite(title: str) -> str:
    """`the first flap`, but `flap 2`: a title that ends with a number is a name."""
    return title if title[-1:].isdigit() else f"the {title}"


class Source(NamedTuple):
    """Where a statement comes from. `mark` says how far it was read; `repairs` of one's own taught it, 0: none did."""

    key: str
    title: str
    where: str
    mark: str
    place: Place = NOWHERE
    repairs: float = 0.0


class Limit(NamedTuple):
    """An acceptance limit. `relation` is "at least" or "above"; `amount` in psi, `written` as published."""

    name: str
    relation: str
    amount: float
    written: str
    sources: tuple[str, ...]
    checked: str
    note: str = ""
    place: Place = NOWHERE


class Profile(NamedTuple):
    """A set of limits that one authority uses."""

    name: str
    title: str
    explains: str
    limits: tuple[Limit, ...]
    place: Place = NOWHERE

    def amounts(self) -> dict[str, float]:
        """Limit name -> psi."""
        return {limit.name: limit.amount for limit in self.limits}
