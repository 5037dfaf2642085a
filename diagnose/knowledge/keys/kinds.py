"""What a key of a rule file or case file may hold, as data: tests compare it with what the readers do with the key."""

from __future__ import annotations

from typing import Literal, NamedTuple

from diagnose.knowledge.context import RESERVED
from diagnose.knowledge.fields import DELIBERATE
from diagnose.knowledge.quantities import PRESSURE_UNITS

# Lists of names. Those of the closed lists stand in a few files of the whole rule base and seldom change; the others
# are made up while rules are written, so an editor offers them and takes any other.
ClosedList = Literal["probability word", "kind of cause", "state", "caution", "source", "profile"]
OpenList = Literal[
    "part",
    "limit",
    "type",
    "component",
    "observation",
    "finding",
    "conclusion",
    "failure mode",
    "cause",
    "reason",
    "reading",
    "rule",
    "standing",
]
NameList = ClosedList | OpenList

NAME = "^[a-z][a-z0-9_]*$"
DEFINED_NAME = f"^(?!({'|'.join(RESERVED)})$)[a-z][a-z0-9_]*$"
_UNIT = "(" + "|".join("".join(f"[{c.lower()}{c.upper()}]" for c in unit) for unit in PRESSURE_UNITS) + ")"
_PRESSURE = rf"[+-]?[0-9]{{1,6}}(\.[0-9]{{1,9}})?[ \t]*{_UNIT}"
_SIZE = r"(([0-9]{1,3}[ -])?[0-9]{1,2}/(0?[1-9]|[1-9][0-9])|[0-9]{1,4}(\.[0-9]{1,3})?)[ \t]*(inch|in|\"|mm)"
_BOUND = rf"(limit\s+[a-z][a-z0-9_]*|{_PRESSURE})"


class Text(NamedTuple):
    """A text that is not empty; with `may_be_empty`, an empty one counts as none."""

    may_be_empty: bool = False


class Texts(NamedTuple):
    """A list of texts, or a single one."""


class Number(NamedTuple):
    """A number from `low` to `high`."""

    low: float
    high: float


class YesNo(NamedTuple):
    """`yes` or `no`, which are text."""


class Choice(NamedTuple):
    """One of a few fixed words, each with what it means."""

    words: tuple[tuple[str, str], ...]


class Shaped(NamedTuple):
    """Text of a shape; `expected` says so to a reader."""

    pattern: str
    expected: str


class Named(NamedTuple):
    """A name of a list, or with `many` a list of them or a single one."""

    of: NameList
    many: bool = False


class Probability(NamedTuple):
    """A word of the scale, or a number between 0 and 1."""


class Chances(NamedTuple):
    """A probability, or one for each grade of a finding."""


class Grades(NamedTuple):
    """What a finding says: a sentence, or one for each of its grades."""


class Premises(NamedTuple):
    """What must hold: a mapping of observations and findings, `all`, `any` and `not`."""


class Table(NamedTuple):
    """A mapping from names to values; `of` tells the names, or "name" (a new one), or "text" (anything)."""

    of: NameList | Literal["name", "text"]
    value: Kind
    least: int = 0


class Answers(NamedTuple):
    """A mapping from observations to answers; `closed` takes no other observation, as a case file does."""

    closed: bool = True


class Results(NamedTuple):
    """A mapping from findings to grades."""


class Thing(NamedTuple):
    """A mapping with keys of its own."""

    section: Section
    may_be_empty: bool = False


class Things(NamedTuple):
    """A mapping from names to mappings with keys of their own.

    A "defined" name is lower-case and none of the words that have a meaning in premises, a "local" one is lower-case,
    and "any" may be any text. With `of`, the names are not new but those of a list.
    """

    section: Section
    least: int = 0
    names: Literal["defined", "local", "any"] = "defined"
    of: NameList | None = None


class Listed(NamedTuple):
    """A list of mappings with keys of their own."""

    section: Section


class Changes(NamedTuple):
    """A mapping from names that there are to what differs of each."""

    section: Section


class Flow(NamedTuple):
    """Components in their order; one that leads somewhere is written {component: where it leads}."""


class AssemblyType(NamedTuple):
    """The type of an assembly; with it, a schema knows which observations there are."""


Kind = (
    Text
    | Texts
    | Number
    | YesNo
    | Choice
    | Shaped
    | Named
    | Probability
    | Chances
    | Grades
    | Premises
    | Table
    | Answers
    | Results
    | Thing
    | Things
    | Listed
    | Changes
    | Flow
    | AssemblyType
)
# "sometimes": only where other keys stand, or do not; `Section.conditions` say when.
Needed = Literal["always", "sometimes", "never"]


class Key(NamedTuple):
    """A key: what may stand under it, what it means, and whether it has to be there."""

    name: str
    kind: Kind
    about: str
    needed: Needed = "never"


class When(NamedTuple):
    """Where `key` is there (or not, or a mapping that holds something, or not), others are needed or not allowed.

    `by_grade` names a key, and a key with a table, whose probabilities must be given for each grade.
    """

    key: str
    test: Literal["there", "not there", "holds entries", "holds no entries", "holds three"]
    needs: tuple[str, ...] = ()
    bars: tuple[str, ...] = ()
    by_grade: tuple[str, ...] = ()


class Section(NamedTuple):
    """A mapping with keys of its own. `one_of`: exactly one of these keys stands there."""

    name: str
    about: str
    keys: tuple[Key, ...]
    one_of: tuple[str, ...] = ()
    conditions: tuple[When, ...] = ()


PRESSURE = Shaped(rf"^\s*{_PRESSURE}\s*$", "a pressure with its unit, as in '4.2 psid', '29 kPa' or '0.3 bar'")
SIZE = Shaped(rf"^\s*{_SIZE}\s*$", "a size with its unit, as in '3/4 in', '1 1/2 in' or '50 mm'")
RANGE = Shaped(
    rf"^\s*{_PRESSURE}\s* to \s*{_PRESSURE}\s*$", "two pressures, the smaller first, as in '0 psid to 15 psid'"
)
MONTH = Shaped("^[0-9]{4}-(0[1-9]|1[0-2])$", "a month, as in 2026-11")
DIFFERENCE = Shaped(r"\S\s* minus \s*\S", "two readings, as in 'first_reading minus second_reading'")
BOUND = Shaped(
    rf"^\s*{_BOUND}(\s* plus \s*{_BOUND})*\s*$",
    "a pressure with its unit, or 'limit NAME', or several joined by ' plus '",
)
LOCAL_NAME = Shaped(NAME, "lower-case letters, digits and '_', a letter first")

DELIBERATE_KEY = Key(
    DELIBERATE,
    Table("text", Text(), least=1),
    "For each check that finds this doubtful: why it is meant to be so. The check then keeps silent here.",
)


def needed(name: str, kind: Kind, about: str) -> Key:
    """A key that must be there."""
    return Key(name, kind, about, "always")


def sometimes(name: str, kind: Kind, about: str) -> Key:
    """A key that must be there where the section's conditions say so."""
    return Key(name, kind, about, "sometimes")
