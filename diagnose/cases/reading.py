"""Reading a case file."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.cases.names import names_of
from diagnose.knowledge.fields import Fields, Problems, as_choice, as_items, as_text, complain, unknown
from diagnose.knowledge.quantities import parse_pressure, parse_size, show_pressure
from diagnose.knowledge.words import expected
from diagnose.knowledge.yamltext import Node, Scalar, kind_of
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer, Case, Record
from diagnose.model.foreign import cut, one_line
from diagnose.model.places import ProblemsFoundError
from diagnose.model.work import Observation

MOST_CASE_TEXT = 20_000


def read_type(node: Node, types: Iterable[str]) -> str:
    """The assembly type that a case names.

    Raises:
        ProblemsFoundError: it names none, or one that the rule base lacks.
    """
    problems: Problems = []
    fields = Fields(node, "case", problems)
    name = fields.text("assembly")
    fields.misspelt()
    known = sorted(types)
    if name and name not in known:
        unknown(problems, fields.at("assembly"), "case, assembly: there is no type", name, known)
    if problems:
        raise ProblemsFoundError(problems)
    return name


def read_case(node: Node, assembly: Assembly) -> Case:
    """The case.

    Raises:
        ProblemsFoundError: with every problem of the file.
    """
    problems: Problems = []
    fields = Fields(node, "case", problems)
    case = take_case(fields, assembly, problems)._replace(record=_record(fields, assembly, problems))
    fields.done()
    if problems:
        raise ProblemsFoundError(problems)
    return case


def take_case(fields: Fields, assembly: Assembly, problems: Problems) -> Case:
    """The keys of a case out of a mapping that may hold more; problems are noted."""
    fields.text("assembly")
    profile = fields.text("profile", assembly.default_profile)
    known = [row.name for row in assembly.profiles]
    if profile and profile not in known:
        unknown(problems, fields.at("profile"), f"{fields.what}: there is no profile", profile, known)
    accuracy = fields.parsed("gauge_accuracy", parse_pressure, None)
    if accuracy is not None and not 0 < accuracy <= 5:
        place = fields.at("gauge_accuracy")
        complain(problems, place, f"{fields.what}, gauge_accuracy: expected more than 0 and at most 5 psid")
    return Case(
        type=assembly.type,
        title=one_line(fields.text("title", "")),
        size=fields.parsed("size", parse_size, 0.0),
        profile=profile,
        notes=_bounded(fields, "notes", problems),
        gauge_accuracy=accuracy,
        answers=_answers(fields, "observations", assembly, problems),
        file=fields.place.file,
        state=_state(fields, assembly, problems),
        parts=_parts(fields, assembly, problems),
    )


def _state(fields: Fields, assembly: Assembly, problems: Problems) -> str:
    state, known = fields.text("state", ""), [row.name for row in assembly.states]
    if state and state not in known:
        unknown(problems, fields.at("state"), f"{fields.what}: there is no state", state, known)
    return state


def _parts(fields: Fields, assembly: Assembly, problems: Problems) -> tuple[str, ...]:
    node = fields.get("parts")
    what, known = f"{fields.what}, parts", [row.name for row in assembly.components]
    parts = tuple(as_choice(item, what, problems, known) for item in as_items(node, what, problems)) if node else ()
    if parts and not fields.has("state"):
        complain(problems, fields.at("parts"), f"{what}: say with 'state' what has been done to them")
    return parts


def _bounded(fields: Fields, key: str, problems: Problems) -> str:
    node = fields.get(key)
    if node is None or (isinstance(node, Scalar) and not node.text):
        return ""
    text = as_text(node, f"{fields.what}, {key}", problems)
    if len(text) > MOST_CASE_TEXT:
        complain(problems, node.place, f"{fields.what}, {key}: longer than {MOST_CASE_TEXT} characters")
    return text


def _record(fields: Fields, assembly: Assembly, problems: Problems) -> Record:
    node = fields.get("record")
    if node is None or kind_of(node) == "nothing":
        return Record()
    record = Fields(node, f"{fields.what}, record", problems)
    result = Record(
        found=_texts(record, "found", problems),
        done=_texts(record, "done", problems),
        final_test=_answers(record, "final_test", assembly, problems),
    )
    record.done()
    return result


def _texts(fields: Fields, key: str, problems: Problems) -> tuple[str, ...]:
    texts = fields.texts(key)
    if sum(map(len, texts)) > MOST_CASE_TEXT:
        complain(problems, fields.at(key), f"{fields.what}, {key}: longer than {MOST_CASE_TEXT} characters")
    return texts


def _answers(fields: Fields, key: str, assembly: Assembly, problems: Problems) -> tuple[tuple[str, Answer], ...]:
    if kind_of(fields.get(key) or fields.node) == "nothing":
        return ()
    observations, rows = names_of(assembly).observations, []
    for name, node in fields.entries(key):
        observation = observations.get(name.text)
        if observation is None:
            _unknown(fields, key, name, node, assembly)
            continue
        if isinstance(node, Scalar) and not node.text.strip():
            complain(problems, node.place, f"{name.text}: no answer; leave the line out while it is unknown")
            continue
        text = as_text(node, name.text, problems)
        try:
            value = parse_answer(observation, text)
        except ValueError as error:
            if text:
                complain(problems, node.place, f"{name.text}: {error}")
            continue
        rows.append((name.text, Answer(value, text, node.place)))
    return tuple(rows)


def _unknown(fields: Fields, key: str, name: Scalar, node: Node, assembly: Assembly) -> None:
    what, inner = f"{fields.what}, {key}", getattr(node, "entries", ())
    if inner and any(row.name == name.text for row in assembly.components):
        message = f"write the observations of a part with a dot, as in '{cut(name.text)}.{cut(inner[0][0].text)}'"
        complain(fields.problems, name.place, f"{what}: {message}")
        return
    known = [row.name for row in assembly.observations]
    unknown(fields.problems, name.place, f"{what}: {assembly.type} has no observation", name.text, known)


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
