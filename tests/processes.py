"""Running the tool as a process, from a pipe or at a terminal, within a limit: no test waits for ever."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
SECONDS = 120
PROMPT_ENDS = ("(h for help): ", "(Enter: none) ", "(Enter: not known) ")


def ran(command: Sequence[str], **options: Any) -> subprocess.CompletedProcess[Any]:
    """`subprocess.run` with its output caught and a limit; a command that takes longer is ended and told."""
    usual = {"capture_output": True, "timeout": SECONDS, "check": False}
    return subprocess.run(command, **(usual | options))  # noqa: PLW1510  it is among the usual ones


@contextmanager
def started(command: Sequence[str], **options: Any) -> Iterator[subprocess.Popen[str]]:
    """A process beside the test, with pipes; it is ended after the test, or at the limit, which is told."""
    usual: dict[str, Any] = dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.PIPE)
    usual["preexec_fn"] = as_from_a_prompt
    with subprocess.Popen(command, **(usual | options), text=True) as process:
        limit = threading.Timer(SECONDS, process.kill)
        limit.start()
        try:
            yield process
        finally:
            late = limit.finished.is_set()
            limit.cancel()
            process.kill()
            if late:
                raise AssertionError(f"ended after {SECONDS} s: {' '.join(command)}")


def as_from_a_prompt() -> None:
    """Lets signals end the process; it would inherit them ignored where the tests run in the background or by nohup."""
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)


def tool(*arguments: str) -> list[str]:
    """The command line of `diagnose` with these arguments."""
    return [sys.executable, "-m", "diagnose", *arguments]


def surroundings(cache: Path, **more: str) -> dict[str, str]:
    """The environment of a process that runs the checkout from any folder, with a cache of its own."""
    own = {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", "XDG_CACHE_HOME": str(cache), "COLUMNS": "80"}
    own["XDG_CONFIG_HOME"] = str(cache / "no defaults")
    return os.environ | own | more


class AtTerminal:
    """`diagnose` with these arguments at a terminal of its own; what it shows is in `text`."""

    def __init__(self, arguments: Iterable[str], folder: Path, environment: Mapping[str, str]) -> None:
        self._screen, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 80, 0, 0))
        self.text, self._closed = "", False
        self._process = subprocess.Popen(
            tool(*arguments),
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            cwd=folder,
            env=dict(environment),
            start_new_session=True,
            preexec_fn=_own_terminal,  # noqa: PLW1509  no thread has been started that could hold a lock
        )
        os.close(theirs)

    def __enter__(self) -> AtTerminal:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.wait(SECONDS)
        self.hang_up()

    def shown(self, wanted: str | tuple[str, ...] = PROMPT_ENDS, seconds: float = SECONDS) -> str:
        """What is shown until it ends in one of these; the usual ones are prompts. Fails where that never comes."""
        start, limit = len(self.text), time.monotonic() + seconds
        while not self.text[start:].endswith(wanted):
            left = limit - time.monotonic()
            if left <= 0 or not self._more(left):
                raise AssertionError(f"{wanted!r} never came; shown was:\n{self.text[-3000:]}")
        return self.text[start:]

    def watch(self, seconds: float) -> str:
        """What is shown within a time, or until the process ends."""
        start, limit = len(self.text), time.monotonic() + seconds
        while (left := limit - time.monotonic()) > 0 and self._more(left):
            pass
        return self.text[start:]

    def line(self, text: str) -> None:
        """Types a line."""
        self.type(f"{text}\n")

    def type(self, text: str) -> None:
        """Types keys."""
        os.write(self._screen, text.encode())

    def send(self, number: signal.Signals) -> None:
        """Sends a signal to the process."""
        self._process.send_signal(number)

    def end(self, number: signal.Signals) -> None:
        """Sends a signal to the process until it ends.

        One that comes after a prompt and just before the wait for a line is only noticed with the next.
        """
        for _ in range(int(SECONDS)):
            self.send(number)
            self.watch(1)
            if self.is_over:
                return

    def hang_up(self) -> None:
        """Closes the terminal."""
        if self._screen >= 0:
            os.close(self._screen)
            self._screen = -1

    def ended(self, seconds: float = SECONDS) -> int:
        """The exit code (minus the number of a signal), once all is shown. Fails where it does not end."""
        if self._screen >= 0:
            self.watch(seconds)
        try:
            return self._process.wait(seconds)
        except subprocess.TimeoutExpired:
            raise AssertionError(f"it does not end; shown was:\n{self.text[-3000:]}") from None

    @property
    def is_over(self) -> bool:
        """Whether the process has ended, or will show no more."""
        return self._closed or self._process.poll() is not None

    def _more(self, seconds: float) -> bool:
        """Reads what has been shown; False once the other side is closed."""
        if select.select([self._screen], [], [], seconds)[0]:
            try:
                new = os.read(self._screen, 65536)
            except OSError:  # nobody holds the other side any more
                new = b""
            self._closed = not new
            self.text += new.decode("utf-8", "replace").replace("\r\n", "\n")
        return not self._closed


def _own_terminal() -> None:
    as_from_a_prompt()
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
