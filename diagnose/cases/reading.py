"""Reading a case file."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

from diagnose.cases.names import CaseScope, names_of
from diagnose.knowledge.fields import Fields, NoNames, Problems, as_entries, as_text, complain, unknown
from diagnose.knowledge.format import Format, read_format
from diagnose.knowledge.quantities import parse_pressure, show_pressure
from diagnose.knowledge.words import expected
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, kind_of
from diagnose.model.assembly import Assembly, TypeNames
from diagnose.model.case import Answer, Case, Record
from diagnose.model.foreign import cut, one_line
from diagnose.model.places import Place, ProblemsFoundError
from diagnose.model.work import Observation

MOST_CASE_TEXT = 20_000
MOST_KEY = 400  # YAML takes no key of more than 1024 characters, escapes among them


@cache
def case_format() -> Format:
    """The format of case files and of cases beside rules."""
    return read_format(Path(__file__).with_name("format.yaml"))


def read_type(node: Node, types: Iterable[str] | TypeNames) -> str:
    """The assembly type that a case names, by its own name or by another that it is called.

    Raises:
        ProblemsFoundError: it names none, or one that the rule base lacks.
    """
    problems: Problems = []
    fields = Fields(node, "case", case_format().sections["case"], NoNames(problems))
    written, names = fields.get("assembly"), types if isinstance(types, TypeNames) else TypeNames(tuple(types))
    name = as_text(written, "case, assembly", problems) if written is not None else ""
    meant = names.meant(name)
    if name and not meant:
        no_such_type(problems, fields.at("assembly"), "case, assembly: there is no type", name, names)
    if not meant:
        raise ProblemsFoundError(problems)
    return meant


def no_such_type(problems: Problems, place: Place, sentence: str, name: str, names: TypeNames) -> None:
    """Adds a problem about a type that there is not: what to do instead, or the nearest that there is."""
    instead = names.instead(name)
    if instead:
        complain(problems, place, f"'{cut(name)}' is not covered: {instead}")
    else:
        unknown(problems, place, sentence, name, names.types)


def read_case(node: Node, assembly: Assembly) -> Case:
    """The case.

    Raises:
        ProblemsFoundError: with every problem of the file.
    """
    scope = CaseScope(assembly, [])
    fields = Fields(node, "case", case_format().sections["case"], scope)
    case = take_case(fields, assembly)._replace(
        tag=one_line(fields["tag"]),
        location=one_line(fields["location"]),
        installed=fields["installed"],
        tested_on=fields["tested_on"],
        record=Record() if (record := fields.inner("record")) is None else _taken(record, assembly),
    )
    if scope.problems:
        raise ProblemsFoundError(scope.problems)
    return case


def take_case(fields: Fields, assembly: Assembly) -> Case:
    """The keys of a case out of a mapping that may hold more; problems are noted."""
    accuracy = fields["gauge_accuracy"]
    if accuracy is not None and not 0 < accuracy <= 5:
        fields.miss("expected more than 0 and at most 5 psid", "gauge_accuracy")
    if fields["parts"] and not fields.has("state"):
        fields.miss("say with 'state' what has been done to them", "parts")
    return Case(
        type=assembly.type,
        title=one_line(fields["title"]),
        size=fields["size"],
        profile=fields["profile"] or assembly.default_profile,
        notes=_bounded(fields, "notes"),
        gauge_accuracy=accuracy,
        answers=_answers(fields, "observations", assembly),
        file=fields.place.file,
        state=fields["state"],
        parts=fields["parts"],
    )


def _bounded(fields: Fields, key: str) -> Any:
    """A text, or several, of bounded length."""
    if sum(map(len, fields[key])) > MOST_CASE_TEXT:
        fields.miss(f"longer than {MOST_CASE_TEXT} characters", key)
    return fields[key]


def read_record(node: Node, assembly: Assembly) -> Record:
    """A record by itself.

    Raises:
        ProblemsFoundError: with every problem of it.
    """
    scope = CaseScope(assembly, [])
    record = _taken(Fields(node, "record", case_format().sections["record"], scope), assembly)
    if scope.problems:
        raise ProblemsFoundError(scope.problems)
    return record


def _taken(record: Fields, assembly: Assembly) -> Record:
    done: tuple[str, ...] = _bounded(record, "done")
    minutes = tuple((one_line(key.text), number) for key, number in record["minutes"])
    for key, _ in record["minutes"]:
        if one_line(key.text) not in map(one_line, done) or len(key.text) > MOST_KEY:
            record.miss(f"'{cut(key.text)}' is no short name that stands under 'done'", "minutes", key.place)
    return Record(
        found=_bounded(record, "found"),
        done=done,
        final_test=_answers(record, "final_test", assembly),
        closed_on=record["closed_on"],
        minutes=minutes,
        parts_used=_bounded(record, "parts_used"),
        passed=record["passed"],
    )


def _answers(fields: Fields, key: str, assembly: Assembly) -> tuple[tuple[str, Answer], ...]:
    written, problems = fields.get(key), fields.problems
    if written is None or kind_of(written) == "nothing":
        return ()
    names = names_of(assembly)
    rows: dict[str, Answer] = {}
    for name, node in as_entries(written, f"{fields.what}, {key}", problems):
        today, renamed = (name.text, {}) if name.text in names.observations else names.of_today(name.text)
        observation = names.observations.get(today)
        if observation is None:
            _unknown(fields, key, name, node, assembly)
            continue
        if today in rows:
            complain(problems, name.place, f"{name.text}: '{today}' is answered already, by its name or by an old one")
            continue
        if isinstance(node, Scalar) and not node.text.strip():
            complain(problems, node.place, f"{name.text}: no answer; leave the line out while it is unknown")
            continue
        text = as_text(node, name.text, problems)
        try:
            value = parse_answer(observation, renamed.get(text, text))
        except ValueError as error:
            if text:
                complain(problems, node.place, f"{name.text}: {error}")
            continue
        rows[today] = Answer(value, renamed.get(text, text), node.place)
    return tuple(rows.items())


def _unknown(fields: Fields, key: str, name: Scalar, node: Node, assembly: Assembly) -> None:
    inner = node.entries if isinstance(node, Mapping) else ()
    if inner and any(row.name == name.text for row in assembly.components):
        message = f"write the observations of a part with a dot, as in '{cut(name.text)}.{cut(inner[0][0].text)}'"
        fields.miss(message, key, name.place)
        return
    known = [row.name for row in assembly.observations]
    sentence = f"{fields.what}, {key}: {assembly.type} has no observation"
    unknown(fields.problems, name.place, sentence, name.text, known)


def parse_answer(observation: Observation, text: str) -> str | float:
    """What a person wrote -> the answer's name, or psi.

    Raises:
        ValueError: not an answer to this observation, in words fit to show.
    """
    if observation.answers:
        names = [name for name, _ in observation.answers]
        if text not in names:
            raise ValueError(f"'{cut(text)}' is not an answer; {expected(text, names)}")
        return text
    psi = parse_pressure(text)
    if not observation.low <= psi <= observation.high:
        low, high = (show_pressure(bound, observation.unit) for bound in (observation.low, observation.high))
        raise ValueError(f"{cut(text)} is outside the range of this reading, {low} to {high}")
    return psi
