"""`python -m tests.benchmarks.phone`: how long the phone's page takes in a browser, beside `find` of the same run.

The runtime is fetched by npm, or taken from the folder that PHONE_RUNTIME names. `--slowed 4` slows each thread of the
page's process to a fourth, by stopping it three moments of four.
"""

from __future__ import annotations

import argparse
import gzip
import os
import signal
import statistics
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import sync_playwright

from diagnose.phone.folder import phone_files
from diagnose.phone.serving import SQUEEZED, served
from tests.pages.browser import chromium, launch
from tests.pages.phone_page import Visited, visited
from tests.phone.consulted import held
from tests.processes import ROOT, ran, tool
from tests.shipped import LIBRARY

MOMENT = 0.01
VISITS = 5


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--slowed", type=int, default=1)
    slowed = parser.parse_args().slowed
    place = os.environ.get("PHONE_RUNTIME")
    files = phone_files(LIBRARY, "psid", Path(place) if place else None)
    sent = sum(len(gzip.compress(data, 6)) if name.endswith(SQUEEZED) else len(data) for name, data in files.items())
    print(f"transferred, packed by the host: {sent / 1e6:.2f} MB of {sum(map(len, files.values())) / 1e6:.2f} MB")
    program = chromium()
    if program is None:
        sys.exit("no chromium on this machine")
    with sync_playwright() as playwright, served(files) as address:
        browser = launch(playwright, program)
        with visited(browser, address) as phone, throttled(slowed):
            _first_visit(phone)
            usable, ready = zip(*(_visit(phone) for _ in range(VISITS)), strict=True)
            print(
                f"page usable, kept: median {statistics.median(usable):.2f} s; ready: {statistics.median(ready):.2f} s"
            )
            replies = _consultation(phone)
            print(
                f"next question: median {statistics.median(replies):.2f} s, slowest {max(replies):.2f} s "
                f"of {len(replies)}; first {replies[0]:.2f} s"
            )
        browser.close()
    started = time.perf_counter()
    ran(tool("find", str(ROOT / "examples/relief-runs-stops-on-draw.yaml")), check=True)
    print(f"`diagnose find` in the same run: {time.perf_counter() - started:.2f} s; load {os.getloadavg()[0]:.1f}")


def _first_visit(phone: Visited) -> None:
    started = time.perf_counter()
    phone.open()
    phone.ready()
    print(f"first visit, ready: {time.perf_counter() - started:.2f} s")


def _visit(phone: Visited) -> tuple[float, float]:
    """Seconds until a type can be chosen, by the browser's own clock, and until the consultation runs."""
    started = time.perf_counter()
    phone.open()
    usable = phone.page.evaluate("performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd / 1000")
    phone.ready()
    return usable, time.perf_counter() - started


def _consultation(phone: Visited) -> list[float]:
    """Seconds from each reply to the screen that follows."""
    wanted, found = held("first check reads low"), []
    phone.begin(wanted.type)
    for line in wanted.lines[:-1]:
        started = time.perf_counter()
        phone.reply(line)
        found.append(time.perf_counter() - started)
    return found


@contextmanager
def throttled(times: int) -> Iterator[None]:
    """The pages' processes of this program's browser run one moment of so many."""
    over = threading.Event()

    def run() -> None:
        while not over.is_set():
            for number in (signal.SIGSTOP, signal.SIGCONT):
                for process in _renderers():
                    try:
                        os.kill(process, number)
                    except ProcessLookupError:
                        continue
                time.sleep(MOMENT * (times - 1 if number == signal.SIGSTOP else 1))

    if times > 1:
        threading.Thread(target=run, daemon=True).start()
    try:
        yield
    finally:
        over.set()
        time.sleep(MOMENT * times * 2)


def _renderers() -> list[int]:
    """The processes below this one that show pages."""
    parents, shows = {}, []
    for entry in Path("/proc").iterdir():
        if entry.name.isdecimal():
            try:
                parents[int(entry.name)] = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
                if b"--type=renderer" in (entry / "cmdline").read_bytes():
                    shows.append(int(entry.name))
            except (OSError, IndexError):
                continue
    return [process for process in shows if _is_below(process, parents)]


def _is_below(process: int, parents: dict[int, int]) -> bool:
    while process > 1 and process != os.getpid():
        process = parents.get(process, 0)
    return process == os.getpid()


if __name__ == "__main__":
    main()
