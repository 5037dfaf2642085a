"""`python tests/wheel_holds_rules.py WHEEL`: fails unless it holds exactly the tracked package and rule files."""

from __future__ import annotations

import subprocess
import sys
import zipfile


def main() -> int:
    """Compares names; returns the exit code."""
    tracked = subprocess.run(
        ["git", "ls-files", "diagnose", "rules"],  # noqa: S607  git is found on the path
        check=True,
        capture_output=True,
        text=True,
    ).stdout.split()
    wanted = {name.replace("rules/", "diagnose/_rules/", 1) if name.startswith("rules/") else name for name in tracked}
    held = {name for name in zipfile.ZipFile(sys.argv[1]).namelist() if ".dist-info/" not in name}
    for name in sorted(wanted - held):
        print(f"missing from the wheel: {name}")
    for name in sorted(held - wanted):
        print(f"in the wheel but not tracked: {name}")
    print(f"{len(held)} files in the wheel, {len(wanted)} tracked")
    return 1 if wanted != held or not any(name.startswith("diagnose/_rules/") for name in held) else 0


if __name__ == "__main__":
    sys.exit(main())
