"""A short cut of each fuzzer; and that a fuzzer sees what it looks for."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

from diagnose.cases.reading import read_case
from diagnose.knowledge.yamltext import Node, read_bytes
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place, Problem, ProblemsFoundError
from tests.knowledge.reading import node_of
from tests.stress import fuzzing, readers, trying
from tests.stress.case_inputs import WHOLE
from tests.stress.mutating import mutated
from tests.stress.trying import Input, Run, Step
from tests.volume import some_of

SEED = 1
GO_ON = "go on with: python -m tests.stress.fuzzing {} --inputs 1000000 --keep FOLDER"


@pytest.mark.parametrize(
    ("kind", "inputs"), [("cases", some_of(1000, 2)), ("rules", some_of(400)), ("overlays", some_of(500))]
)
def test_a_short_run_finds_nothing(
    kind: str, inputs: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    code = fuzzing.main([kind, "--inputs", str(inputs), "--seed", str(SEED), "--keep", str(tmp_path / "kept")])
    print(GO_ON.format(kind))
    told = capsys.readouterr().out
    assert code == 0, told
    counts = dict(line.split(": ")[1:3] for line in told.splitlines() if line.startswith(f"{kind}: "))
    assert int(counts["inputs"]) == inputs
    assert int(counts["accepted"]) + int(counts["refused"]) == inputs
    assert int(counts["distinct"]) > 0.9 * inputs
    for done in ("worked through", "given to the command", "checked" if kind != "cases" else "written and read again"):
        assert int(counts[done]) > 0, told


class Pretended:
    """A kind whose parts can be exchanged for faulty ones; its one good file is a list of two."""

    commands = 1

    def __init__(self, load: Callable[[Input], Node], code: int = 0, wrong: Iterable[str] = ()) -> None:
        self._load, self.code = load, code
        self.steps: tuple[Step, ...] = (Step("looked at", 1, lambda *_: wrong),)

    def draw(self, order: random.Random) -> Input:
        return Input("some.yaml", b"- x\n- %d\n" % order.randrange(10**6))

    def load(self, one: Input) -> Node:
        return self._load(one)

    def text_of(self, file: str, one: Input) -> bytes | None:
        return one.data if file == "some.yaml" else None

    def places(self, loaded: Node) -> Iterable[Place]:
        return [loaded.place]

    def command(self, _: Input) -> tuple[int, str]:
        return self.code, "some.yaml:1:1: error: x"


def sound(one: Input) -> Node:
    return read_bytes(one.data, "some.yaml")


def raises(_: Input) -> Node:
    raise KeyError("nobody expects it")


def loops(_: Input) -> Node:
    while True:
        pass


def refuses(line: int, column: int, file: str = "some.yaml", message: str = "x") -> Callable[[Input], Node]:
    def load(_: Input) -> Node:
        raise ProblemsFoundError([Problem(Place(file, line, column), message)])

    return load


def remembers(line: int) -> Callable[[Input], Node]:
    return lambda one: sound(one)._replace(place=Place("some.yaml", line, 1))


def failures(kind: Pretended) -> dict[str, int]:
    run = Run("pretended", kind, SEED)
    run.go(3)
    return dict(run.failures)


def test_nothing_is_seen_where_nothing_is_wrong() -> None:
    assert failures(Pretended(sound)) == {}
    assert failures(Pretended(refuses(3, 1), code=2)) == {}


@pytest.mark.parametrize(
    ("kind", "failure"),
    [
        (Pretended(raises), "traceback: load"),
        (Pretended(loops), "slow: load"),
        (Pretended(refuses(4, 1), code=2), "outside the file"),
        (Pretended(refuses(1, 5), code=2), "outside the file"),
        (Pretended(refuses(1, 1, "other.yaml"), code=2), "outside the file"),
        (Pretended(remembers(4)), "outside the file"),
        (Pretended(refuses(1, 1, message="two\nlines"), code=2), "problems"),
        (Pretended(refuses(1, 1), code=0), "exit conventions"),
        (Pretended(sound, code=2), "exit conventions"),
        (Pretended(sound, wrong=["it is not the same"]), "wrong: looked at"),
    ],
)
def test_each_failure_is_seen_and_counted(kind: Pretended, failure: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trying, "LOAD_SECONDS", 0.1 if kind._load is loops else 10.0)
    assert failures(kind) == {failure: 3}


def test_readers_that_differ_are_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    def other(data: bytes, name: str, reader: str) -> Node | readers.Refused:
        return readers.outcome(data if reader == "libyaml" else data.replace(b"x", b"y"), name, reader)

    monkeypatch.setattr(trying, "outcome", other)
    assert failures(Pretended(sound)) == {"readers differ": 3}


def test_a_failure_is_kept_and_can_be_repeated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def seldom(one: Input) -> Node:
        if one.data.endswith((b"1\n", b"7\n")):
            raise KeyError
        return sound(one)

    monkeypatch.setenv("XDG_CACHE_HOME", "")
    monkeypatch.setitem(fuzzing.KINDS, "cases", lambda _: Pretended(seldom))
    asked = ["cases", "--seed", "5", "--keep", str(tmp_path)]
    assert fuzzing.main([*asked, "--inputs", "40"]) == 1
    assert "cases: traceback: " in capsys.readouterr().out
    kept = sorted(tmp_path.glob("*.yaml"))
    assert 0 < len(kept) < 40
    for path in kept:
        data, number = path.read_bytes(), path.stem.rpartition("-")[2]
        path.unlink()
        assert fuzzing.main([*asked, "--only", number]) == 1
        assert path.read_bytes() == data
    sound_one = next(n for n in range(40) if not (tmp_path / f"cases-5-{n}.yaml").exists())
    assert fuzzing.main([*asked, "--only", str(sound_one)]) == 0


@pytest.mark.parametrize("text", ["{}\n", "[]\n", "x\n", ""])
def test_whatever_is_left_of_a_file_can_be_damaged_further(text: str) -> None:
    for seed in range(300):
        mutated(text.encode(), [b"a: b\n"], random.Random(seed))  # noqa: S311  nothing secret


def test_the_whole_case_has_all_that_a_case_may_have(small: dict[str, Assembly]) -> None:
    case = read_case(node_of(WHOLE), small["TWINB"])
    assert all(case)
    assert all(case.record)
