"""What a page shows of a consultation: what was said and asked, and what may be replied, as data for its script."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from typing import Any

from diagnose.cases.writing import written_size
from diagnose.consulting import screens
from diagnose.consulting.talking import KEY_WORDS, Awaited, Takes
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import capital
from diagnose.drawing.schematic.schematic_svg import schematic_svg
from diagnose.knowledge.quantities import PRESSURE_UNITS
from diagnose.model.assembly import Assembly
from diagnose.model.foreign import clean
from diagnose.pages.templates import blocks_html
from diagnose.sheet.blocks import Block, Heading, Paragraph
from diagnose.sheet.first_screen import WAYS_ON

Data = dict[str, Any]
# Help tells what can be typed; on a page nothing is.
BUTTONS = tuple(row for row in KEY_WORDS if row.key != "h")


class Listener:
    """The other side of the dialogue where nobody can be waited for: it takes down what is said."""

    def __init__(self) -> None:
        self.said: list[Block] = []

    def say(self, blocks: Iterable[Block]) -> None:
        """Takes blocks down."""
        self.said += blocks

    def tell(self, text: str) -> None:
        """Takes a sentence down."""
        if text:
            self.said.append(Paragraph(clean(capital(text))))

    def hear(self, prompt: str) -> str:
        """Nothing can be heard here: the dialogue is sent its lines."""
        raise EOFError(prompt)

    def taken(self) -> list[Block]:
        """What was said since this was last asked for."""
        said, self.said = self.said, []
        return said


def screen_of(said: Sequence[Block], awaited: Awaited, before: Awaited | None, result: Diagnosis, unit: str) -> Data:
    """A screen: what was `said` since the last line, up to the question; the question; and what may be replied.

    Where the question of `before` is not said anew ("that is no answer") `again` says that it stands as it was.
    """
    shown = [row for row in said if row not in (WAYS_ON, screens.numbered(awaited.options))]
    headings = [(place, row.text) for place, row in enumerate(shown) if isinstance(row, Heading) and row.level == 1]
    starts = [place for place, text in headings if text == (awaited.question or text)]
    earlier, asked = (shown[: starts[-1]], shown[starts[-1] + 1 :]) if starts else (shown, [])
    own = awaited.question or (awaited.about.title if awaited.about else _short(awaited.prompt))
    data: Data = {
        "said": blocks_html(earlier),
        "title": headings[-1][1] if starts and not awaited.question else own,
        "asked": blocks_html(asked),
        "again": not starts and awaited == before,
        "page": any(isinstance(row, Heading) for row in earlier),
        "reply": _reply(awaited, result.assembly, unit),
    }
    return data | {"id": hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()[:16]}


def last_screen(said: Sequence[Block]) -> Data:
    """What is said when the consultation is over."""
    return {
        "said": blocks_html(said),
        "title": "",
        "asked": "",
        "again": False,
        "page": False,
        "reply": None,
        "id": "end",
    }


def where_html(result: Diagnosis, unit: str, part: str) -> str:
    """The schematic of the assembly, with the part in question marked; "" where its type is not drawn."""
    drawn = schematic_svg(result, unit)
    return drawn.replace(f'data-part="{part}"', f'data-part="{part}" class="in-question"') if part else drawn


def _reply(awaited: Awaited, assembly: Assembly, unit: str) -> Data:
    return {
        "prompt": _short(awaited.prompt),
        "takes": awaited.takes.value,
        "options": _options(awaited, assembly),
        "units": _units(awaited, unit),
        "left_out": awaited.left_out,
        "keys": [
            {"key": row.key, "label": row.words[0].capitalize(), "does": row.does}
            for row in BUTTONS
            if row.key in awaited.keys
        ],
    }


def _options(awaited: Awaited, assembly: Assembly) -> list[list[str]]:
    """The line that each option is chosen by, and its words."""
    if awaited.takes is Takes.SIZE:
        sizes = [written_size(size) for size, _ in assembly.size_minutes]
        return [[size, size] for size in sizes]
    return [[str(number), clean(meaning)] for number, (_, meaning) in enumerate(awaited.options, 1)]


def _units(awaited: Awaited, unit: str) -> list[str]:
    """The units of a reading, the usual one first."""
    if awaited.takes is not Takes.READING or awaited.about is None:
        return []
    usual = screens.shown_unit(awaited.about, unit)
    return [usual, *(row for row in PRESSURE_UNITS if row != usual)]


def _short(prompt: str) -> str:
    """A prompt without what tells of keys."""
    return prompt.partition("(")[0].strip()
