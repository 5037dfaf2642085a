"""Cases of the tiny rule base that are right, and the same with expectations that are wrong on known lines."""

from __future__ import annotations

from pathlib import Path

from diagnose.cases.beside import BesideCase, all_cases
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.ready import Ready

RIGHT = """\
cases:
  - name: A stream from the port points at the first flap.
    assembly: TWIN
    observations:
      port: stream
      first_reading: 0.4 psid
    expect:
      finds: {port_drips: stream, weak_flap: yes}
      fires: [stream_from_port, flap_below_limit]
      order: [flap_1.grit, flap_1.worn]
      first: flap_1.grit
  - name: A dry port with a good reading clears the first flap.
    assembly: TWIN
    observations: {port: none, first_reading: 1.0 psid}
    expect:
      finds: {weak_flap: no}
      does not find: {port_drips: stream}
      does not fire: [stream_from_port]
      leaves open: [log_swings]
      not first: [flap_1, unlisted]
  - name: A spoilt test voids the reading.
    assembly: TWIN
    observations: {shut_tight: no, first_reading: 0.4 psid}
    expect:
      void:
        - first_reading
"""
WRONG = (
    ("{port_drips: stream, weak_flap: yes}", "{port_drips: drip, weak_flap: yes}"),
    ("order: [flap_1.grit, flap_1.worn]", "order: [flap_1.worn, flap_1.grit]"),
    ("first: flap_1.grit", "first: flap_2.worn"),
    ("does not find: {port_drips: stream}", "does not find: {weak_flap: no}"),
    ("does not fire: [stream_from_port]", "fires: [stream_from_port]"),
    ("leaves open: [log_swings]", "leaves open: [weak_flap]"),
    ("not first: [flap_1, unlisted]", "not first: [flap_1, nothing wrong]"),
)


def right_and_wrong() -> tuple[str, str]:
    """Both texts."""
    wrong = RIGHT
    for old, new in WRONG:
        assert wrong.count(old) == 1, old
        wrong = wrong.replace(old, new)
    return RIGHT, wrong.replace("        - first_reading", "        - first_reading\n        - port")


def laid(folder: Path, text: str = RIGHT) -> Path:
    """Puts the cases beside the rules of the type; returns their file."""
    file = folder / "assemblies" / "twin.cases.yaml"
    file.write_text(text)
    return file


def loaded(folder: Path) -> tuple[dict[str, Ready], list[BesideCase]]:
    """The types and the cases of a rule base."""
    library = Library(folder, keep=False)
    types = library.all()
    return types, all_cases(library.folders(), {name: ready.assembly for name, ready in types.items()})
