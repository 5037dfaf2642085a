"""Where a page in the browser asks and is answered: a request as JSON in, the answer as JSON out.

All that a page shows of a case comes from here: nothing of the consultation is written twice. One case at a time.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from diagnose.cases.reading import read_case, read_type
from diagnose.cases.writing import case_text
from diagnose.consulting.dialogue import Consultation
from diagnose.consulting.recording import fit_to_keep
from diagnose.consulting.sitting import empty_case
from diagnose.consulting.talking import Awaited, Conversing, Stopped
from diagnose.diagnosis.result import Diagnosis
from diagnose.knowledge.yamltext import read_bytes
from diagnose.model.case import Case
from diagnose.model.places import ProblemsFoundError
from diagnose.phone.screen import Data, Listener, last_screen, screen_of, where_html
from diagnose.phone.stock import Stock
from diagnose.sheet.blocks import Paragraph

if TYPE_CHECKING:
    from diagnose.practice.practising import Practising

LONGEST_TITLE = 110
KEPT_NAME = "case"
GO_ON = "Go on with the consultation and answer it: it may change what to do."


class Desk:
    """Holds the consultation over one case. Pressures are shown in `unit`.

    `kept` is called with the text of the case after each change, before it is worked through.
    """

    def __init__(self, stock: Stock, unit: str = "psid", kept: Callable[[str], object] | None = None) -> None:
        self._stock, self._unit, self._kept = stock, unit, kept
        self._listener = Listener()
        self._consultation: Consultation | Practising | None = None
        self._talking: Conversing[None] | None = None
        self._awaited: Awaited | None = None
        self._case = ""

    def answer(self, request: str) -> str:
        """The answer to a request: its data, or the problems that were found in it."""
        asked: Data = json.loads(request)
        does: dict[str, Callable[..., Data]] = {
            "types": self.types,
            "begin": self.begin,
            "practise": self.practise,
            "resume": self.resume,
            "reply": self.reply,
            "where": self.where,
            "work": self.work,
            "message": self.message,
            "sheet": self.sheet,
        }
        try:
            found = does[asked.pop("do")](**asked)
        except ProblemsFoundError as error:
            found = {"problems": [line for problem in error.problems for line in problem.lines()]}
        return json.dumps(found)

    def types(self) -> Data:
        """Every type with its title."""
        return {"types": [[name, self._stock.get(name).assembly.title] for name in self._stock.names.types]}

    # The consultation

    def begin(self, type: str, title: str = "", lines: Sequence[str] = (), seen: Sequence[str] = ()) -> Data:  # noqa: A002
        """A new case, and the lines that were replied to the screens `seen` before this could be asked.

        The first line that was replied to another screen than the one that comes, and all after it, do not count.
        """
        case = empty_case(self._stock.get(type).assembly)
        screen = self._consult(case._replace(title=fit_to_keep(title)[:LONGEST_TITLE]))
        for line, expected in zip(lines, seen, strict=True):
            if screen["id"] != expected:
                break
            screen = self.reply(line)
        return screen

    def resume(self, text: str, name: str = KEPT_NAME) -> Data:
        """Goes on with a case as it was kept or received.

        Raises:
            ProblemsFoundError: with every problem of its text.
        """
        node = read_bytes(text.encode(), name)
        ready = self._stock.get(read_type(node, self._stock.names))
        return self._consult(read_case(node, ready.assembly))

    def _consult(self, case: Case) -> Data:
        ready = self._stock.get(case.type)
        self._listener, self._case = Listener(), case_text(case)
        try:
            self._consultation = Consultation(ready, case, self._listener, self._keep, self._unit)
        except ValueError as error:
            return {"problems": [f"{KEPT_NAME}: error: what is observed cannot be together: {error}"]}
        self._talking, self._awaited = self._consultation.conversing(), None
        return self._on(next)

    def practise(self, type: str, level: str = "", number: str = "") -> Data:  # noqa: A002
        """Practice on an assembly of this level and number, any where they are left out. No case is kept of it."""
        from diagnose.practice.levels import MOST_NUMBER, hidden_assembly, meant  # noqa: PLC0415  seldom asked for
        from diagnose.practice.practising import Practising  # noqa: PLC0415

        digits = number.strip()
        if digits and not (digits.isdecimal() and 1 <= int(digits) <= MOST_NUMBER):
            return {"problems": [f"A number is a whole one from 1 to {MOST_NUMBER}; leave it out for any."]}
        try:
            kind, chosen = meant(level, int(digits) if digits else None)
            hidden = hidden_assembly(self._stock.get(type), kind, chosen)
        except ValueError as error:
            return {"problems": [f"{error}."]}
        self._listener = Listener()
        again = Paragraph(f"Level {kind.name}, number {chosen}, as long as the rules stay as they are.")
        self._consultation = Practising(hidden, self._listener, again, self._unit)
        self._talking, self._awaited = self._consultation.conversing(), None
        return self._on(next)

    def reply(self, line: str) -> Data:
        """What comes after a line."""
        return self._on(lambda talking: talking.send(line))

    def _on(self, step: Callable[[Conversing[None]], Awaited]) -> Data:
        assert self._talking is not None and self._consultation is not None  # noqa: S101, PT018  a case was begun
        before = self._awaited
        try:
            self._awaited = step(self._talking)
        except (StopIteration, Stopped):
            self._talking, self._awaited = None, None
            return last_screen(self._listener.taken()) | self._standing()
        said, result = self._listener.taken(), self._consultation.result
        return screen_of(said, self._awaited, before, result, self._unit) | self._standing()

    def _keep(self, case: Case) -> None:
        self._case = case_text(case)
        if self._kept is not None:
            self._kept(self._case)

    def _standing(self) -> Data:
        """What the page keeps and puts into its lists: the case as a file has it; nothing of a practice."""
        if not isinstance(self._consultation, Consultation):
            return {}
        result = self._result()
        return {"case": self._case, "type": result.case.type, "name": result.case.title, "answer": result.answer}

    def _result(self) -> Diagnosis:
        assert self._consultation is not None  # noqa: S101  a case was begun
        return self._consultation.result

    # What can be had of the case at any time

    def where(self) -> Data:
        """The schematic with the part in question marked."""
        about = self._awaited.about if self._awaited else None
        return {"html": where_html(self._result(), self._unit, about.component if about else "")}

    def work(self) -> Data:
        """The numbered work with each caution in its step, to be ticked."""
        from diagnose.pages.sheet import work_html  # noqa: PLC0415  seldom asked for

        return {"html": work_html(self._now(), GO_ON)}

    def message(self) -> Data:
        """Five lines to send to somebody."""
        from diagnose.pages.sheet import message_of  # noqa: PLC0415

        return {"text": message_of(self._now(), self._unit)}

    def sheet(self) -> Data:
        """The sheet of the case as a page of its own, without the diagram of the reasoning."""
        from diagnose.pages.sheet import sheet_page  # noqa: PLC0415

        return {"html": sheet_page(self._now(), self._unit, with_reasoning=False)}

    def _now(self) -> Diagnosis:
        """The case as it is kept, its record too."""
        node = read_bytes(self._case.encode(), KEPT_NAME)
        return Diagnosis(self._result().ready, read_case(node, self._result().assembly))


def opened(folder: str, unit: str, kept: Callable[[str], object]) -> Desk:
    """A desk over the rule base in a folder; `kept` is called with each case that is to be kept."""
    return Desk(Stock(Path(folder)), unit, kept)
