"""Makes the pages and pictures that are generated from the live tool.

`python docs/make.py` writes them; with `--check` it compares instead, lists what differs, and ends with exit code 1 if
anything does. What makes each page stands in docs/making/.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from making.checks import check_pages
from making.commands import commands_page
from making.keys import PAGE, format_page
from making.lessons import PAGES, worked_page
from making.pictures import pictures
from making.schemas import schema_files
from making.statements import statements_page

DOCS = Path(__file__).resolve().parent
# Those that take longest come first.
MAKERS = *(partial(worked_page, name=name) for name in PAGES), pictures, check_pages, schema_files


def everything() -> dict[Path, bytes]:
    """Every generated file of docs/ with its content."""
    pages = {
        "commands.md": commands_page(),
        PAGE: format_page(DOCS),
        "published-statements.md": statements_page(),
    }
    found = {DOCS / name: page.encode() for name, page in pages.items()}
    with ProcessPoolExecutor() as workers:
        for made in workers.map(_made_by, MAKERS):
            found |= made
    return found


def _made_by(maker: Callable[[Path], Iterable[tuple[Path, bytes]]]) -> dict[Path, bytes]:
    return dict(maker(DOCS))


def main() -> int:
    """Writes or compares."""
    made = everything()
    stale = [path for path, content in made.items() if not path.is_file() or path.read_bytes() != content]
    if "--check" in sys.argv[1:]:
        for path in stale:
            print(f"out of date: {path.relative_to(DOCS.parent)}; run python docs/make.py")
        return 1 if stale else 0
    for path in stale:
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(made[path])
        print(f"written: {path.relative_to(DOCS.parent)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
