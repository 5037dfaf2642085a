"""Makes the pages and pictures that are generated from the live tool.

`python docs/make.py` writes them; with `--check` it compares instead, lists what differs, and ends with exit code 1 if
anything does. What makes each page stands in docs/making/.
"""

from __future__ import annotations

import sys
from pathlib import Path

from making.checks import check_pages
from making.commands import commands_page
from making.keys import PAGE, format_page
from making.lessons import worked_pages
from making.pictures import pictures
from making.schemas import schema_files
from making.statements import statements_page

DOCS = Path(__file__).resolve().parent


def everything() -> dict[Path, bytes]:
    """Every generated file of docs/ with its content."""
    pages = {
        "commands.md": commands_page(),
        PAGE: format_page(DOCS),
        "published-statements.md": statements_page(),
    }
    made = {DOCS / name: page.encode() for name, page in pages.items()}
    return {
        **made,
        **dict(check_pages(DOCS)),
        **dict(pictures(DOCS)),
        **dict(worked_pages(DOCS)),
        **dict(schema_files(DOCS)),
    }


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
