"""An overlay is as good as editing the shipped files: the same things added or changed come to the same rule base."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.knowledge.format import rule_format
from diagnose.knowledge.rulebase import read_nodes, read_rule_base
from diagnose.knowledge.yamltext import Mapping, Node, Scalar
from diagnose.model.places import NOWHERE
from tests.knowledge.overlays import plain, written
from tests.knowledge.reading import copied, every_key
from tests.knowledge.writing import yaml_of

SINGLE = {"unlisted", "gauge accuracy"}
TABLES = {key.name for _, key in every_key(rule_format()) if key.by_entry}
Things = list[tuple[str, str, str, Node]]


def named(nodes: dict[str, Node]) -> Things:
    """Every named thing: file, section, name, value."""
    found: Things = []
    for file, node in sorted(nodes.items()):
        for key, section in node.entries if isinstance(node, Mapping) else ():
            if isinstance(section, Mapping) and key.text not in SINGLE:
                found += [(file, key.text, name.text, value) for name, value in section.entries]
    return found


def mapping(entries: dict[str, Node]) -> Mapping:
    return Mapping(tuple((Scalar(key, NOWHERE, False), value) for key, value in entries.items()), NOWHERE)


def tree(rows: Things, changed: bool) -> dict[str, str]:
    """Files of an overlay that add or change these things."""
    files: dict[str, dict[str, dict[str, Node]]] = {}
    for file, section, name, value in rows:
        files.setdefault(file, {}).setdefault(section, {})[name] = value
    texts = {}
    for file, sections in files.items():
        whole = mapping({section: mapping(names) for section, names in sections.items()})
        texts[file] = yaml_of(mapping({"changed": whole}) if changed else whole) + "\n"
    return texts


def without(node: Node, names: set[tuple[str, str]]) -> Node:
    """A file's node without some of its named things."""
    assert isinstance(node, Mapping)
    sections: list[tuple[Scalar, Node]] = []
    for key, section in node.entries:
        if isinstance(section, Mapping) and key.text not in SINGLE:
            kept = tuple(entry for entry in section.entries if (key.text, entry[0].text) not in names)
            sections.append((key, section._replace(entries=kept)))
        else:
            sections.append((key, section))
    return node._replace(entries=tuple(sections))


def some_keys(value: Node, chance: random.Random) -> Node:
    """Some of a thing's keys, and those that vouch for it; of a table some of its entries."""
    if not isinstance(value, Mapping):
        return value
    rows: list[tuple[Scalar, Node]] = []
    for key, inner in value.entries:
        if key.text in ("source", "checked") or chance.random() < 0.5:
            some: Node = inner
            if key.text in TABLES and isinstance(inner, Mapping):
                some = inner._replace(
                    entries=tuple(chance.sample(inner.entries, chance.randint(1, len(inner.entries))))
                )
            rows.append((key, some))
    return value._replace(entries=tuple(rows))


@given(st.randoms(use_true_random=False))
@settings(deadline=None, max_examples=30)
def test_an_overlay_that_says_the_same_changes_nothing(
    tmp_path_factory: pytest.TempPathFactory, chance: random.Random
) -> None:
    small = Path(__file__).parent / "small_rules"
    # What an authority asks is not to be changed, not even to the same.
    things = [row for row in named(read_nodes(small)) if row[1] != "limits"]
    rows = [(*row[:3], some_keys(row[3], chance)) for row in chance.sample(things, chance.randint(1, 25))]
    rows = [row for row in rows if not isinstance(row[3], Mapping) or row[3].entries]
    over = written(tmp_path_factory.mktemp("over"), tree(rows, changed=True))
    assert plain(read_rule_base(small, [over]).assemblies) == plain(read_rule_base(small).assemblies)


@given(st.randoms(use_true_random=False))
@settings(deadline=None, max_examples=30)
def test_what_is_moved_from_the_files_to_an_overlay_is_as_good_there(
    tmp_path_factory: pytest.TempPathFactory, chance: random.Random
) -> None:
    small = Path(__file__).parent / "small_rules"
    nodes = read_nodes(small)
    moved_rows = chance.sample(named(nodes), chance.randint(1, 25))
    base, over = copied(small, tmp_path_factory.mktemp("base") / "rules"), tmp_path_factory.mktemp("over")
    for file in {row[0] for row in moved_rows}:
        rest = without(nodes[file], {(row[1], row[2]) for row in moved_rows if row[0] == file})
        (base / file).write_text(yaml_of(rest) + "\n", encoding="utf-8")
    written(over, tree(moved_rows, changed=False))
    assert plain(read_rule_base(base, [over]).assemblies) == plain(read_rule_base(small).assemblies)


NUMBERS = [
    ("parts/flap.yaml", "causes", "grit", "share: 30", "share", "55"),
    ("parts/flap.yaml", "repairs", "clean", "minutes: 20", "minutes", "35"),
    (
        "parts/flap.yaml",
        "repairs",
        "new_rubber",
        "{worn: usually, grit: seldom}",
        "cures",
        "{worn: often, grit: seldom}",
    ),
    ("assemblies/twin.yaml", "components", "flap_1", "rate: 0.05", "rate", "0.07"),
    ("site/conditions.yaml", "conditions", "pressure_swings", "rate: 0.08", "rate", "0.2"),
    ("states.yaml", "states", "gauge", "minutes: 10", "minutes", "25"),
]


@pytest.mark.parametrize(("file", "section", "name", "old", "key", "new"), NUMBERS)
def test_a_changed_number_equals_the_edited_file(
    file: str, section: str, name: str, old: str, key: str, new: str, small_folder: Path, tmp_path: Path
) -> None:
    edited = copied(small_folder, tmp_path / "rules")
    text = (edited / file).read_text(encoding="utf-8")
    start = text.index(f"  {name}:")
    value = f"{key}: {new}" if old.startswith(key) else new
    (edited / file).write_text(text[:start] + text[start:].replace(old, value, 1), encoding="utf-8")
    (value_node,) = (row[3] for row in named(read_nodes(small_folder)) if row[:3] == (file, section, name))
    assert isinstance(value_node, Mapping)
    source = next((inner for k, inner in value_node.entries if k.text == "source"), None)
    vouched = f", source: {yaml_of(source)}" if source else ""
    over = written(tmp_path / "over", {file: f"changed:\n  {section}:\n    {name}: {{{key}: {new}{vouched}}}\n"})
    assert plain(read_rule_base(small_folder, [over]).assemblies) == plain(read_rule_base(edited).assemblies)
