"""What the answer to one observation makes of all its tests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnose.engine.layout import FIRST_TEST, IN_WORDS, Program, Test
from diagnose.engine.values import FALSE, UNKNOWN, answered, bound_value, measured
from diagnose.model.premises import Bound


class Questions:
    """The tests of one observation; they stand next to each other among the nodes, from `first` on."""

    def __init__(self, first: int, tests: Sequence[Test], limits: Mapping[str, float]) -> None:
        self.first = first
        self._tests = [
            (
                relation,
                tuple(names),
                None if relation == IN_WORDS else bound_value(Bound(amount, tuple(names)), limits),
            )
            for relation, amount, names in tests
        ]
        words = {name for relation, names, _ in self._tests if relation == IN_WORDS for name in names}
        self._by_word = {word: self._judge(word) for word in words}
        self._other_word = bytes(FALSE if relation == IN_WORDS else UNKNOWN for relation, _, _ in self._tests)
        self._unanswered = bytes([UNKNOWN]) * len(tests)

    def judged(self, value: str | float | None) -> bytes:
        """The values of the tests, a byte each, for an answer in words, a reading in psi, or no answer."""
        if value is None:
            return self._unanswered
        if isinstance(value, str):
            return self._by_word.get(value, self._other_word)
        return self._judge(value)

    def _judge(self, value: str | float) -> bytes:
        return bytes(
            answered(value, names) if relation == IN_WORDS else measured(value, relation, bound)
            for relation, names, bound in self._tests
        )


def questions(program: Program, limits: Mapping[str, float]) -> dict[str, Questions]:
    """Every observation that the program tests, in the order of the nodes."""
    found: dict[str, Questions] = {}
    first = FIRST_TEST
    for observation, tests in program.tests:
        found[observation] = Questions(first, tests, limits)
        first += len(tests)
    return found
