"""`python -m diagnose.knowledge.check [FOLDER]`: every problem of a rule base, one a line; exit code 2 if any."""

from __future__ import annotations

import sys
from pathlib import Path

from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import shipped_folder
from diagnose.model.places import ProblemsFoundError


def main() -> int:
    """Prints the problems, or one line that counts what was read."""
    try:
        base = read_rule_base(Path(sys.argv[1]) if len(sys.argv) > 1 else shipped_folder())
    except ProblemsFoundError as error:
        print(error)
        return 2
    for name, assembly in base.assemblies.items():
        print(
            f"{name}: {len(assembly.observations)} observations, {len(assembly.findings)} findings, "
            f"{len(assembly.rules)} rules, {len(assembly.modes)} failure modes, {len(assembly.causes)} causes, "
            f"{len(assembly.repairs)} repairs"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
