"""Damaged rule bases and overlays: read, a case worked through on what was accepted, and checked."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from pathlib import Path

from diagnose.cases.beside import read_cases_file
from diagnose.diagnosis.compiling import compiled_base
from diagnose.diagnosis.ready import Ready
from diagnose.knowledge.fields import Problems
from diagnose.knowledge.shipped import CASES_ENDING
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place, ProblemsFoundError
from diagnose.sheet.text import as_text
from diagnose.workshop.checks.all_checks import CHECKS, Checked, check, checked_data, checked_page
from diagnose.workshop.overlays import review_overlays
from tests.knowledge.broken_overlays import BROKEN
from tests.knowledge.cuts import Cuts
from tests.knowledge.overlays import GOOD, HEAD, written
from tests.knowledge.reading import copied
from tests.stress.case_inputs import SMALL, TESTS, shows, some_case
from tests.stress.commands import command
from tests.stress.mutating import mutated
from tests.stress.trying import Input, Step
from tests.workshop.laying import MONTH

LAMP = TESTS / "diagnosis" / "lamp_rules"
TODAY = f"--today={MONTH[0]}-{MONTH[1]}-01"
# To check the shipped rule base takes some seconds.
CHECKED = ("tiny", "lamp")
Types = dict[str, Ready]


class Rules:
    """The tiny rule base, that of the bicycle lamp and the shipped one, each with one file damaged."""

    def __init__(self, folder: Path) -> None:
        self.bases = {"tiny": Cuts(SMALL), "lamp": Cuts(LAMP), "shipped": Cuts()}
        self.copies = {name: copied(self.bases[name].folder, folder / name) for name in CHECKED}
        self.good = {name: [text.encode() for text in base.texts.values()] for name, base in self.bases.items()}
        self.commands = 100
        self.steps: tuple[Step, ...] = (Step("worked through", 1, worked), Step("checked", 3, self.checked))

    def draw(self, order: random.Random) -> Input:
        name = order.choices(tuple(self.bases), (12, 6, 1))[0]
        base = self.bases[name]
        file = order.choice(base.names)
        return Input(str(base.folder / file), mutated(base.texts[file].encode(), self.good[name], order), name)

    def load(self, one: Input) -> Types:
        base, name = self.bases[one.base], self._below(one)
        if name.endswith(CASES_ENDING):
            base.read(name, one.data)
            return {}
        found = base.ready(name, one.data)
        if base.whole:
            read_cases(base, {kind: ready.assembly for kind, ready in found.items()})
        return found

    def _below(self, one: Input) -> str:
        return Path(one.file).relative_to(self.bases[one.base].folder).as_posix()

    def text_of(self, file: str, one: Input) -> bytes | None:
        return one.data if file == one.file else text_in(self.bases[one.base], file)

    def places(self, loaded: Types) -> Iterable[Place]:
        return places_in(loaded)

    def command(self, one: Input) -> tuple[int, str] | None:
        if one.base not in CHECKED:
            return None
        copy, good = self._put(one)
        try:
            return command(["rules", "check", "--rules", str(self.copies[one.base]), TODAY])
        finally:
            copy.write_bytes(good)

    def checked(self, one: Input, _: Types, __: random.Random) -> Iterator[str]:
        """Whether the checks have nothing but doubts, each of a file of the rule base."""
        if one.base in CHECKED:
            copy, good = self._put(one)
            try:
                found = check(self.copies[one.base], MONTH)
            finally:
                copy.write_bytes(good)
            yield from wrong_in(found, (self.copies[one.base],))

    def _put(self, one: Input) -> tuple[Path, bytes]:
        path = self.copies[one.base] / self._below(one)
        good = path.read_bytes()
        path.write_bytes(one.data)
        return path, good


class Overlays:
    """An overlay of the tiny rule base with one file damaged, and those that each make one mistake."""

    def __init__(self, folder: Path) -> None:
        self.base = Cuts(SMALL)
        self.starts = {"good": GOOD, **{name: {"overlay.yaml": HEAD, **files} for name, (files, _) in BROKEN.items()}}
        self.folders = {name: written(folder / name, files) for name, files in self.starts.items()}
        self.good = [text.encode() for files in self.starts.values() for text in files.values()]
        self.commands = 100
        self.steps: tuple[Step, ...] = (Step("worked through", 1, self.worked), Step("checked", 3, self.checked))

    def draw(self, order: random.Random) -> Input:
        name = "good" if order.random() < 0.5 else order.choice(sorted(self.starts))
        file = order.choice(sorted(self.starts[name]))
        data = mutated(self.starts[name][file].encode(), self.good, order)
        return Input(str(self.folders[name] / file), data, name)

    def load(self, one: Input) -> Path:
        folder = self.folders[one.base]
        with Exchanged(one), self.base.instead(self.base.rules()):
            review_overlays(SMALL, [folder])
        return folder

    def text_of(self, file: str, one: Input) -> bytes | None:
        if file == one.file:
            return one.data
        folder = self.folders[one.base]
        if folder in Path(file).parents or Path(file) == folder:
            return self.starts[one.base].get(Path(file).relative_to(folder).as_posix(), "").encode()
        return text_in(self.base, file)

    def places(self, loaded: Path) -> Iterable[Place]:  # noqa: ARG002  looking over an overlay remembers none
        return ()

    def command(self, one: Input) -> tuple[int, str] | None:
        with Exchanged(one):
            return command(["rules", "overlay", "check", str(self.folders[one.base]), "--rules", str(SMALL)])

    def worked(self, one: Input, folder: Path, order: random.Random) -> Iterator[str]:
        """A case worked through with the overlay laid over."""
        with Exchanged(one), self.base.instead(self.base.rules()):
            types = compiled_base(SMALL, "", [folder])
        yield from worked(one, types, order)
        for place in places_in(types):
            if self.text_of(place.file, one) is None:
                yield f"of no file: {place}"

    def checked(self, one: Input, folder: Path, _: random.Random) -> Iterator[str]:
        """Whether the checks have nothing but doubts, each of a file of the overlay or the rule base."""
        with Exchanged(one):
            found = check(SMALL, MONTH, (), [folder])
        yield from wrong_in(found, (SMALL, folder))


class Exchanged:
    """A file of an input put in place of the good one for a while."""

    def __init__(self, one: Input) -> None:
        self.path, self.data = Path(one.file), one.data

    def __enter__(self) -> None:
        self.good = self.path.read_bytes()
        self.path.write_bytes(self.data)

    def __exit__(self, *_: object) -> None:
        self.path.write_bytes(self.good)


def read_cases(base: Cuts, assemblies: dict[str, Assembly]) -> None:
    """Reads the cases beside a rule base against other assemblies than its own."""
    problems: Problems = []
    for name, node in base.nodes.items():
        if name.endswith(CASES_ENDING):
            read_cases_file(node, assemblies, problems)
    if problems:
        raise ProblemsFoundError(problems)


def worked(_: Input, types: Types, order: random.Random) -> Iterator[str]:
    """What is wrong with a case drawn by lot for one of the types."""
    if types:
        ready = types[order.choice(sorted(types))]
        yield from shows(ready, some_case(ready.assembly, order, 6), order)


def text_in(base: Cuts, file: str) -> bytes | None:
    """What stands in a file of a rule base as it was; nothing in the folder itself."""
    if file == str(base.folder):
        return b""
    text = base.texts.get(file.removeprefix(f"{base.folder}/"))
    return None if text is None else text.encode()


def places_in(types: Types) -> Iterator[Place]:
    """Where the things stand that the types are made of."""
    for ready in types.values():
        kind = ready.assembly
        for rows in (
            kind.components,
            kind.observations,
            kind.findings,
            kind.rules,
            kind.modes,
            kind.causes,
            kind.repairs,
        ):
            yield from (row.place for row in rows)


def wrong_in(found: Checked, folders: Iterable[Path]) -> Iterator[str]:
    """What is wrong with the outcome of checking a rule base that was read without problems."""
    yield from (f"an error only here: {row}" for row in found.errors)
    tops = tuple(map(str, folders))
    yield from (f"elsewhere: {row}" for row in found.doubts if not row.place.file.startswith(tops))
    yield from (
        f"not to be shown: {line!a}" for line in as_text(checked_page(found)).splitlines() if not line.isprintable()
    )
    names = {row["check"] for row in checked_data(found)["problems"] if row["kind"] == "warning"}
    yield from (f"no such check: {name}" for name in names - set(CHECKS))
