"""Where a rule base stands, which files decide its meaning, and their digest; needed at every start, so no YAML."""

from __future__ import annotations

import hashlib
from pathlib import Path

from diagnose.model.places import Place, Problem, ProblemsFoundError

CASES_ENDING = ".cases.yaml"
PLACES_OF_RULES = ("_rules", "../rules")


def shipped_folder() -> Path:
    """The rule base beside the package: inside an installed wheel, or in the checkout.

    Raises:
        ProblemsFoundError: there is none.
    """
    package = Path(__file__).resolve().parent.parent
    for place in PLACES_OF_RULES:
        folder = package / place
        if (folder / "scales.yaml").is_file():
            return folder.resolve()
    raise ProblemsFoundError([Problem(Place(str(package)), "no rule base is installed beside the package")])


def rule_files(folder: Path) -> list[Path]:
    """The files that decide the meaning of a rule base, sorted; case files are not among them."""
    return sorted(path for path in folder.rglob("*.yaml") if not path.name.endswith(CASES_ENDING))


def fingerprint(folder: Path) -> str:
    """A digest of the names and contents of all rule files."""
    digest = hashlib.sha256()
    for path in rule_files(folder):
        try:
            content = path.read_bytes()
        except OSError as error:
            content = type(error).__name__.encode()  # reading the rule base says what is wrong with the file
        digest.update(f"{path.relative_to(folder).as_posix()}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()
