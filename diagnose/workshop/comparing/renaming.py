"""Which of the things that are gone came back under another name, and how one can tell."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from diagnose.knowledge.yamltext import Mapping as Written
from diagnose.knowledge.yamltext import Node
from diagnose.workshop.comparing.things import WrittenThing, leaves

LEAST_ALIKE = 0.6
LEAST_FILE_ALIKE = 0.5
# A value that stands in more things than this tells nothing of which is which.
MOST_SHARING = 40

Content = frozenset[tuple[str, str]]


class Renamed(NamedTuple):
    """An old and a new thing that are the same one, and how that shows."""

    old: WrittenThing
    new: WrittenThing
    how: str


def renamed_files(old: Mapping[str, Node], new: Mapping[str, Node]) -> dict[str, str]:
    """Old file -> new file, where a file is gone and one in the same folder holds mostly the same names."""
    found: dict[str, str] = {}
    for gone in sorted(set(old) - set(new)):
        shares = {
            came: _share(_names(old[gone]), _names(new[came]))
            for came in sorted(set(new) - set(old) - set(found.values()))
            if came.rpartition("/")[0] == gone.rpartition("/")[0]
        }
        best = max(shares, key=lambda name: shares[name], default="")
        if best and shares[best] >= LEAST_FILE_ALIKE:
            found[gone] = best
    return found


def _names(node: Node) -> frozenset[str]:
    entries = node.entries if isinstance(node, Written) else ()
    return frozenset(name.text for _, value in entries if isinstance(value, Written) for name, _ in value.entries)


def _share(one: frozenset[object], other: frozenset[object]) -> float:
    return len(one & other) / (len(one | other) or 1)


def renamings(gone: Sequence[WrittenThing], came: Sequence[WrittenThing], retired: Mapping[str, str]) -> list[Renamed]:
    """Pairs of the two, each thing once: first those that retired.yaml names, then the most alike."""
    taken: set[tuple[str, str, str]] = set()
    found: list[Renamed] = []
    by_name = {(thing.section, thing.name): thing for thing in came}
    for thing in gone:
        new = by_name.get((thing.section, retired.get(thing.name, "")))
        if new is not None and new.key not in taken:
            found.append(Renamed(thing, new, "retired.yaml says so"))
            taken |= {thing.key, new.key}
    for share, old, new, how in sorted(_alike(gone, came), key=lambda row: (-row[0], row[1].key, row[2].key)):
        if share >= LEAST_ALIKE and old.key not in taken and new.key not in taken:
            found.append(Renamed(old, new, how))
            taken |= {old.key, new.key}
    return found


def _alike(
    gone: Iterable[WrittenThing], came: Iterable[WrittenThing]
) -> Iterable[tuple[float, WrittenThing, WrittenThing, str]]:
    """Pairs of one section with the share of what they say that they have in common."""
    contents = {thing.key: (thing, _content(thing)) for thing in came if thing.section}
    where: dict[tuple[str, tuple[str, str]], list[tuple[str, str, str]]] = defaultdict(list)
    for key, (thing, content) in contents.items():
        for item in content:
            where[thing.section, item].append(key)
    for old in gone:
        content = _content(old)
        shared = (where.get((old.section, item), ()) for item in content)
        for key in Counter(key for keys in shared if len(keys) <= MOST_SHARING for key in keys):
            new, other = contents[key]
            common, all_of_them = len(content & other), len(content | other)
            same = common == all_of_them
            how = "the same content" if same else f"alike in {common} of {all_of_them} entries"
            yield (2.0 if same else common / all_of_them), old, new, how


def _content(thing: WrittenThing) -> Content:
    """What it says, its own name left out."""
    own = {thing.name: "(its name)"}
    return frozenset((" / ".join(path), own.get(leaf.text, leaf.text)) for path, leaf in leaves(thing).items())
