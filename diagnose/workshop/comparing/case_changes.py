"""A case worked by two versions of the rule base: whether it can come out otherwise, and what does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from typing import Any, NamedTuple

from diagnose.belief.posterior import Posterior
from diagnose.cases.names import NOTHING_WRONG, UNLISTED
from diagnose.diagnosis.outcomes import evidence_of
from diagnose.diagnosis.planning import LEAST_CURE, basis, plan_on
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import chained
from diagnose.diagnosis.verdicts import verdicts
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.places import Place
from diagnose.plan.repairs import Option, Plan
from diagnose.workshop.comparing.case_pairs import CasePair
from diagnose.workshop.comparing.rule_files import Names, followed

# A distance below this is less than the figures of a sheet show; the plan is then not worked out again.
LEAST_DISTANCE = 0.005
LEAST_MOVE = 0.01
MOST_MOVES = 4
# Half of the chance of a cure below which no plan tries a repair, to be on the safe side.
LEAST_HELP = LEAST_CURE / 2
# Fields that people alone read; what is computed is the same whatever they say.
READ_ONLY = {
    *("title", "text", "question", "how", "says", "reason", "confused_with", "disputed", "explains", "note"),
    *("retest", "steps", "last_steps", "sources", "words", "checked", "written", "where", "drawn"),
}
_IN_COMMON = ("states", "cautions", "size_minutes", "turning_minutes", "plan_minutes")


# A ranking that moved by less than this, with the same leader, has moved only a little.
LITTLE = 0.03


class ChanceChange(NamedTuple):
    """The probability of a cause before and after; None where the version does not know it."""

    name: str
    text: str
    old: float | None
    new: float | None


class ValueChange(NamedTuple):
    """Something that has another value than before."""

    name: str
    old: str
    new: str


class CaseChange(NamedTuple):
    """How one case comes out otherwise.

    `distance`, from 0 to 1, is the total variation distance of the two rankings: the probabilities of all causes, of
    "nothing wrong" and of "unlisted" are scaled to add up to 1, and half of the sum of their differences is taken.
    The leader is the likeliest of these, site conditions left out. `first` and `then` are the titles of the repairs.
    """

    name: str
    place: Place
    type: str
    distance: float
    leader: tuple[ChanceChange, ChanceChange]
    moves: tuple[ChanceChange, ...]
    readings: tuple[ValueChange, ...]
    findings: tuple[ValueChange, ...]
    first: tuple[tuple[str, ...], tuple[str, ...]]
    then: tuple[tuple[str, ...], tuple[str, ...]]
    cautions_gone: tuple[str, ...]
    cautions_new: tuple[str, ...]

    @property
    def leads_otherwise(self) -> bool:
        """Whether another cause leads."""
        return self.leader[0].name != self.leader[1].name

    @property
    def begins_otherwise(self) -> bool:
        """Whether the first repairs are others, or a reading is judged otherwise."""
        return self.first[0] != self.first[1] or bool(self.readings)

    @property
    def is_little(self) -> bool:
        """Whether nothing that a person would do or judge is another, and the ranking moved by less than LITTLE."""
        same = not (self.leads_otherwise or self.begins_otherwise or self.cautions_gone or self.cautions_new)
        return same and self.distance < LITTLE

    @property
    def order(self) -> tuple[bool, bool, float, str]:
        """Sorts the biggest change first: another leader, then another beginning, then the greater distance."""
        return not self.leads_otherwise, not self.begins_otherwise, -self.distance, self.name


class WorkedByVersion(NamedTuple):
    """One version's working of a case, names as NEW has them; `telling` are findings that say something abnormal."""

    ready: Ready
    case: Case
    posterior: Posterior
    chances: dict[str, float]
    texts: dict[str, str]
    readings: dict[str, str]
    findings: dict[str, str]
    telling: frozenset[str]
    outside: frozenset[str]

    def considers(self, repairs: Set[str]) -> bool:
        """Whether any of these repairs is likely enough to help that a plan could name it."""
        rows = (row for row in self.ready.assembly.repairs if row.name in repairs)
        return any(
            sum(self.posterior.standing.causes[cause] * cure for cause, cure in row.cures) >= LEAST_HELP for row in rows
        )

    def plan(self) -> Plan:
        """The plan, as a sheet shows it."""
        return plan_on(self.ready, self.posterior.standing, basis(self.ready, self.case, self.posterior))


