"""What .ci/quick installs: `.ci/bounds.py tests` lists what its tests need, `lowest` each lower bound, pinned."""

import re
import sys
import tomllib
from pathlib import Path

QUICK = re.compile(r"(pytest|hypothesis|jsonschema)\b")


def main() -> None:
    """Prints requirements, one a line."""
    project = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    tests = project["optional-dependencies"]["test"]
    if sys.argv[1:] == ["lowest"]:
        print("\n".join(row.replace(">=", "==") for row in [*project["dependencies"], *tests] if "=" in row))
    else:
        print("\n".join(row for row in tests if QUICK.match(row)))


if __name__ == "__main__":
    main()
