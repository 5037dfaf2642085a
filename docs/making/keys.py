"""The tables of all keys at the end of the page about the format, from the description that the readers go by."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from diagnose.cases.reading import case_format
from diagnose.knowledge.format import DELIBERATE, Format, KeySet, Kind, rule_format
from diagnose.knowledge.shapes import SHAPES

PAGE = "rule-format.md"
MARK = "<!-- What follows is made by docs/make.py. -->\n"
WRITTEN = {
    **dict.fromkeys(("text", "wording"), "text"),
    **dict.fromkeys(("texts", "wordings"), "text, or a list of texts"),
    "probability": "probability",
    "chances": "probability, or one for each grade",
    "grades": "sentence, or one for each grade",
    "premises": "[premises](#premises)",
    "flow": "list of components",
    "type": "type of assembly",
    "answers": "observations with answers",
    "results": "findings with grades",
    "yes or no": "yes or no",
}


def format_page(docs: Path) -> str:
    """The page as it stands, with its tables made anew."""
    page = (docs / PAGE).read_text(encoding="utf-8").partition(MARK)[0]
    return page + MARK + "".join(line for format_ in (rule_format(), case_format()) for line in _tables(format_))


def _tables(format_: Format) -> Iterator[str]:
    files = {row.holds: row.at for row in format_.files.values() if row.at}
    for section in format_.sections.values():
        where = f" (`{files[section.name]}`)" if section.name in files else ""
        yield f"\n### Keys: {section.name}{where}\n\n{section.about}\n\n| key | | holds | means |\n|---|---|---|---|\n"
        for key in section.keys.values():
            if key.name != DELIBERATE:
                means = " ".join([key.about, *(f"`{word}`: {text}" for word, text in key.kind.words)]).replace(
                    "|", "\\|"
                )
                yield f"| `{key.name}` | {_needed(section, key.name)} | {_holds(key.kind)} | {means} |\n"


def _needed(section: KeySet, key: str) -> str:
    if key in section.one_of:
        return "one of these" if len(section.one_of) > 1 else "needed"
    if key in section.needed:
        return "needed"
    return "at times" if any(key in row.needs for row in section.conditions) else "optional"


def _holds(kind: Kind) -> str:
    linked = f"[{kind.section}](#keys-{kind.section.replace(' ', '-')})"
    written = {
        "number": f"number from {kind.low:.9g} to {kind.high:.9g}".replace("1e-06", "0.000001"),
        "choice": "one of " + ", ".join(f"`{word}`" for word, _ in kind.words),
        **dict.fromkeys(("name", "conclusion"), f"name ({kind.of})"),
        "names": f"name ({kind.of}), or a list of names",
        "thing": linked,
        "answer": f"text, or {linked}",
        "things": f"by name: {linked}",
        "list": f"list of: {linked}",
        "changes": f"by name, what differs: {linked}",
    }
    if kind.word == "table":
        return f"{'text' if kind.of == 'text' else f'names ({kind.of})'}, each with: {_holds(kind.to)}"
    return SHAPES[kind.word].expected if kind.word in SHAPES else (WRITTEN | written)[kind.word]
