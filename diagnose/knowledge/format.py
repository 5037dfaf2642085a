"""The format of rule files and case files as data, read from format.yaml; that file says what its words mean."""

from __future__ import annotations

from functools import cache
from pathlib import Path, PurePosixPath
from typing import Any, NamedTuple

from diagnose.knowledge.yamltext import data_of, read_file

DELIBERATE = "deliberate"
CHANGED = "changed"
_DELIBERATE = {
    "is": "table",
    "of": "text",
    "values": "wording",
    "least": "1",
    "optional": "yes",
    "about": "For each check that finds this doubtful: why it is meant to be so. The check then keeps silent here.",
}


class Kind(NamedTuple):
    """What may stand under a key.

    `word` is one of: text, wording (for people alone), texts, wordings (a list, or a single one), number (`low` to
    `high`), yes or no,
    choice (`words`, each with what it means), answer (wording, or what it shows), a shape of shapes.py, name, names (
    `of` a list), probability,
    chances (a probability, or one for each grade), grades (a sentence, or one for each grade), premises, conclusion,
    table (from names `of` a list to `values`), thing, things (by name), changes (of
    things that there are), list (of mappings that `section` describes),
    flow, and in cases type, answers, results.
    """

    word: str
    of: str = ""
    section: str = ""
    values: Kind | None = None
    low: float = 0.0
    high: float = 0.0
    least: int = 0
    names: str = "defined"
    words: tuple[tuple[str, str], ...] = ()
    may_be_empty: bool = False

    @property
    def is_wording(self) -> bool:
        """Whether it is read by people alone, so that other words mean the same."""
        return self.word in {"wording", "wordings", "grades", "answer"} or (self.word == "table" and self.to.is_wording)

    @property
    def has_grades(self) -> bool:
        """Whether the keys below it are the answers or grades themselves, whose order counts."""
        return self.word == "grades" or (self.word, self.of) == ("table", "name")

    @property
    def to(self) -> Kind:
        """What the entries of a table hold."""
        return self.values or Kind("text")


class Key(NamedTuple):
    """A key: what may stand under it, and what it means."""

    name: str
    kind: Kind
    about: str
    optional: bool = False
    voucher: str = ""
    by_entry: bool = False
    any_order: bool = False
    shown: bool = False
    for_people: bool = False


class When(NamedTuple):
    """Where `key` is there (or not, or a mapping that holds something, or not), others are needed or not allowed.

    `by_grade` names keys whose probabilities must be given for each grade; `says` is told where it is not so.
    """

    key: str
    test: str
    needs: tuple[str, ...] = ()
    bars: tuple[str, ...] = ()
    by_grade: tuple[str, ...] = ()
    says: str = ""


class KeySet(NamedTuple):
    """What a mapping with keys of its own may hold; `family` has all that the same file describes.

    `called` is what messages call it, where it has neither a name nor the key that it stands under.
    """

    name: str
    about: str
    keys: dict[str, Key]
    family: dict[str, KeySet]
    called: str = ""
    one_of: tuple[str, ...] = ()
    one_of_says: str = ""
    conditions: tuple[When, ...] = ()
    strangers: tuple[str, ...] = ()

    @property
    def needed(self) -> tuple[str, ...]:
        """The keys that must be there whatever else is."""
        return tuple(key.name for key in self.keys.values() if not key.optional)


class FileKind(NamedTuple):
    """Files with the same keys, and where they stand below the folder of a rule base."""

    name: str
    holds: str
    at: str


class Format(NamedTuple):
    """Every kind of file, every mapping with keys of its own, and the lists that names come from, by name."""

    files: dict[str, FileKind]
    sections: dict[str, KeySet]
    lists: dict[str, dict[str, str]]

    def of_file(self, name: str) -> KeySet | None:
        """What a file holds that has this name below the folder of a rule base."""
        return next(
            (self.sections[row.holds] for row in self.files.values() if PurePosixPath(name).match(row.at)), None
        )

    def key(self, file: str, path: tuple[str, ...]) -> Key | None:
        """The key that says what stands at a path of keys and names in a file, or holds it."""
        section, found = self.of_file(file), None
        steps = iter(path)
        for step in steps:
            if section is None:
                break
            if step == CHANGED and step not in section.keys:
                continue
            found = section.keys.get(step)
            section = self.sections.get(found.kind.section) if found is not None else None
            if found is not None and found.kind.word in {"things", "changes"}:
                next(steps, None)
        return found

    def is_single(self, file: str, key: str) -> bool:
        """Whether a mapping under a key of a file is one thing, with a source of its own, and not several by name."""
        row = self.key(file, (key,))
        section = self.sections.get(row.kind.section) if row is not None and row.kind.word == "thing" else None
        return section is not None and any(key.voucher for key in section.keys.values())


@cache
def rule_format() -> Format:
    """The format of rule files."""
    return read_format(Path(__file__).with_name("format.yaml"))


def read_format(file: Path) -> Format:
    """The format that a file describes."""
    rows = data_of(read_file(file))
    shared = {name: _key(name, row) for name, row in rows["shared"].items()}
    sections: dict[str, KeySet] = {}
    for name, row in rows["sections"].items():
        sections[name] = _section(name, row, shared, sections)
    files = {name: FileKind(name, row["holds"], row["at"]) for name, row in rows["files"].items()}
    return Format(files, sections, rows.get("lists", {}))


def _section(name: str, row: dict[str, Any], shared: dict[str, Key], family: dict[str, KeySet]) -> KeySet:
    keys = {key: _key(key, value) for key, value in row["keys"].items()}
    keys |= {key: shared[key] for key in row.get("shared", ())}
    also = [family[other] for other in row.get("also", ())]
    keys |= {
        key: value
        for other in also
        for key, value in other.keys.items()
        if key not in keys and key not in row.get("without", ())
    }
    keys[DELIBERATE] = _key(DELIBERATE, _DELIBERATE)
    told = ("needs", "bars", "by grade", "says")
    conditions = tuple(
        When(when["where"], when["is"], **{key.replace(" ", "_"): when[key] for key in told if key in when})
        for when in row.get("conditions", ())
    )
    conditions += tuple(when for other in also for when in other.conditions)
    said = row.get("called", ""), row.get("one of", ()), row.get("one of says", "")
    return KeySet(name, row["about"], keys, family, *said, conditions, row.get("strangers", ()))


def _key(name: str, row: dict[str, Any]) -> Key:
    flags = (row.get(flag, "no") == "yes" for flag in ("by entry", "in any order", "shown", "for people"))
    return Key(name, _kind(row), row["about"], row.get("optional", "no") == "yes", row.get("voucher", ""), *flags)


def _kind(row: dict[str, Any] | str) -> Kind:
    if isinstance(row, str):
        return Kind(row)
    return Kind(
        word=row["is"],
        of=row.get("of", ""),
        section=row.get("section", ""),
        values=_kind(row["values"]) if "values" in row else None,
        low=float(row.get("from", 0)),
        high=float(row.get("to", 0)),
        least=int(row.get("least", 0)),
        names=row.get("names", "defined"),
        words=tuple(row.get("words", {}).items()),
        may_be_empty=row.get("may be empty", "no") == "yes",
    )
