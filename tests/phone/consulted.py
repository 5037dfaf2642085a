"""Ten consultations as `ask` holds them: what was typed, what was shown in the end, and the case that was kept."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from diagnose.cases.writing import case_text
from diagnose.consulting.dialogue import ANSWER, ENDING, NUMBER, Consultation
from diagnose.consulting.screens import GOING_ON, numbered
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.sheet.blocks import Block, Entries
from tests.consulting.person import Person, case_with
from tests.shipped import LIBRARY

TEN: dict[str, tuple[str, dict[str, str], str]] = {
    "relief valve runs": ("RP", {"relief_valve_discharge": "continuous", "size": "1 in"}, "go on"),
    "relief valve spits in a vault": ("RP", {"relief_valve_discharge": "spitting", "in_vault": "yes"}, "go on"),
    "first check reads low": (
        "RP",
        {
            "reason_for_visit": "failed_test",
            "first_check_differential": "1.2 psid",
            "relief_valve_opening_point": "2.4 psid",
            "hoses_bled": "yes",
            "size": "2 in",
        },
        "go on",
    ),
    "nothing is known": ("RP", {}, "plan"),
    "wet outside": ("DC", {"water_outside": "cover", "size": "50 mm"}, "stay"),
    "second check reads nothing": (
        "DC",
        {"first_check_differential": "2.1 psid", "second_check_differential": "0 psid", "fire_line": "yes"},
        "go on",
    ),
    "canopy drips": ("PVB", {"canopy_water": "continuous", "size": "1 1/2 in"}, "go on"),
    "air inlet opens late, in kilopascals": ("PVB", {"air_inlet_opening_point": "4 kPa"}, "go on"),
    "spill-resistant, passes": (
        "SVB",
        {"check_differential": "1.4 psid", "air_inlet_opening_point": "1.6 psid"},
        "go on",
    ),
    "meter of the bypass moves": ("DCDA", {"reason_for_visit": "meter_moves", "size": "4 in"}, "plan"),
}


class Held(NamedTuple):
    """A consultation that was held: the lines, the last blocks before its end, the answer and the text of the case."""

    type: str
    lines: tuple[str, ...]
    last: tuple[Block, ...]
    answer: str
    case: str


class Noted(Person):
    """A person whose lines are written down, with how much was shown before each."""

    def __init__(self, assembly: Assembly, table: Mapping[str, str], enter: str) -> None:
        super().__init__(assembly, table, enter=enter)
        self.rows = {row.name: row for row in assembly.observations}
        self.lines: list[str] = []
        self.starts: list[int] = []

    def hear(self, prompt: str) -> str:
        line = self._number(prompt, super().hear(prompt))
        self.lines.append(line)
        self.starts.append(len(self.shown))
        return line

    def _number(self, prompt: str, line: str) -> str:
        """The number of the option that a word stands for: a button has no words to type."""
        options = {ANSWER: dict(self.rows[self.asked[-1]].answers) if self.asked else {}, NUMBER: dict(self.choices)}
        names = list(options.get(prompt, {}))
        return str(names.index(line) + 1) if line in names else line

    @property
    def choices(self) -> tuple[tuple[str, str], ...]:
        last = [block for block in self.shown if isinstance(block, Entries)][-1]
        return GOING_ON if last == numbered(GOING_ON) else ENDING


@cache
def held(name: str) -> Held:
    kind, table, enter = TEN[name]
    ready, kept = LIBRARY.get(kind), list[Case]()
    person = Noted(ready.assembly, table, enter)
    talk = Consultation(ready, case_with(kind), person, kept.append)
    talk.run()
    last = person.shown[person.starts[-2] : person.starts[-1]] if len(person.starts) > 1 else person.shown
    case = kept[-1] if kept else case_with(kind)
    return Held(kind, tuple(person.lines), tuple(last), talk.result.answer, case_text(case))
