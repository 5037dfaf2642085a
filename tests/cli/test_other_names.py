"""Types by the names that people use for them, and devices that no type describes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.conftest import Run


@pytest.mark.parametrize(
    ("called", "kind"),
    [
        ("RPBA", "RP"),
        ("rpz", "RP"),
        ("RPPA", "RP"),
        ("DCVA", "DC"),
        ("DCA", "DC"),
        ("PVBA", "PVB"),
        ("SRVB", "SVB"),
        ("Reduced-Pressure Detector", "RPDA"),
        ("DCDVA", "DCDA"),
    ],
)
def test_a_type_goes_by_its_other_names_in_commands_and_cases(run: Run, called: str, kind: str, tmp_path: Path) -> None:
    assert run("new", called).out.startswith(f"# A case of the type {kind}:")
    case = tmp_path / "case.yaml"
    case.write_text(f"assembly: {called}\n")
    assert json.loads(run("find", str(case), "--format", "json").out)["case"]["assembly"] == kind


@pytest.mark.parametrize("name", ["AVB", "atmospheric vacuum breaker", "air gap", "dual check", "Dual-Check"])
def test_what_is_not_covered_is_said_so_and_what_to_do(run: Run, name: str, tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(f"assembly: {name}\n")
    for told in (run("new", name), run("find", str(case))):
        assert told.code == 2
        assert f"'{name}' is not covered" in told.err
        assert "no field test" in told.err
        assert "did you mean" not in told.err
