"""What the record of a job says by the names of its type, and what closed jobs teach."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from diagnose.cases.names import NOT_DETERMINED, NOTHING_WRONG, names_of
from diagnose.cases.reading import read_record
from diagnose.diagnosis.field_test import final_verdicts
from diagnose.diagnosis.outcomes import evidence_of
from diagnose.diagnosis.runs import Runs
from diagnose.knowledge.fields import Problems, complain, unknown
from diagnose.knowledge.quantities import show_pressure
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case, Record
from diagnose.model.places import Place, ProblemsFoundError
from diagnose.model.work import Observation
from diagnose.records.learning import Fault, evidence_key


class Outcome(NamedTuple):
    """`causes` that were found; `parts` of which no more is known than that the fault was in them.

    `open` where the record says that something was found, and not by a name of the type: "not determined", or
    `in_words`. `sound`: nothing was wrong. `passed` is None where neither the record nor a failed reading tells;
    where they contradict each other, the reading counts. All is empty where there is no outcome yet.
    """

    causes: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    open: bool = False
    sound: bool = False
    in_words: tuple[str, ...] = ()
    repairs: tuple[str, ...] = ()
    passed: bool | None = None

    @property
    def tells_a_fault(self) -> bool:
        """Whether something was wrong, whatever it was."""
        return bool(self.causes or self.parts or self.open)


def outcome_of(case: Case, assembly: Assembly) -> Outcome:
    """What the record of a case of this type comes to."""
    record, names = case.record, names_of(assembly)
    causes, parts = names.causes, {row.name for row in assembly.components}
    found = [text for text in record.found if text not in {NOT_DETERMINED, NOTHING_WRONG}]
    named = tuple(dict.fromkeys(text for text in found if text in causes))
    begun = {causes[name] for name in named}
    words = tuple(text for text in found if text not in causes and text not in parts)
    return Outcome(
        causes=named,
        parts=tuple(dict.fromkeys(text for text in found if text in parts and text not in begun)),
        open=not named and bool(words or NOT_DETERMINED in record.found),
        sound=NOTHING_WRONG in record.found and not found,
        in_words=words,
        repairs=tuple(dict.fromkeys(text for text in record.done if text in names.repairs)),
        passed=_passed(case, assembly),
    )


def record_with(case: Case, told: dict[str, Any], assembly: Assembly) -> Record:
    """The record of a case with other values under some of its keys, as options give them: texts, and pairs for tables.

    Own words are allowed; what has no blank in it is taken for a name, and a name has to be known.

    Raises:
        ProblemsFoundError: with everything that a case file may not say, each name that is not known, and what the
            record would say against itself.
    """
    problems: Problems = []
    record = case.record
    _must_be_known(told, assembly, problems)
    told = {"done": record.done, **told} if record.done else told
    entries = tuple((Scalar(key, _option(key)), _node(key, value)) for key, value in told.items())
    try:
        new = read_record(Mapping(entries, Place("the options")), assembly)
    except ProblemsFoundError as error:
        problems += error.problems
    if not problems:
        record = record._replace(**{key: getattr(new, key) for key in told})
        _must_agree(case._replace(record=record), told, assembly, problems)
    if problems:
        raise ProblemsFoundError(problems)
    return record


def _must_agree(case: Case, told: dict[str, Any], assembly: Assembly, problems: Problems) -> None:
    record = case.record
    if record.passed == "yes" and ("passed" in told or "final_test" in told):
        for row, value, limit in _missed(case, assembly):
            reading = f"{row.title} {show_pressure(value, 'psid')} misses its limit of {show_pressure(limit, 'psid')}"
            complain(problems, _option("passed"), f"{reading}; correct the reading, or say --failed")
    if "closed_on" in told and record.closed_on < case.tested_on:
        complain(problems, _option("closed_on"), f"{record.closed_on} lies before the test, {case.tested_on}")


def _must_be_known(told: dict[str, Any], assembly: Assembly, problems: Problems) -> None:
    repairs = [row.name for row in assembly.repairs]
    things = [*names_of(assembly).causes, *(row.name for row in assembly.components), NOT_DETERMINED, NOTHING_WRONG]
    for key, known in (("found", things), ("done", repairs)):
        for name in told.get(key, ()):
            if " " not in name and name not in known:
                unknown(problems, _option(key), f"{assembly.type} has no", name, known)
            elif not name.strip():
                complain(problems, _option(key), "expected a name or words, found nothing")


def _node(key: str, value: Any) -> Node:
    place = _option(key)
    if isinstance(value, str):
        return Scalar(value, place)
    if key in {"minutes", "final_test"}:
        return Mapping(tuple((Scalar(name, place), Scalar(str(number), place)) for name, number in value), place)
    return Sequence(tuple(Scalar(text, place) for text in value), place)


def _option(key: str) -> Place:
    return Place({"parts_used": "--part", "final_test": "--reading", "closed_on": "--on"}.get(key, f"--{key}"))


def _passed(case: Case, assembly: Assembly) -> bool | None:
    if _missed(case, assembly):
        return False
    return case.record.passed == "yes" if case.record.passed else None


def _missed(case: Case, assembly: Assembly) -> list[tuple[Observation, float, float]]:
    """The final readings that miss their limits, with reading and limit in psi."""
    judged, _ = final_verdicts(assembly, assembly.profile(case.profile), dict(case.record.final_test))
    return [(row, value, limit.amount) for row, value, limit, verdict in judged if verdict == "fail"]


class ClosedJob(NamedTuple):
    """A case with its outcome."""

    case: Case
    outcome: Outcome

    @property
    def day(self) -> str:
        """The day of the job, "" where nobody said."""
        return self.case.record.closed_on or self.case.tested_on


class Gathered(NamedTuple):
    """What jobs teach: faults, and how many of them there are of each kind; words that are no names, counted.

    `without` are jobs that have no outcome yet, `sound` those in which nothing was wrong, `silent` those whose cause
    was not determined and that hold no evidence either. None of these is learnt from.
    """

    jobs: tuple[ClosedJob, ...]
    faults: tuple[Fault, ...]
    named: int
    parts: int
    open: int
    without: int
    sound: int
    silent: int
    words: tuple[tuple[str, int], ...]

    @property
    def days(self) -> str:
        """From when to when, as in "2024-03-01 to 2026-11-20"; "" where no day is known."""
        days = sorted(filter(None, (row.day for row in self.jobs if row.outcome.tells_a_fault)))
        return "" if not days else days[0] if days[0] == days[-1] else f"{days[0]} to {days[-1]}"


def gathered(cases: Iterable[Case], runs: Runs) -> Gathered:
    """What these cases teach."""
    jobs = tuple(ClosedJob(case, outcome_of(case, runs.types[case.type].assembly)) for case in cases)
    faults: list[Fault] = []
    kinds, words = Counter[str](), Counter[str]()
    for job in jobs:
        kind, words_said = _kind(job.outcome), job.outcome.in_words
        words.update(words_said)
        fault = _fault(job, runs)
        kinds["silent" if kind == "open" and not fault.evidence else kind] += 1
        if kind in {"named", "parts"} or (kind == "open" and fault.evidence):
            faults.append(fault)
    told = {name: kinds[name] for name in ("named", "parts", "open", "without", "sound", "silent")}
    return Gathered(jobs, tuple(faults), **told, words=tuple(sorted(words.items(), key=lambda row: (-row[1], row[0]))))


def _kind(outcome: Outcome) -> str:
    rows = (("named", outcome.causes), ("parts", outcome.parts), ("open", outcome.open), ("sound", outcome.sound))
    return next((name for name, holds in rows if holds), "without")


def _fault(job: ClosedJob, runs: Runs) -> Fault:
    """What was wrong; the evidence only where it is needed, so that jobs that teach the same are equal."""
    case, outcome = job.case, job.outcome
    if outcome.causes and not outcome.parts:
        return Fault(case.type, tuple(sorted(outcome.causes)))
    if not outcome.tells_a_fault:
        return Fault(case.type)
    chaining, _ = runs.run(case)
    key = evidence_key(evidence_of(runs.types[case.type], chaining))
    return Fault(case.type, tuple(sorted(outcome.causes)), tuple(sorted(outcome.parts)), key)


def work_of(jobs: Iterable[ClosedJob]) -> Iterator[tuple[ClosedJob, str, float]]:
    """Each repair of which a job says how long it took, with the minutes."""
    for job in jobs:
        for name, minutes in job.case.record.minutes:
            if name in job.outcome.repairs:
                yield job, name, minutes
