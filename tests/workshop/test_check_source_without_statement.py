from __future__ import annotations

from pathlib import Path

from tests.workshop.laying import place_of, replaced, told

FILE = "assemblies/twin.cases.yaml"
STATES = "    states: A stream comes from a leaking first flap.\n"


def test_a_source_without_what_it_states(tiny: Path) -> None:
    assert told(tiny, "source-without-statement") == []
    replaced(tiny, FILE, STATES, "")
    message = "the case cites 'LEAFLET' but does not say under 'states' what is stated there"
    place = place_of(tiny, FILE, "name: A stream")
    assert told(tiny, "source-without-statement") == [f"{place}: {message}"]


def test_a_statement_without_its_source(tiny: Path) -> None:
    replaced(tiny, FILE, "    source: LEAFLET\n", "")
    message = "the case says what is stated but not under 'source' where"
    assert told(tiny, "source-without-statement") == [f"{place_of(tiny, FILE, 'name: A stream')}: {message}"]
