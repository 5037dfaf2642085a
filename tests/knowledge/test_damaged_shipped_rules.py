"""The shipped rule base with one thing damaged: what it says is read as it is said, or refused at its place.

Other damages are drawn each time, a tenth as many as with EVERY_CASE=1 in the environment.
"""

from __future__ import annotations

import gc
import random
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from diagnose.knowledge.shipped import CASES_ENDING
from diagnose.knowledge.yamltext import Scalar
from diagnose.model.assembly import Assembly
from diagnose.model.places import Problem, ProblemsFoundError
from tests.knowledge.cuts import Cuts, file_names, words_of
from tests.knowledge.damage import edited, inside, seeds
from tests.knowledge.kinds_of_damage import (
    Damage,
    doubled,
    dropped,
    exchanged_names,
    misspelt,
    renumbered,
    reordered,
    retyped,
)
from tests.knowledge.writing import orderless, texts_in
from tests.volume import some_of

NOTHING_IN_IT = "retired.yaml"
# A damage takes some 30 ms; what takes a minute hangs.
unhurried = settings(
    deadline=timedelta(minutes=1), suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@pytest.fixture(scope="module")
def cuts() -> Iterator[Cuts]:
    found = Cuts()
    gc.freeze()  # the sound rule base stays; looking for garbage in it takes longer than reading a damaged file
    yield found
    gc.unfreeze()


def chosen(cuts: Cuts, seed: int) -> tuple[str, random.Random]:
    order = random.Random(seed)  # noqa: S311  nothing secret
    return order.choice([name for name in cuts.names if name != NOTHING_IN_IT]), order


def outcome(cuts: Cuts, name: str, damage: Damage) -> dict[str, Assembly] | tuple[Problem, ...]:
    """What it loads to, or the problems: each in the damaged file, or about words that were damaged."""
    try:
        return cuts.read(name, damage.contents)
    except ProblemsFoundError as error:
        problems = error.problems
    assert problems
    for problem in problems:
        assert problem.message
        assert all(line.isprintable() for line in problem.lines())
        assert problem.place.file.startswith(str(cuts.folder))
        assert _told(cuts, name, problem, damage), problem
    return problems


def _told(cuts: Cuts, name: str, problem: Problem, damage: Damage) -> bool:
    """Whether a problem stands in the damaged file, or it or its line names something that was damaged."""
    if any(place.file == str(cuts.folder / name) for place in (problem.place, *(place for place, _ in problem.notes))):
        return True
    lines = cuts.texts[problem.place.file.removeprefix(f"{cuts.folder}/")].splitlines()
    return bool(words_of(problem.message + lines[problem.place.line - 1]) & damage.words)


def same(cuts: Cuts, name: str, found: dict[str, Assembly]) -> bool:
    sound = cuts.sound(name)
    return all(orderless(row) == cuts.orderless(sound[kind]) for kind, row in found.items())


@pytest.mark.parametrize("name", file_names())
def test_a_cut_with_nothing_damaged_is_sound(cuts: Cuts, name: str) -> None:
    assert cuts.sound(name) or name.endswith(CASES_ENDING)


@given(seeds)
@settings(unhurried, max_examples=some_of(200, 10))
def test_keys_in_another_order_say_the_same(cuts: Cuts, seed: int) -> None:
    name, order = chosen(cuts, seed)
    found = outcome(cuts, name, reordered(cuts.nodes[name], order))
    assert isinstance(found, dict)
    assert same(cuts, name, found)


@given(seeds)
@settings(unhurried, max_examples=some_of(250, 10))
def test_a_key_that_stands_twice_is_a_problem_of_its_file(cuts: Cuts, seed: int) -> None:
    name, order = chosen(cuts, seed)
    found = outcome(cuts, name, doubled(cuts.nodes[name], cuts.texts[name], order))
    assert not isinstance(found, dict)
    assert {problem.place.file for problem in found} == {str(cuts.folder / name)}


@given(seeds)
@settings(unhurried, max_examples=some_of(600, 10))
def test_a_misspelt_word_is_a_problem_or_changes_nothing_but_that_word(cuts: Cuts, seed: int) -> None:
    name, order = chosen(cuts, seed)
    damage, before, after = misspelt(cuts.nodes[name], order, cuts.every_text)
    found = outcome(cuts, name, damage)
    if isinstance(found, dict):
        mended = {kind.replace(after, before): put_back(row, after, before) for kind, row in found.items()}
        assert same(cuts, name, mended)


def put_back(value: Any, word: str, instead: str) -> Any:
    """The value with one word in all its texts exchanged."""
    if isinstance(value, str):
        return value.replace(word, instead)
    if isinstance(value, tuple) and hasattr(value, "_make"):
        return type(value)._make(put_back(part, word, instead) for part in value)
    return tuple(put_back(part, word, instead) for part in value) if isinstance(value, tuple) else value


@given(seeds)
@settings(unhurried, max_examples=some_of(350, 10))
def test_a_text_a_list_or_a_mapping_in_place_of_another_says_the_same_or_is_a_problem(cuts: Cuts, seed: int) -> None:
    name, order = chosen(cuts, seed)
    found = outcome(cuts, name, retyped(cuts.nodes[name], order))
    assert not isinstance(found, dict) or same(cuts, name, found)


@given(seeds)
@settings(unhurried, max_examples=some_of(400, 10))
def test_what_is_left_after_a_loss_says_nothing_new(cuts: Cuts, seed: int) -> None:
    name, order = chosen(cuts, seed)
    found = outcome(cuts, name, dropped(cuts.nodes[name], order))
    if isinstance(found, dict):
        every = (node for root in cuts.nodes.values() for node in inside(root))
        written = {node.text.strip() for node in every if isinstance(node, Scalar)}
        for kind, assembly in found.items():
            said = {text for text in texts_in(assembly) if text and not text.startswith("Not so: ")}
            assert said - named_after_answers(assembly) <= set(texts_in(cuts.sound(name)[kind])) | written


def named_after_answers(assembly: Assembly) -> set[str]:
    """What the finding and the rule of an answer are called where it does not name them."""
    names = {f"{row.name}_{answer}" for row in assembly.observations for answer, _ in row.answers}
    return names | {f"{name}_seen" for name in names}


@pytest.mark.parametrize("damaged", [exchanged_names, renumbered])
@given(seed=seeds)
@settings(unhurried, max_examples=some_of(200, 10))
def test_other_names_and_numbers_are_read_or_refused(
    cuts: Cuts, damaged: Callable[[Any, random.Random], Damage], seed: int
) -> None:
    name, order = chosen(cuts, seed)
    try:
        damage = damaged(cuts.nodes[name], order)
    except IndexError:
        return  # a file without two names, or without a number
    outcome(cuts, name, damage)


@given(seeds)
@settings(unhurried, max_examples=some_of(150, 10))
def test_letters_and_lines_changed(cuts: Cuts, seed: int) -> None:
    name, order = chosen(cuts, seed)
    text = edited(cuts.texts[name], order)
    outcome(cuts, name, Damage(text.encode("utf-8", "surrogatepass"), words_of(cuts.texts[name]) | words_of(text)))