class CaseComparer:
    """Compares cases on two versions; `names` gives the new name of each thing that was renamed."""

    def __init__(self, old: Mapping[str, Ready], new: Mapping[str, Ready], names: Names) -> None:
        self.old, self.new, self.names = old, new, names
        shared = sorted(set(old) & set(new))
        self.same = {name for name in shared if meaning(old[name].assembly) == meaning(new[name].assembly)}
        self.altered = {name: altered_repairs(old[name].assembly, new[name].assembly) for name in shared}

    def touched(self, pairs: Iterable[CasePair]) -> list[CasePair]:
        """The cases that may come out otherwise; of the others the type has the same meaning in both versions."""
        return [pair for pair in pairs if pair.new.type not in self.same]

    def change(self, pair: CasePair) -> CaseChange | None:
        """What comes out otherwise; None where it is less than a sheet shows."""
        old = _worked(self.old[pair.old.type], pair.old, self.names)
        new = _worked(self.new[pair.new.type], pair.new, {})
        distance = distance_of(old.chances, new.chances)
        readings = _otherwise(old.readings, new.readings)
        altered = self.altered[pair.new.type]
        if distance < LEAST_DISTANCE and not readings and not old.considers(altered) and not new.considers(altered):
            return None
        change = self._whole(pair, (old, new), distance, readings)
        told = change.leads_otherwise or change.begins_otherwise or change.then[0] != change.then[1]
        other = change.cautions_gone or change.cautions_new or distance >= LEAST_DISTANCE
        return change if told or other else None

    def _whole(
        self,
        pair: CasePair,
        both: tuple[WorkedByVersion, WorkedByVersion],
        distance: float,
        readings: tuple[ValueChange, ...],
    ) -> CaseChange:
        old, new = both
        plans = old.plan(), new.plan()
        told = {*old.findings} & {*new.findings} | old.telling | new.telling
        cautions = [{row.name: row.text for row in plan.cautions} for plan in plans]
        return CaseChange(
            name=pair.name,
            place=pair.place,
            type=pair.new.type,
            distance=distance,
            leader=(_move(_leader(old), old, new), _move(_leader(new), old, new)),
            moves=_moves(old, new),
            readings=readings,
            # One that only a version has is in every case of it: it is told where it says something.
            findings=tuple(row for row in _otherwise(old.findings, new.findings) if row.name in told),
            first=(_titles(plans[0].first), _titles(plans[1].first)),
            then=(_titles(plans[0].then), _titles(plans[1].then)),
            cautions_gone=tuple(text for name, text in cautions[0].items() if name not in cautions[1]),
            cautions_new=tuple(text for name, text in cautions[1].items() if name not in cautions[0]),
        )


def _worked(ready: Ready, case: Case, names: Names) -> WorkedByVersion:
    chaining, shut = chained(ready, case)
    posterior = Posterior(ready.network, evidence_of(ready, chaining))
    standing = posterior.standing
    chances = standing.causes | {NOTHING_WRONG: standing.nothing_wrong, UNLISTED: standing.unlisted}
    found = {row.name: chaining.possible(row.name) for row in ready.assembly.findings}
    grades = {row.name: row.grades for row in ready.assembly.findings}
    told = {name: " or ".join(grades[name][at] for at in possible) for name, possible in found.items()}
    judged = verdicts(ready.assembly, case, chaining, shut)
    return WorkedByVersion(
        ready,
        case,
        posterior,
        {followed(name, names): chance for name, chance in chances.items()},
        {followed(row.name, names): row.text for row in ready.assembly.causes},
        {followed(row.observation.name, names): row.outcome for row in judged},
        {followed(name, names): grade for name, grade in told.items()},
        frozenset(followed(name, names) for name, possible in found.items() if 0 not in possible),
        frozenset(followed(row.name, names) for row in ready.assembly.causes if not row.component),
    )


def distance_of(old: Mapping[str, float], new: Mapping[str, float]) -> float:
    """The total variation distance of two rankings, each scaled to add up to 1; from 0 to 1."""
    totals = sum(old.values()) or 1.0, sum(new.values()) or 1.0
    names = {*old, *new}
    return sum(abs(old.get(name, 0.0) / totals[0] - new.get(name, 0.0) / totals[1]) for name in names) / 2


def _otherwise(old: Mapping[str, str], new: Mapping[str, str]) -> tuple[ValueChange, ...]:
    """Values that differ; "" for a name that one has not."""
    names = sorted(name for name in {*old, *new} if old.get(name, "") != new.get(name, ""))
    return tuple(ValueChange(name, old.get(name, ""), new.get(name, "")) for name in names)


def _moves(old: WorkedByVersion, new: WorkedByVersion) -> tuple[ChanceChange, ...]:
    rows = [_move(name, old, new) for name in {*old.chances, *new.chances}]
    rows.sort(key=lambda row: (-abs((row.old or 0.0) - (row.new or 0.0)), row.name))
    return tuple(row for row in rows if abs((row.old or 0.0) - (row.new or 0.0)) >= LEAST_MOVE)[:MOST_MOVES]


def _move(name: str, old: WorkedByVersion, new: WorkedByVersion) -> ChanceChange:
    text = new.texts.get(name) or old.texts.get(name) or name
    return ChanceChange(name, text, old.chances.get(name), new.chances.get(name))


def _leader(own: WorkedByVersion) -> str:
    """The likeliest of what competes: site conditions can be there whatever the assembly is like."""
    rivals = {name: chance for name, chance in own.chances.items() if name not in own.outside}
    return max(rivals, key=lambda name: (rivals[name], name))


def _titles(options: Iterable[Option]) -> tuple[str, ...]:
    return tuple(option.repair.title for option in options)


def altered_repairs(old: Assembly, new: Assembly) -> set[str]:
    """The repairs that are not the same work in both: all of them where what they have in common differs."""
    common = [tuple(meaning(getattr(row, name)) for name in _IN_COMMON) for row in (old, new)]
    before, after = ({repair.name: meaning(repair) for repair in row.repairs} for row in (old, new))
    names = {*before, *after}
    return names if common[0] != common[1] else {name for name in names if before.get(name) != after.get(name)}


def meaning(value: Any) -> Any:
    """Equal for two assemblies of which every case comes out the same, or for parts of them."""
    if isinstance(value, Place):
        return None
    if hasattr(value, "_fields"):
        return (
            type(value).__name__,
            *(_field(name, row) for name, row in zip(value._fields, value, strict=True) if name not in READ_ONLY),
        )
    return tuple(map(meaning, value)) if isinstance(value, tuple) else value


def _field(name: str, value: Any) -> Any:
    """The names of an observation's answers count, what they mean in words does not."""
    if name == "answers":
        return tuple(answer if isinstance(answer, str) else answer[0] for answer in value)
    return meaning(value)
