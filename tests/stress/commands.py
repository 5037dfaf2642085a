"""The command in this process, with the bytes that it is given."""

from __future__ import annotations

import gc
import io
import sys
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout

from diagnose.cli.main import main


def command(arguments: Sequence[str], given: bytes = b"") -> tuple[int, str]:
    """Exit code and standard error."""
    before, told = sys.stdin, io.StringIO()
    sys.stdin = io.TextIOWrapper(io.BytesIO(given), encoding="utf-8")
    try:
        with redirect_stdout(io.StringIO()), redirect_stderr(told):
            main(arguments)
    except SystemExit as stop:
        return int(stop.code or 0), told.getvalue()
    finally:
        sys.stdin = before
        gc.enable()  # a command that ends leaves it off
    return 0, told.getvalue()
