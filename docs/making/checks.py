"""docs/checks/: the pages of the checks, and the list of them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from diagnose.workshop.checks.all_checks import CHECKS, page

TOP = """\
# The checks of a rule base

`diagnose rules check` reads a rule base with the cases beside it. What would make its meaning unclear is an
**error**: an unknown or misspelt key or name, a probability out of range, a missing or unknown source, a circle
of findings, a limit that nothing uses, a case that could not fail. All errors are told at once, and nothing
else is checked until they are mended. Each check below raises **warnings**: the meaning is clear and most
likely not what was meant.

    FILE:LINE:COLUMN: warning: SENTENCE (CHECK)

`diagnose rules check --explain CHECK` shows the page of a check. The exit code is 0 without errors and
warnings, 1 with warnings only, 2 with errors. `--tell-only CHECK` shows the warnings of a check and leaves the
exit code alone; `--tell-only all` does so for every check. `--format json` is for editors and for CI;
[check.schema.json](../check.schema.json) has its keys.

Where something doubtful is meant, say so and why, in the thing itself (a rule, a finding, a cause, a limit, a
case) or at the top of a file, for all that the file holds:

    deliberate: {CHECK: the reason in a sentence}

Made from the checks' own pages by `python docs/make.py`.
"""


def check_pages(docs: Path) -> Iterator[tuple[Path, bytes]]:
    """The page of each check, as `--explain` shows it, and a table of what each finds."""
    rows = [f"| [{name}]({name}.md) | {page(name).splitlines()[2]} |" for name in CHECKS]
    table = "\n".join([TOP, "| check | what it finds |", "|---|---|", *rows, ""])
    yield docs / "checks" / "README.md", table.encode()
    yield from ((docs / "checks" / f"{name}.md", page(name).encode()) for name in CHECKS)
