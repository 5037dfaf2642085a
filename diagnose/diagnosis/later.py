"""Work that is done when its result is asked for, and then once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

Value = TypeVar("Value")


class Later(Generic[Value]):
    """A value that may never be needed and takes time to work out."""

    def __init__(self, work_out: Callable[[], Value]) -> None:
        self._work_out: Callable[[], Value] | None = work_out
        self._value: Value

    def value(self) -> Value:
        """The value, worked out now or before."""
        if self._work_out is not None:
            self._value = self._work_out()
            self._work_out = None
        return self._value
