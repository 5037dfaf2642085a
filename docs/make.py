"""Makes the pages and pictures that are generated from the live tool.

`python docs/make.py` writes docs/commands.md, docs/published-statements.md and docs/pictures/; with `--check` it
compares instead, lists what differs, and ends with exit code 1 if anything does.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import click
from click.testing import CliRunner

from diagnose.cases.beside import read_beside
from diagnose.cli.main import COMMANDS, root
from diagnose.diagnosis.ready import Library
from diagnose.sheet.markdown import escaped

DOCS = Path(__file__).resolve().parent
EXAMPLES = DOCS.parent / "examples"
DRAWN = ("relief-runs-stops-on-draw", "two-faults", "sound-but-spits")


def commands_page() -> str:
    """Every command with its help."""
    lines = ["# Commands", "", "Made from the commands' own help by `python docs/make.py`.", ""]
    for name in ("", *COMMANDS):
        arguments = [*filter(None, [name]), "--help"]
        shown = CliRunner().invoke(root, arguments, prog_name="diagnose", terminal_width=100)
        lines += [
            f"## diagnose {name}".rstrip(),
            "",
            *(f"    {line}".rstrip() for line in shown.output.splitlines()),
            "",
        ]
    return "\n".join(lines)


def statements_page() -> str:
    """Each published statement with the case that checks it."""
    library = Library(keep=False)
    cases = read_beside(library.folder, {name: ready.assembly for name, ready in library.all().items()})
    lines = [
        "# Published statements and the cases that check them",
        "",
        "Made from the cases beside the rules by `python docs/make.py`. The key is that of `rules/sources.yaml`; the",
        "statement is a paraphrase; the case is run by `pytest tests/rules`.",
        "",
        "| source | statement | case | in |",
        "|---|---|---|---|",
    ]
    for row in sorted(cases, key=lambda row: (row.source, row.name)):
        if row.source and row.states:
            file = Path(row.place.file).relative_to(library.folder).as_posix()
            lines.append(f"| {escaped(row.source)} | {escaped(row.states)} | {escaped(row.name)} | {file} |")
    return "\n".join(lines) + "\n"


def pictures() -> Iterator[tuple[Path, bytes]]:
    """The drawings that README and docs/ show."""
    for name in DRAWN:
        for ending in ("svg", "png"):
            target = DOCS / "pictures" / f"{name}.{ending}"
            with TemporaryDirectory() as folder:
                out = Path(folder) / f"out.{ending}"
                arguments = ["draw", str(EXAMPLES / f"{name}.yaml"), "-o", str(out), "--no-cache"]
                shown = CliRunner().invoke(root, arguments, catch_exceptions=False)
                if shown.exit_code:
                    raise click.ClickException(shown.output)
                yield target, out.read_bytes()


def main() -> int:
    """Writes or compares."""
    made = {
        DOCS / "commands.md": commands_page().encode(),
        DOCS / "published-statements.md": statements_page().encode(),
        **dict(pictures()),
    }
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
