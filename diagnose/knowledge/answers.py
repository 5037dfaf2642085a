"""Answers that say what they show: each is written out as a finding and the rule that concludes it.

It works on the nodes of a file, before overlays are laid and any meaning is read, so that all who come after know one
form only. What is written out stands where it was written.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from diagnose.knowledge.fields import Fields, NoNames, Problems, as_text
from diagnose.knowledge.format import DELIBERATE, KeySet, rule_format
from diagnose.knowledge.shapes import is_name
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, value_of

Entry = tuple[Scalar, Node]


class Written(NamedTuple):
    """What an answer comes to: its text, and the finding and the rule that it stands for."""

    text: Node
    finding: Entry | None
    rule: Entry


def written_out(node: Node, problems: Problems) -> Node:
    """The file with a finding and a rule for each answer that says what it shows, ahead of the others."""
    observations = value_of(node, "observations")
    if not isinstance(node, Mapping) or not isinstance(observations, Mapping):
        return node
    made: list[Written] = []
    rows = tuple((key, _observation(key, value, made, problems)) for key, value in observations.entries)
    if not made:
        return node
    node = _with(node, "observations", observations._replace(entries=rows))
    added = {"findings": tuple(row.finding for row in made if row.finding), "rules": tuple(row.rule for row in made)}
    for section, new in added.items():
        old = value_of(node, section)
        if old is None and new:
            node = node._replace(entries=(*node.entries, (Scalar(section, node.place), Mapping(new, node.place))))
        elif isinstance(old, Mapping):
            node = _with(node, section, old._replace(entries=new + old.entries))
    return node


def _with(node: Mapping, name: str, new: Node) -> Mapping:
    """The mapping with another value under a key that it has."""
    return node._replace(entries=tuple((key, new if key.text == name else value) for key, value in node.entries))


def _observation(name: Scalar, node: Node, made: list[Written], problems: Problems) -> Node:
    answers = value_of(node, "answers")
    if not isinstance(node, Mapping) or not isinstance(answers, Mapping):
        return node
    rows: list[Entry] = []
    for key, value in answers.entries:
        if isinstance(value, Mapping):
            made.append(_written(name.text, key, value, problems))
        rows.append((key, made[-1].text if isinstance(value, Mapping) else value))
    return _with(node, "answers", answers._replace(entries=tuple(rows)))


def _written(observation: str, answer: Scalar, node: Mapping, problems: Problems) -> Written:
    sections = rule_format().sections
    fields = Fields(node, f"answer '{answer.text}' of '{observation}'", sections["answer"], NoNames(problems), ())
    entries = {fields.stands_for(key.text): (key, value) for key, value in node.entries}
    own = f"{observation}_{answer.text}"
    named, rule = entries.get("finding", (answer, answer))[1], entries.get("rule", (answer, answer))[1]
    name = f"{own}_seen" if named is answer else as_text(named, f"{fields.what}, finding", problems)
    rule_name = own if rule is answer else as_text(rule, f"{fields.what}, rule", problems)
    place = entries.get("reason", (answer, node))[0].place
    chances = entries.get("chances from", entries.get("source"))
    finding = tuple(_of(sections["finding"], {**entries, "source": chances} if chances else entries))
    premises = Mapping(((Scalar(observation, answer.place), Scalar(answer.text, answer.place)),), answer.place)
    concluded: tuple[Entry, ...] = (
        (Scalar("premises", answer.place), premises),
        (Scalar("finding", named.place), Scalar(name, named.place)),
        *_of(sections["rule"], entries, "finding", "premises"),
    )
    alone = {key.text for key, _ in finding} <= {"source", DELIBERATE} and "finding" in entries
    return Written(
        entries["text"][1] if "text" in entries else Scalar(answer.text, answer.place),
        # The finding stands where its answer does, but a name that can be none is told where it is written.
        None if alone else (Scalar(name, (answer if is_name(name) else named).place), node._replace(entries=finding)),
        (Scalar(rule_name, place), node._replace(entries=concluded)),
    )


def _of(section: KeySet, entries: dict[str, Entry], *without: str) -> Iterator[Entry]:
    for name, (key, value) in entries.items():
        if name in section.keys and name not in without:
            yield key._replace(text=name), value
