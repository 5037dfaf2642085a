"""How checking a rule base grows with its rules; run by hand: `python -m tests.benchmarks.workshop [RULES...]`.

A made-up rule base: one type of assembly, with parts of a hundred rules each and rules of its own that join what is
found in two of them; a case for each rule and a must-not case for every other. Each step is printed in seconds, the
total also in milliseconds a rule: it must not rise.
"""

from __future__ import annotations

import gc
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

from diagnose.cases.beside import read_beside
from diagnose.diagnosis.compiling import compiled
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.workshop.checks.all_checks import CHECKS, found_in
from diagnose.workshop.checks.checked_base import CheckedBase

SIZES = (625, 1250, 2500, 5000, 10_000)
MONTH = (2026, 11)
IN_A_PART = 100
CASES_IN_A_FILE = 1500
SHARED = ("scales", "sources", "states", "cautions", "retired", "limits/gauge", "limits/plain_town")
SITE = {name: f"site: {name}\n" for name in ("conditions", "validity", "circumstances")}
SMALL = Path(__file__).parents[1] / "knowledge" / "small_rules"


def generated(rules: int, folder: Path) -> Path:
    """Writes a rule base of so many rules with its cases."""
    for name in ("assemblies", "parts", "site", "limits"):
        (folder / name).mkdir(parents=True)
    for name in SHARED:
        shutil.copy(SMALL / f"{name}.yaml", folder / f"{name}.yaml")
    for name, text in SITE.items():
        (folder / "site" / f"{name}.yaml").write_text(text)
    parts = max(2, rules * 10 // 11 // IN_A_PART)
    joining = rules - parts * IN_A_PART
    for number in range(parts):
        (folder / "parts" / f"part_{number}.yaml").write_text("\n".join(_part(number)))
    (folder / "assemblies" / "large.yaml").write_text("\n".join(_assembly(parts, joining)))
    cases = list(_cases(parts, joining))
    for first in range(0, len(cases), CASES_IN_A_FILE):
        text = "cases:\n" + "\n".join(cases[first : first + CASES_IN_A_FILE])
        (folder / "assemblies" / f"large_{first}.cases.yaml").write_text(text)
    return folder


def _part(number: int) -> Iterator[str]:
    """Causes with what is seen of each, and the repair."""
    yield f"part: part_{number}\ntitle: part {number}\nmodes:"
    yield "  leaks: {text: The part leaks., source: estimate}"
    yield "causes:"
    for i in range(IN_A_PART):
        row = f"text: cause {i}, kind: wear, share: 1, brings: {{leaks: often}}, source: estimate"
        yield f"  cause_{i}: {{{row}}}"
    yield "observations:"
    for i in range(IN_A_PART):
        yield f"  sight_{i}:\n    title: sight {i}\n    question: Is it so?\n    how: Look."
        yield "    answers: {no: no, yes: yes}\n    state: opened\n    minutes: 1\n    source: estimate"
    yield "  reading:\n    title: reading\n    question: What?\n    how: Read it.\n    unit: psid"
    yield "    range: 0 psid to 15 psid\n    limit: flap_minimum\n    state: gauge"
    yield "    minutes: 1\n    source: estimate"
    yield "findings:"
    for i in range(IN_A_PART):
        yield f"  seen_{i}:\n    title: seen {i}\n    says: It is seen.\n    background: seldom"
        yield f"    reasons: {{cause_{i}: usually}}\n    source: estimate"
    yield "rules:"
    for i in range(IN_A_PART):
        yield f"  rule_{i}:\n    premises: {{sight_{i}: yes}}\n    finding: seen_{i}"
        yield "    reason: It is seen.\n    source: estimate"
    yield "repairs:\n  replace:\n    title: replace it\n    steps: [Replace it.]\n    minutes: 5\n    states: [opened]"
    yield f"    cures: {{{', '.join(f'cause_{i}: usually' for i in range(IN_A_PART))}}}\n    source: estimate\n"


def _assembly(parts: int, joining: int) -> Iterator[str]:
    yield "assembly: LARGE\ntitle: large invented assembly\nretest: The test.\ncautions: [local_rules]\ncomponents:"
    for number in range(parts):
        yield f"  c{number}: {{part: part_{number}, title: part {number}, rate: 0.001, source: estimate}}"
    yield "observations:\n  margin:\n    title: margin\n    question: What?\n    how: Read it.\n    unit: psid"
    yield "    range: 0 psid to 15 psid\n    limit: margin_minimum\n    state: gauge"
    yield "    minutes: 1\n    source: estimate"
    yield "findings:"
    for number in range(joining):
        yield f"  joined_{number}:\n    title: joined {number}\n    says: It is joined.\n    background: seldom"
        yield f"    reasons: {{c{number % parts}.leaks: often}}\n    source: estimate"
    yield "rules:"
    for number in range(joining):
        one, other, i = _joined(number, parts)
        yield f"  join_{number}:\n    premises:\n      {one}.reading: {{below: limit flap_minimum}}"
        yield f"      {one}.seen_{i}: yes\n      {other}.sight_{i}: yes\n      not: {{{one}.sight_{i}: no}}"
        yield f"    finding: joined_{number}\n    reason: It is so.\n    source: estimate"


def _joined(number: int, parts: int) -> tuple[str, str, int]:
    return f"c{number % parts}", f"c{(number + 1) % parts}", number // parts % IN_A_PART


def _cases(parts: int, joining: int) -> Iterator[str]:
    for number in range(parts):
        for i in range(IN_A_PART):
            expect = f"fires: [c{number}.rule_{i}]"
            yield _case(f"Part {number} shows sight {i}.", f"c{number}.sight_{i}: yes", expect)
            if i % 2:
                expect = f"does not fire: [c{number}.rule_{i}]"
                yield _case(f"Part {number} does not show sight {i}.", f"c{number}.sight_{i}: no", expect)
    for number in range(joining):
        one, other, i = _joined(number, parts)
        answers = f"{one}.reading: 0.5 psid, {one}.sight_{i}: yes, {other}.sight_{i}: yes"
        yield _case(f"Number {number} is joined.", answers, f"fires: [join_{number}]")


def _case(name: str, answers: str, expect: str) -> str:
    return f"  - name: {name}\n    assembly: LARGE\n    observations: {{{answers}}}\n    expect: {{{expect}}}"


def measured(rules: int) -> dict[str, float]:
    """Seconds for each step of a check, and for each check on its own, once everything was read."""
    seconds: dict[str, float] = {}

    def timed(step: str, begin: float) -> float:
        seconds[step] = perf_counter() - begin
        return perf_counter()

    with TemporaryDirectory() as name:
        folder = generated(rules, Path(name) / "rules")
        begin = perf_counter()
        assemblies = read_rule_base(folder).assemblies
        begin = timed("read", begin)
        ready = {kind: compiled(assembly, "") for kind, assembly in assemblies.items()}
        begin = timed("compile", begin)
        cases = read_beside(folder, assemblies)
        begin = timed("cases", begin)
        whole = CheckedBase((folder,), ready, cases, MONTH)
        for one in CHECKS:
            found_in(whole, (one,))
            begin = timed(one, begin)
    return seconds


def main() -> None:
    """Prints a row for each step and a column for each number of rules."""
    gc.disable()  # as the command does
    sizes = [int(text) for text in sys.argv[1:]] or list(SIZES)
    columns = [measured(size) for size in sizes]
    print(f"{'rules':26}" + "".join(f"{size:10}" for size in sizes))
    for step in columns[0]:
        print(f"{step:26}" + "".join(f"{column[step]:10.3f}" for column in columns))
    totals = [sum(column.values()) for column in columns]
    print(f"{'seconds in all':26}" + "".join(f"{total:10.3f}" for total in totals))
    a_rule = (1e3 * total / size for total, size in zip(totals, sizes, strict=True))
    print(f"{'milliseconds a rule':26}" + "".join(f"{time:10.3f}" for time in a_rule))


if __name__ == "__main__":
    main()
