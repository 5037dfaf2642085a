"""Being ended from outside: by Ctrl-C, by a request to end, by a terminal that is closed."""

from __future__ import annotations

import errno
import os
import select
import signal
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

CTRL_C = 130


class OrderlyEnd:
    """What is to end the command raises KeyboardInterrupt, once; from then on, or once `heard`, it is only noted.

    `code` is the exit code that a shell expects then: 130 after Ctrl-C, 143 after SIGTERM, 129 after SIGHUP; 0: none.
    """

    def __init__(self) -> None:
        self.code, self.heard = 0, False

    def __call__(self, number: int, _: FrameType | None) -> None:
        """Takes a signal."""
        self.code = self.code or 128 + number
        if not self.heard:
            self.heard = True  # a second Ctrl-C must not cut off what is said and kept at the end
            raise KeyboardInterrupt


@contextmanager
def ending() -> Iterator[OrderlyEnd]:
    """Takes Ctrl-C (SIGINT), a request to end (SIGTERM) and a closed terminal (SIGHUP) as `OrderlyEnd` says.

    SIGINT is taken also where a shell has started the command in the background and so with SIGINT ignored; SIGHUP
    that is ignored (`nohup`) stays so.
    """
    numbers = [signal.SIGINT, signal.SIGTERM]
    hangup = getattr(signal, "SIGHUP", None)
    if hangup is not None and signal.getsignal(hangup) is not signal.SIG_IGN:
        numbers.append(hangup)
    end = OrderlyEnd()
    before = {number: signal.signal(number, end) for number in numbers}
    try:
        yield end
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@contextmanager
def perhaps_unseen() -> Iterator[None]:
    """What is said within may find that the terminal is gone, and is then said to nobody."""
    try:
        yield
    except OSError as error:
        if error.errno != errno.EIO:
            raise
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # Python would try again at exit


def pause(seconds: float) -> None:
    """Waits, and passes over what is typed meanwhile.

    Raises:
        EOFError: standard input has come to its end. That of a pipe or terminal counts; /dev/null or a file, with
            which commands are started in the background, say nothing.
    """
    source, until = _open_input(), time.monotonic() + seconds
    while (left := until - time.monotonic()) > 0:
        if source is None or not select.select([source], [], [], left)[0] or _in_background(source):
            time.sleep(max(0.0, until - time.monotonic()))
        elif not _read(source):
            raise EOFError


def _open_input() -> int | None:
    """Standard input, where its end can tell that nobody is there any more."""
    if sys.stdin is None or sys.platform == "win32":  # where `select` knows nothing but the network
        return None
    try:
        source = sys.stdin.fileno()
        mode = os.fstat(source).st_mode
    except (OSError, ValueError):
        return None
    return source if stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode) or os.isatty(source) else None


def _in_background(source: int) -> bool:
    """Whether to read from the terminal would stop the process."""
    try:
        return os.isatty(source) and os.tcgetpgrp(source) != os.getpgrp()
    except OSError:
        return False


def _read(source: int) -> bytes:
    try:
        return os.read(source, 65536)
    except OSError:  # the terminal is gone
        return b""
