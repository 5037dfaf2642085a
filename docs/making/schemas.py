"""docs/schemas/, and the settings by which an editor finds them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from diagnose.diagnosis.library import Library
from diagnose.workshop.schemas import as_text, schemas, settings_text


def schema_files(docs: Path) -> Iterator[tuple[Path, bytes]]:
    """Each schema of the shipped rule base, and the settings."""
    library = Library(keep=False)
    types = {name: ready.assembly for name, ready in library.all().items()}
    for name, schema in schemas([library.folder], types).items():
        yield docs / "schemas" / name, as_text(schema).encode()
    settings = docs.parent / ".vscode" / "settings.json"
    yield settings, settings_text(settings, docs / "schemas", [library.folder]).encode()
