from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshop.laying import place_of, replaced, told

FILE = "parts/flap.yaml"
OLD = "Wipe the seat of the {component} and look at it in good light."


def _words(count: int) -> str:
    return " ".join(["word"] * count)


@pytest.mark.parametrize("text", [_words(33), f"Short. {_words(34)}. Short."])
def test_a_sentence_of_more_than_32_words(tiny: Path, text: str) -> None:
    replaced(tiny, FILE, OLD, text)
    count = max(len(part.split()) for part in text.split(". "))
    message = f"'how' has a sentence of {count} words; make two of it, of 32 words at most"
    assert told(tiny, "long-sentence") == [f"{place_of(tiny, FILE, text[:12])}: {message}"]


@pytest.mark.parametrize("text", [_words(32), f"{_words(30)}. {_words(30)}", f'"{_words(20)}: {_words(20)}"'])
def test_sentences_that_are_short_enough(tiny: Path, text: str) -> None:
    replaced(tiny, FILE, OLD, text)
    assert told(tiny, "long-sentence") == []


def test_answers_grades_and_steps_are_read_too(tiny: Path) -> None:
    replaced(tiny, FILE, "clean, the {component} is as new", _words(33))
    replaced(tiny, FILE, "The rubber of the {component} is good.", _words(34))
    replaced(tiny, FILE, "      - Wipe it.", f"      - {_words(35)}")
    assert [line.partition(": ")[2].split()[0] for line in told(tiny, "long-sentence")] == [
        "'answers'",
        "'says'",
        "'steps'",
    ]


def test_the_title_of_a_publication_is_left_alone(tiny: Path) -> None:
    replaced(tiny, "sources.yaml", "An invented leaflet", _words(40))
    assert told(tiny, "long-sentence") == []
