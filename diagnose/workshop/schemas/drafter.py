"""A schema for each kind of value that a key may hold. What the schemas say is JSON Schema, draft 7.

Two words go beyond that draft and are passed over by whoever does not know them: `enumDescriptions` and
`errorMessage`, which editors show.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any, get_args

from diagnose.knowledge.context import RESERVED
from diagnose.knowledge.keys import kinds
from diagnose.knowledge.keys.kinds import ClosedList, Key, Kind, NameList, Section, When
from diagnose.knowledge.laying import VOUCHERS
from diagnose.workshop.schemas.offered import Offered, Texts

Schema = dict[str, Any]
CLOSED: tuple[str, ...] = get_args(ClosedList)
# Not truth words or nothing: an editor reads those as something else than text.
TEXT: Schema = {"type": ["string", "number"], "pattern": r"\S", "errorMessage": "Expected text."}
OUT_OF_SCALE = "Expected a number between 0 and 1, both left out, or a word of scales.yaml."
LISTED_HERE = " If you have just added a name, make the schemas anew."


def choice(words: Texts, **more: object) -> Schema:
    """One of these words, each with what it means. One of digits alone is a number to an editor unless it is quoted."""
    digits = {int(word): text for word, text in words.items() if word.isascii() and word.isdecimal()}
    return {"enum": [*words, *digits], "enumDescriptions": [*words.values(), *digits.values()], **more}


def either(*schemas: Schema) -> Schema:
    """Any of these."""
    return {"anyOf": list(schemas)}


def several(one: Schema) -> Schema:
    """A single value, or a list of them."""
    return either(one, {"type": "array", "items": one})


def mapping(values: Schema | bool, least: int = 0, **more: object) -> Schema:
    """A mapping from names to such values."""
    return {"type": "object", "additionalProperties": values, **({"minProperties": least} if least else {}), **more}


class Drafter:
    """Drafts schemas of one file; what is used in several places of it goes to `definitions`."""

    def __init__(self, offered: Offered) -> None:
        self.offered = offered
        self.definitions: dict[str, Schema] = {}
        self._words: dict[tuple[tuple[str, str], ...], str] = {}
        self._drafts: Mapping[type, Callable[[Any], Schema]] = {
            kinds.Text: lambda kind: either(TEXT, {"enum": ["", None]}) if kind.may_be_empty else TEXT,
            kinds.Texts: lambda _: several(TEXT),
            kinds.Number: lambda kind: {"type": "number", "minimum": kind.low, "maximum": kind.high},
            kinds.YesNo: lambda _: {"enum": ["no", "yes"]},
            kinds.Choice: lambda kind: choice(dict(kind.words)),
            kinds.Shaped: _shaped,
            kinds.Named: lambda kind: several(self.name(kind.of)) if kind.many else self.name(kind.of),
            kinds.Probability: lambda _: self._probability(),
            kinds.Chances: lambda _: self._chances(),
            kinds.Grades: lambda _: either(TEXT, mapping(TEXT, 2, propertyNames=_new_name(kinds.NAME))),
            kinds.Premises: lambda _: self._premises(),
            kinds.Table: self._table,
            kinds.Thing: lambda kind: _or_nothing(self.section(kind.section), kind.may_be_empty),
            kinds.Things: lambda kind: self.things(kind, self.section(kind.section)),
            kinds.Listed: lambda kind: {"type": "array", "items": self.section(kind.section)},
            kinds.Changes: lambda kind: mapping(self.changed(kind.section)),
            kinds.Flow: lambda _: self._flow(),
            # What these hold is known by the type of the case; see schemas_cases.py.
            kinds.Answers: lambda _: {"type": ["object", "null"]},
            kinds.Results: lambda _: mapping(TEXT),
            kinds.AssemblyType: lambda _: choice(self.offered.lists["type"]),
        }

    def kind(self, kind: Kind) -> Schema:
        """What a kind of value looks like."""
        return self._drafts[type(kind)](kind)

    def section(self, section: Section) -> Schema:
        """A reference to a mapping with keys of its own."""
        return self.defined(section.name, lambda: self.mapping_of(section))

    def mapping_of(self, section: Section) -> Schema:
        """A mapping with keys of its own, in full."""
        rules = [_condition(row) for row in section.conditions]
        rules += _exactly_one(section.one_of) if section.one_of else []
        return {
            "title": section.name,
            "description": section.about,
            "type": "object",
            "additionalProperties": False,
            "required": [key.name for key in section.keys if key.needed == "always"],
            "properties": {key.name: self.key(key) for key in section.keys},
            **({"allOf": rules} if rules else {}),
        }

    def key(self, key: Key) -> Schema:
        """What stands under a key, with what the key means."""
        return _described(self.kind(key.kind), key.about)

    def changed(self, section: Section) -> Schema:
        """A thing of the rule base as an overlay changes it: only what differs, and its own vouchers."""
        return self.defined(
            f"changed {section.name}",
            lambda: {
                "title": f"what changes of a {section.name}",
                "description": f"{section.about} Only what differs from the shipped rule base is written.",
                "type": "object",
                "additionalProperties": False,
                "required": [key.name for key in section.keys if key.name in VOUCHERS],
                "properties": {key.name: self.key(key) for key in section.keys},
            },
        )

    def things(self, kind: kinds.Things, one: Schema, least: int | None = None) -> Schema:
        """A mapping from names to things."""
        schema = mapping(one, kind.least if least is None else least)
        if kind.names != "any":
            schema["propertyNames"] = _new_name(kinds.DEFINED_NAME if kind.names == "defined" else kinds.NAME)
        if kind.of is not None:
            schema["properties"] = dict.fromkeys(self.offered.lists.get(kind.of, {}), one)
        return schema

    def name(self, of: NameList) -> Schema:
        """A name of a list. Only names of closed lists are judged; others may have been added since."""
        known = self.offered.lists.get(of, {})
        if of in CLOSED:
            told = OUT_OF_SCALE if of == "probability word" else f"The rule base has no {of} of this name.{LISTED_HERE}"
            return self.defined(f"name of a {of}", lambda: choice(known, errorMessage=told))
        return self.defined(f"name of a {of}", lambda: either(choice(known), TEXT) if known else TEXT)

    def defined(self, name: str, make: Callable[[], Schema]) -> Schema:
        """A reference to a definition, made at its first use."""
        key = _key_of(name)
        if key not in self.definitions:
            self.definitions[key] = {}  # a definition may hold itself
            self.definitions[key] = make()
        return {"$ref": f"#/definitions/{key}"}

    def resolved(self, reference: Schema) -> Schema:
        """What a reference leads to."""
        return self.definitions[reference["$ref"].removeprefix("#/definitions/")]

    def _probability(self) -> Schema:
        number: Schema = {"type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1}
        number["errorMessage"] = OUT_OF_SCALE
        words = self.name("probability word")
        return self.defined("probability", lambda: either(words, number))

    def _chances(self) -> Schema:
        one = self._probability()
        return self.defined("probability for each grade", lambda: either(one, mapping(one, 1)))

    def _table(self, kind: kinds.Table) -> Schema:
        schema = mapping(self.kind(kind.value), kind.least)
        if kind.of == "name":
            return {**schema, "propertyNames": _new_name(kinds.NAME)}
        if kind.of == "text":
            return schema
        if kind.of in CLOSED:
            schema["propertyNames"] = self.name(kind.of)
        known = self.offered.lists.get(kind.of, {})
        schema["properties"] = {name: _described(self.kind(kind.value), text) for name, text in known.items()}
        least = "no entry needed" if not kind.least else "with an entry"
        return self.defined(f"{kind.of} to {type(kind.value).__name__.lower()}, {least}", lambda: schema)

    def _flow(self) -> Schema:
        one = self.name("component")
        leading = mapping(one, 1, maxProperties=1)
        return either(one, {"type": "array", "items": either(one, leading)})

    def _premises(self) -> Schema:
        return self.defined("premises", self._premise_mapping)

    def _premise_mapping(self) -> Schema:
        own, bound = self._premises(), _shaped(kinds.BOUND)
        parts = {"type": "array", "minItems": 1, "items": own}
        answers = either(TEXT, {"type": "array", "minItems": 1, "items": TEXT})
        compared: Schema = {
            "type": "object",
            "minProperties": 1,
            "additionalProperties": False,
            "properties": {
                "at least": {**bound, "description": "The reading is this or more."},
                "above": {**bound, "description": "The reading is more than this."},
                "at most": {**bound, "description": "The reading is this or less."},
                "below": {**bound, "description": "The reading is less than this."},
                "between": {
                    "description": "The reading is the first of two bounds or more, and less than the second.",
                    "type": "array",
                    "minItems": 2,
                    "maxItems": 2,
                    "items": bound,
                },
            },
        }
        free = either(self.defined("answers", lambda: answers), self.defined("comparison", lambda: compared))
        joins = {
            "all": {**parts, "description": "Every one of these must hold."},
            "any": {**parts, "description": "At least one of these must hold."},
            "not": _described(own, "The opposite of this; what is unknown stays unknown."),
        }
        known = {name: self._premise(name, values) for name, values in self.offered.values.items()}
        return {"type": "object", "minProperties": 1, "properties": {**joins, **known}, "additionalProperties": free}

    def _premise(self, name: str, values: Texts) -> Schema:
        about = self.offered.about.get(name, "")
        if not values:
            return _described({"$ref": "#/definitions/comparison"}, about)
        shared = self._words.setdefault(tuple(values.items()), f"answers to {name}")
        words = self.defined(shared, lambda: choice(values))
        return {"description": about, **either(words, {"$ref": "#/definitions/answers"})}


def _new_name(pattern: str) -> Schema:
    told = f"A name is {kinds.LOCAL_NAME.expected}; it is none of the words {', '.join(RESERVED)}."
    return {"pattern": pattern, "errorMessage": told, "doNotSuggest": True}


def _key_of(name: str) -> str:
    """Not every editor finds a definition whose name has blanks or signs in it."""
    return re.sub("[^A-Za-z0-9_.-]", lambda found: f"+{ord(found[0]):x}", name.replace(" ", "-"))


def _shaped(kind: kinds.Shaped) -> Schema:
    return {"type": "string", "pattern": kind.pattern, "errorMessage": f"Expected {kind.expected}."}


def _described(schema: Schema, about: str) -> Schema:
    """The schema with a description of its own; beside a reference, draft 7 would not read it."""
    if "$ref" in schema:
        return {"description": about, "allOf": [schema]}
    return {"description": about, **schema}


def _or_nothing(schema: Schema, may_be_empty: bool) -> Schema:
    return either(schema, {"type": "null"}) if may_be_empty else schema


def _condition(row: When) -> Schema:
    there: Schema = {"required": [row.key]}
    if row.test.startswith("holds"):
        least = 3 if row.test == "holds three" else 1
        there["properties"] = {row.key: {"type": "object", "minProperties": least}}
    if row.test in {"not there", "holds no entries"}:
        there = {"not": there}
    then: Schema = {"required": list(row.needs)} if row.needs else {}
    graded: Schema = {"type": "object", "errorMessage": "Write a probability for each grade, as in {GRADE: 0.1}."}
    properties = dict.fromkeys(row.bars, False) | {name: _where_graded(name, graded) for name in row.by_grade}
    return {"if": there, "then": {**then, **({"properties": properties} if properties else {})}}


def _exactly_one(names: tuple[str, ...]) -> list[Schema]:
    """One is there, and where it is the others are not; said so that an editor marks the one too many."""
    alone = (When(name, "there", bars=tuple(other for other in names if other != name)) for name in names)
    return [either(*({"required": [name]} for name in names)), *(_condition(row) for row in alone if row.bars)]


def _where_graded(name: str, graded: Schema) -> Schema:
    return graded if name == "background" else {"additionalProperties": graded}
