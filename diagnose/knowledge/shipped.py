"""Where a rule base stands, which files decide its meaning, and their digest; needed at every start, so no YAML."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from diagnose.knowledge.files import files_below, read_at_most
from diagnose.model.places import Place, ProblemsFoundError, refused

RULES_ENDING = ".yaml"
CASES_ENDING = ".cases.yaml"
PLACES_OF_RULES = ("_rules", "../rules")
OVERLAY_FILE = "overlay.yaml"
SHOWN_TOP = "rules"
ACCEPTED_FILE = "accepted.yaml"
VERSION_FILE = "version.yaml"


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
    raise refused(package, "no rule base is installed beside the package")


@cache
def _shipped_top() -> str | None:
    try:
        return f"{shipped_folder()}/"
    except ProblemsFoundError:
        return None


def short_place(place: Place) -> str:
    """A place to show: in the shipped rule base it begins with "rules/", wherever that stands; else as it is."""
    top = _shipped_top()
    if top is None or not place.file.startswith(top):
        return str(place)
    return str(place._replace(file=f"{SHOWN_TOP}/{place.file.removeprefix(top)}"))


def rule_files(folder: Path) -> list[Path]:
    """The files that decide the meaning of a rule base, sorted; case files are not among them."""
    return _without_cases(files_below(folder, RULES_ENDING))


def overlay_files(folder: Path) -> list[Path]:
    """The rule files of an overlay, sorted: not the file that names it, nor what it keeps of the shipped rules.

    A hidden folder (of version control, say) holds none, and no hidden file is one.
    """
    own = (folder / OVERLAY_FILE, folder / ACCEPTED_FILE)
    files = _without_cases(files_below(folder, RULES_ENDING, hidden=False))
    return [path for path in files if path not in own and not path.name.startswith(".")]


def case_files(folder: Path) -> list[Path]:
    """The files of cases beside rules, sorted; a hidden folder holds none."""
    return files_below(folder, CASES_ENDING, hidden=False)


def _without_cases(paths: list[Path]) -> list[Path]:
    return [path for path in paths if not path.name.endswith(CASES_ENDING)]


def fingerprint(folder: Path, overlays: Sequence[Path] = ()) -> str:
    """A digest of the names and contents of all rule files, of the overlays as well."""
    digest = hashlib.sha256()
    for path in rule_files(folder):
        _digest(digest, path, folder)
    for number, overlay in enumerate(overlays):
        digest.update(f"overlay {number}\0".encode())
        for path in (overlay / OVERLAY_FILE, *overlay_files(overlay)):
            _digest(digest, path, overlay)
    return digest.hexdigest()


def _digest(digest: hashlib._Hash, path: Path, folder: Path) -> None:
    try:
        content = read_at_most(path, -1)
    except OSError as error:
        content = type(error).__name__.encode()  # reading the rule base says what is wrong with the file
    digest.update(f"{path.relative_to(folder).as_posix()}\0{len(content)}\0".encode())
    digest.update(content)
