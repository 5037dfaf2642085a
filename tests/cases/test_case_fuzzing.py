"""Whatever stands in a case file: a case, or problems that name their file; never another exception."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.cases.blank import blank_case
from diagnose.cases.reading import read_case, read_type
from diagnose.knowledge.yamltext import read_bytes
from diagnose.model.assembly import Assembly
from tests.knowledge.damage import anything, dumped, edited, exchanged, result_or_problems, seeds
from tests.knowledge.reading import node_of
from tests.knowledge.writing import yaml_of

GOOD = (
    "assembly: TWINB\ntitle: at the mill\nsize: 1 1/2 in\nprofile: strict_town\nnotes: |\n  wet\n  and cold\n"
    "gauge_accuracy: 0.2 psid\nobservations:\n  bypass.port: drip\n  first_reading: 1.2 psid\n  meter: no\n"
    "  flap_1.seat: gritty\n  margin: -0.5 bar\n"
)
KEYS = ["assembly", "title", "size", "profile", "notes", "gauge_accuracy", "observations", "port", "first_reading"]
values = st.sampled_from(["TWIN", "drip", "1 psid", "2 in", "plain_town", "", "no", "1e9 bar"]) | st.text(max_size=9)
near_cases = st.dictionaries(
    st.sampled_from(KEYS),
    values | st.lists(values, max_size=2) | st.dictionaries(st.sampled_from(KEYS) | values, values, max_size=4),
)


def read(data: bytes, small: dict[str, Assembly]) -> None:
    node = read_bytes(data, "case.yaml")
    read_case(node, small[read_type(node, small)])


@given(anything)
@settings(deadline=None, max_examples=300)
def test_any_bytes(small: dict[str, Assembly], data: bytes) -> None:
    result_or_problems(lambda: read(data, small))


@given(anything)
@settings(deadline=None, max_examples=200)
def test_any_bytes_as_a_case_of_a_known_type(small: dict[str, Assembly], data: bytes) -> None:
    result_or_problems(lambda: read_case(read_bytes(data, "case.yaml"), small["TWIN"]))


@given(near_cases)
@settings(deadline=None, max_examples=300)
def test_right_keys_with_any_values(small: dict[str, Assembly], entries: dict[str, object]) -> None:
    import yaml  # noqa: PLC0415  writes what the case reader reads

    data = yaml.safe_dump({"assembly": "TWIN"} | entries).encode()
    result_or_problems(lambda: read(data, small))


@given(dumped)
@settings(deadline=None, max_examples=200)
def test_any_structure_as_observations(small: dict[str, Assembly], data: bytes) -> None:
    inner = b"".join(b"  " + line for line in data.splitlines(keepends=True))
    result_or_problems(lambda: read(b"assembly: TWIN\nobservations:\n" + inner, small))


@given(seeds)
@settings(deadline=None, max_examples=400)
def test_a_good_case_with_letters_and_lines_changed(small: dict[str, Assembly], seed: int) -> None:
    order = random.Random(seed)  # noqa: S311  nothing secret
    text = order.choice((GOOD, blank_case(small["TWIN"])))
    result_or_problems(lambda: read(edited(text, order).encode(), small))


@given(seeds)
@settings(deadline=None, max_examples=400)
def test_a_good_case_with_values_and_keys_exchanged(small: dict[str, Assembly], seed: int) -> None:
    order = random.Random(seed)  # noqa: S311  nothing secret
    result_or_problems(lambda: read(yaml_of(exchanged(node_of(GOOD), order)).encode(), small))


def test_the_good_case_gives_a_result(small: dict[str, Assembly]) -> None:
    assert result_or_problems(lambda: read(GOOD.encode(), small))
