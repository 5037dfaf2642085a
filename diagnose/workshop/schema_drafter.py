"""A schema for each kind of value that a key may hold. What the schemas say is JSON Schema, draft 7.

Two words go beyond that draft and are passed over by whoever does not know them: `enumDescriptions` and
`errorMessage`, which editors show.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from diagnose.knowledge.format import Key, KeySet, Kind, When
from diagnose.knowledge.shapes import DEFINED_NAME, NAME, RESERVED, SHAPES
from diagnose.workshop.schema_names import Offered, Texts

Schema = dict[str, Any]
# Lists that stand in a few files of the whole rule base and seldom change; names of all others are made up while rules
# are written, so an editor offers those that it knows and takes any other.
CLOSED = ("probability word", "kind of cause", "state", "caution", "source", "profile")
# Not truth words or nothing: an editor reads those as something else than text.
TEXT: Schema = {"type": ["string", "number"], "pattern": r"\S", "errorMessage": "Expected text."}
OUT_OF_SCALE = "Expected a number between 0 and 1, both left out, or a word of scales.yaml."
COMPARED = {"at least": "this or more", "above": "more than this", "at most": "this or less", "below": "less than this"}
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

    def __init__(self, offered: Offered, family: Mapping[str, KeySet]) -> None:
        self.offered, self.family = offered, family
        self.definitions: dict[str, Schema] = {}
        self._words: dict[tuple[tuple[str, str], ...], str] = {}
        self._drafts: Mapping[str, Callable[[Kind], Schema]] = {
            **dict.fromkeys(("text", "wording"), lambda kind: _or_nothing(TEXT, kind.may_be_empty, "")),
            **dict.fromkeys(("texts", "wordings"), lambda _: several(TEXT)),
            "number": lambda kind: {"type": "number", "minimum": kind.low, "maximum": kind.high},
            "yes or no": lambda _: {"enum": ["no", "yes"]},
            "choice": lambda kind: choice(dict(kind.words)),
            **dict.fromkeys(("name", "conclusion"), lambda kind: self.name(kind.of)),
            "names": lambda kind: several(self.name(kind.of)),
            "probability": lambda _: self._probability(),
            "chances": lambda _: self._chances(),
            "grades": lambda _: either(TEXT, mapping(TEXT, 2, propertyNames=_new_name(NAME))),
            "premises": lambda _: self._premises(),
            "table": self._table,
            "thing": lambda kind: _or_nothing(self.section(kind.section), kind.may_be_empty),
            "things": lambda kind: self.things(kind, self.section(kind.section)),
            "list": lambda kind: {"type": "array", "items": self.section(kind.section)},
            "changes": lambda kind: mapping(self.changed(self.family[kind.section])),
            "answer": lambda kind: either(TEXT, self.section(kind.section)),
            "flow": lambda _: self._flow(),
            # What these hold is known by the type of the case; see schemas.py.
            "answers": lambda _: {"type": ["object", "null"]},
            "results": lambda _: mapping(TEXT),
            "type": lambda _: choice(self.offered.lists["type"]),
        }

    def kind(self, kind: Kind) -> Schema:
        """What a kind of value looks like."""
        draft = self._drafts.get(kind.word)
        return draft(kind) if draft is not None else shaped(kind.word)

    def section(self, name: str) -> Schema:
        """A reference to a mapping with keys of its own."""
        return self.defined(name, lambda: self.mapping_of(self.family[name]))

    def mapping_of(self, section: KeySet) -> Schema:
        """A mapping with keys of its own, in full."""
        rules = [_condition(row) for row in section.conditions]
        rules += _exactly_one(section.one_of) if section.one_of else []
        schema = self._keys(section, section.name, section.about, section.needed)
        return schema | ({"allOf": rules} if rules else {})

    def _keys(self, section: KeySet, title: str, about: str, needed: Iterable[str]) -> Schema:
        return {
            "title": title,
            "description": about,
            "type": "object",
            "additionalProperties": False,
            "required": list(needed),
            "properties": {name: self.key(key) for name, key in section.keys.items()},
        }

    def key(self, key: Key) -> Schema:
        """What stands under a key, with what the key means."""
        return _described(self.kind(key.kind), key.about)

    def changed(self, section: KeySet) -> Schema:
        """A thing of the rule base as an overlay changes it: only what differs, and its own vouchers."""
        title, told = f"what changes of a {section.name}", "Only what differs from the shipped rule base is written."
        vouchers = [name for name, key in section.keys.items() if key.voucher]
        return self.defined(
            f"changed {section.name}", lambda: self._keys(section, title, f"{section.about} {told}", vouchers)
        )

    def things(self, kind: Kind, one: Schema, least: int | None = None) -> Schema:
        """A mapping from names to things."""
        schema = mapping(one, kind.least if least is None else least)
        if kind.names in {"defined", "local"}:
            schema["propertyNames"] = _new_name(DEFINED_NAME if kind.names == "defined" else NAME)
        if kind.of:
            schema["properties"] = dict.fromkeys(self.offered.lists.get(kind.of, {}), one)
        return schema

    def name(self, of: str) -> Schema:
        """A name of a list. Only names of closed lists are judged; others may have been added since."""
        known = self.offered.lists.get(of, {})
        if of in CLOSED:
            told = OUT_OF_SCALE if of == "probability word" else f"The rule base has no {of} of this name.{LISTED_HERE}"
            return self.defined(f"name of a {of}", lambda: choice(known, errorMessage=told))
        return self.defined(f"name of a {of}", lambda: either(choice(known), TEXT) if known else TEXT)

    def defined(self, name: str, make: Callable[[], Schema]) -> Schema:
        """A reference to a definition, made at its first use."""
        # Not every editor finds a definition whose name has blanks or signs in it.
        key = re.sub("[^A-Za-z0-9_.-]", lambda found: f"+{ord(found[0]):x}", name.replace(" ", "-"))
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

    def _table(self, kind: Kind) -> Schema:
        schema = mapping(self.kind(kind.to), kind.least)
        if kind.of == "name":
            return {**schema, "propertyNames": _new_name(NAME)}
        if kind.of == "text":
            return schema
        if kind.of in CLOSED:
            schema["propertyNames"] = self.name(kind.of)
        known = self.offered.lists.get(kind.of, {})
        schema["properties"] = {name: _described(self.kind(kind.to), text) for name, text in known.items()}
        least = "no entry needed" if not kind.least else "with an entry"
        return self.defined(f"{kind.of} to {kind.to.word}, {least}", lambda: schema)

    def _flow(self) -> Schema:
        one = self.name("component")
        leading = mapping(one, 1, maxProperties=1)
        return either(one, {"type": "array", "items": either(one, leading)})

    def _premises(self) -> Schema:
        return self.defined("premises", self._premise_mapping)

    def _premise_mapping(self) -> Schema:
        own, bound = self._premises(), shaped("bound")
        parts = {"type": "array", "minItems": 1, "items": own}
        answers = either(TEXT, {"type": "array", "minItems": 1, "items": TEXT})
        compared: Schema = {
            "type": "object",
            "minProperties": 1,
            "additionalProperties": False,
            "properties": {
                **{word: {**bound, "description": f"The reading is {told}."} for word, told in COMPARED.items()},
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
    told = f"A name is {SHAPES['own name'].expected}; it is none of the words {', '.join(RESERVED)}."
    return {"pattern": pattern, "errorMessage": told, "doNotSuggest": True}


def shaped(shape: str) -> Schema:
    """Text of a shape."""
    row = SHAPES[shape]
    return {"type": "string", "pattern": row.pattern, "errorMessage": f"Expected {row.expected}."}


def _described(schema: Schema, about: str) -> Schema:
    """The schema with a description of its own; beside a reference, draft 7 would not read it."""
    if "$ref" in schema:
        return {"description": about, "allOf": [schema]}
    return {"description": about, **schema}


def _or_nothing(schema: Schema, may_be_empty: bool, *nothing: str) -> Schema:
    return either(schema, {"enum": [*nothing, None]}) if may_be_empty else schema


def _condition(row: When) -> Schema:
    there: Schema = {"required": [row.key]}
    if row.test.startswith("holds"):
        least = 3 if row.test == "holds three" else 1
        there["properties"] = {row.key: {"type": "object", "minProperties": least}}
    if row.test in {"not there", "holds no entries"}:
        there = {"not": there}
    then: Schema = {"required": list(row.needs)} if row.needs else {}
    graded: Schema = {"type": "object", "errorMessage": "Write a probability for each grade, as in {GRADE: 0.1}."}
    graded_by = {name: graded if name == "background" else {"additionalProperties": graded} for name in row.by_grade}
    properties = dict.fromkeys(row.bars, False) | graded_by
    return {"if": there, "then": {**then, **({"properties": properties} if properties else {})}}


def _exactly_one(names: tuple[str, ...]) -> list[Schema]:
    """One is there, and where it is the others are not; said so that an editor marks the one too many."""
    alone = (When(name, "there", bars=tuple(other for other in names if other != name)) for name in names)
    return [either(*({"required": [name]} for name in names)), *(_condition(row) for row in alone if row.bars)]
