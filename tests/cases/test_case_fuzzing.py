"""Whatever stands in a case file: a case, or problems that name their file; never another exception."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.cases.reading import read_case, read_type
from diagnose.knowledge.yamltext import read_bytes
from diagnose.model.assembly import Assembly
from tests.knowledge.damage import anything, dumped, result_or_problems
from tests.volume import some_of

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
@settings(deadline=None, max_examples=some_of(300, 3))
def test_any_bytes(small: dict[str, Assembly], data: bytes) -> None:
    result_or_problems(lambda: read(data, small))


@given(anything)
@settings(deadline=None, max_examples=some_of(200, 3))
def test_any_bytes_as_a_case_of_a_known_type(small: dict[str, Assembly], data: bytes) -> None:
    result_or_problems(lambda: read_case(read_bytes(data, "case.yaml"), small["TWIN"]))


@given(near_cases)
@settings(deadline=None, max_examples=some_of(300, 3))
def test_right_keys_with_any_values(small: dict[str, Assembly], entries: dict[str, object]) -> None:
    import yaml  # noqa: PLC0415  writes what the case reader reads

    data = yaml.safe_dump({"assembly": "TWIN"} | entries).encode()
    result_or_problems(lambda: read(data, small))


@given(dumped)
@settings(deadline=None, max_examples=some_of(200, 3))
def test_any_structure_as_observations(small: dict[str, Assembly], data: bytes) -> None:
    inner = b"".join(b"  " + line for line in data.splitlines(keepends=True))
    result_or_problems(lambda: read(b"assembly: TWIN\nobservations:\n" + inner, small))
