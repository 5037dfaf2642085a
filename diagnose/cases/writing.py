"""Writing a case as YAML that a person can edit and `reading.py` reads back; and an empty one, ready to fill in."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from diagnose.knowledge.quantities import (
    KPA_PER_PSI,
    MM_PER_INCH,
    PRESSURE_UNITS,
    parse_pressure,
    parse_size,
    show_pressure,
)
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer, Case, Record
from diagnose.model.work import Observation

WIDTH = 78

Group = tuple[str, Sequence[Observation]]


def blank_case(assembly: Assembly, groups: Iterable[Group], *, in_full: bool) -> str:
    """A case file of this type that reads as it is and knows nothing yet, with these groups of observations.

    In full each has its question and what its answers mean; else it has one line. No place is filled in, so that one
    that is left blank is told as such.
    """
    profiles = ", ".join(profile.name for profile in assembly.profiles)
    lines = [
        f"# A case of the type {assembly.type}: {assembly.title}.",
        "# Take away the '# ' before a line and write what was seen; leave out what is unknown.",
        f"# Readings need a unit: {', '.join(PRESSURE_UNITS)}.",
        *([] if in_full else [f"# What each question means: diagnose questions {assembly.type}. All of them: --all."]),
        f"assembly: {assembly.type}",
        "# title:",
        "# tag:  # which assembly it is: serial number, or a number of its owner's",
        "# size:  # as in 1 1/2 in, 50 mm",
        *_comment(f"Acceptance limits to judge by. One of: {profiles}."),
        f"profile: {assembly.default_profile}",
    ]
    if in_full:
        states = ", ".join(row.name for row in assembly.states)
        lines += [
            "# location:",
            "# installed:  # as in 2019, 2019-05 or 2019-05-14",
            "# tested_on:  # as in 2026-11-29",
            "# gauge_accuracy:",
            "# notes:",
            *_comment(f"The state it was brought into. One of: {states}."),
            "# state:",
        ]
    lines.append("observations:")
    for title, rows in groups:
        lines += ["", f"  # == {title} ==", *(line for row in rows for line in _lines(row, in_full=in_full))]
    return "\n".join(lines) + "\n"


def _lines(row: Observation, *, in_full: bool) -> Iterator[str]:
    if not in_full:
        yield from _comment(
            f"{row.name}:  # {', '.join(name for name, _ in row.answers) or _range(row)}", "  ", "  #     # "
        )
        return
    answers = [name if text == name else f"{name}: {text}" for name, text in row.answers] or [_range(row)]
    yield ""
    yield from _comment(row.question, "  ")
    for text in answers:
        yield from _comment(f"- {text}", "  ")
    yield f"  # {row.name}:"


def _range(row: Observation) -> str:
    low, high = (show_pressure(bound, row.unit) for bound in (row.low, row.high))
    return f"a reading, {low} to {high}"


def _comment(text: str, indent: str = "", further: str = "") -> Iterable[str]:
    start = f"{indent}# "
    return textwrap.wrap(
        text, WIDTH, initial_indent=start, subsequent_indent=further or f"{indent}#   ", break_on_hyphens=False
    )


# Text that YAML reads as it stands, whatever it looks like: letters, digits and a few signs, no sign at the start.
_PLAIN = re.compile(r"[A-Za-z0-9_](?:[\w .,/()+%'-]*[\w.,/()+%'-])?")
# What a line of a block may hold: no character that YAML takes for the end of a line or refuses.
_IN_BLOCK = re.compile("[\t -~\xa0-\u2027\u202a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]*")
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}
_OUTRIGHT = re.compile("[ -~\xa1-\u2027\u2030-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]")


def case_text(case: Case, head: str = "") -> str:
    """The case as YAML; read again it gives the same case: texts without blanks at their ends, the title on one line.

    `head` are comment lines that go before it. Texts may hold any character that a case file may hold.
    """
    lines = [*head.splitlines(), *_entry("assembly", case.type)]
    for key, text in (("title", case.title), ("tag", case.tag), ("location", case.location)):
        lines += _entry(key, text)
    lines += [*_entry("installed", case.installed), *_entry("tested_on", case.tested_on)]
    if case.size:
        lines.append(f"size: {written_size(case.size)}")
    lines += _entry("profile", case.profile)
    if case.gauge_accuracy is not None:
        lines.append(f"gauge_accuracy: {_written_pressure(case.gauge_accuracy)}")
    lines += _entry("notes", case.notes)
    lines += _entry("state", case.state)
    if case.parts:
        lines.append(f"parts: [{', '.join(case.parts)}]")
    lines += ["observations:", *_answers(case.answers, "  ")]
    lines += _record(case.record)
    return "\n".join(lines) + "\n"


def _record(record: Record) -> list[str]:
    lines = [*_entry("closed_on", record.closed_on, "  "), *_texts("found", record.found), *_texts("done", record.done)]
    if record.minutes:
        lines += ["  minutes:", *(f"    {_scalar(name)}: {number:.10g}" for name, number in record.minutes)]
    lines += _texts("parts_used", record.parts_used)
    if record.final_test:
        lines += ["  final_test:", *_answers(record.final_test, "    ")]
    lines += _entry("passed", record.passed, "  ")
    return ["record:", *lines] if lines else []


def _texts(key: str, texts: Iterable[str]) -> list[str]:
    lines = [line for text in texts for line in _entry("-", text, "    ")]
    return [f"  {key}:", *lines] if lines else []


def _answers(answers: Iterable[tuple[str, Answer]], indent: str) -> Iterator[str]:
    for name, answer in answers:
        yield f"{indent}{name}: {_scalar(answer.written)}"


def _entry(key: str, text: str, indent: str = "") -> list[str]:
    """`key: text`, or `- text`; no line where there is no text. Long text goes below, in lines that can be edited."""
    text = text.strip()
    if not text:
        return []
    lead = f"{indent}-" if key == "-" else f"{indent}{key}:"
    style, rows = _block(text)
    if not rows:
        return [f"{lead} {_scalar(text)}"]
    return [f"{lead} {style}", *(f"{indent}  {row}" if row else "" for row in rows)]


def _block(text: str) -> tuple[str, list[str]]:
    """How YAML marks a block, and its lines; none where the text is short, or no block gives it back unchanged."""
    lines = text.split("\n")
    if not all(map(_IN_BLOCK.fullmatch, lines)):
        return "", []
    if len(lines) > 1:
        return "|-", lines
    rows = textwrap.wrap(text, WIDTH, break_long_words=False, break_on_hyphens=False)
    return (">-", rows) if len(rows) > 1 and " ".join(rows) == text else ("", [])


def _scalar(text: str) -> str:
    if _PLAIN.fullmatch(text):
        return text
    return '"' + "".join(map(_escaped, text)) + '"'


def _escaped(char: str) -> str:
    if char in _ESCAPES:
        return _ESCAPES[char]
    return char if _OUTRIGHT.fullmatch(char) else f"\\U{ord(char):08X}"


def written_size(inches: float) -> str:
    """A size as a case file has it: `2 in`, `1 1/2 in`, or millimeters where inches do not come out even."""
    fraction = Fraction(inches).limit_denominator(16)
    whole, over, under = fraction.numerator // fraction.denominator, fraction % 1, fraction.denominator
    even = f"{whole} " * bool(whole) + f"{over.numerator}/{under} in" if under > 1 else f"{whole} in"
    metric = f"{round(inches * MM_PER_INCH, 3):g} mm"
    return next(
        (text for text in (even, f"{inches:.3f} in", metric) if _reads(text, inches)),
        f"{inches * MM_PER_INCH:.3f} mm",
    )


def _reads(text: str, inches: float) -> bool:
    try:
        return parse_size(text) == inches
    except ValueError:
        return False


def _written_pressure(psi: float) -> str:
    exact = f"{psi:.6f}".rstrip("0").rstrip(".") + " psid"
    short = [f"{psi:.4g} psid", f"{psi * KPA_PER_PSI:.4g} kPa", f"{psi * KPA_PER_PSI / 100:.4g} bar"]
    return next((text for text in short if "e" not in text and parse_pressure(text) == psi), exact)
