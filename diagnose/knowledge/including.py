"""What a type changes of another type that it includes, laid over the nodes of that type's file before it is read.

Where the names of the included type stay as they are, its file and the own one become one, so that what is changed may
rest on the own names. Under a prefix, the included type is read by itself with what is changed of it.
"""

from __future__ import annotations

from collections.abc import Mapping as Known
from typing import NamedTuple

from diagnose.knowledge.fields import Problems, as_entries, complain, unknown
from diagnose.knowledge.format import CHANGED
from diagnose.knowledge.laying import Laying
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence, by_key, entries_of, value_of
from diagnose.model.foreign import cut

SECTIONS = ("components", "observations", "findings", "rules", "repairs")
LISTS = ("includes", "field test", "asked first")


class IncludedEntry(NamedTuple):
    """One of the types that a file includes, so far as it can be told before the file is read."""

    node: Node
    type: str
    apart: bool
    change: Node | None


def entry_of(node: Node) -> IncludedEntry:
    """An entry under `includes`; `apart` where its names or texts get something before them."""
    name, apart = value_of(node, "assembly"), {"under", "title"} & by_key(node).keys()
    return IncludedEntry(node, name.text if isinstance(name, Scalar) else "", bool(apart), value_of(node, CHANGED))


def varied(base: Node, change: Node, what: str, problems: Problems) -> Node:
    """The file of an included type with what is changed of it."""
    entries = as_entries(change, f"{what}, {CHANGED}", problems)
    for key, _ in entries:
        if key.text not in SECTIONS:
            unknown(problems, key.place, f"{what}, {CHANGED}: there is nothing to change under", key.text, SECTIONS)
    kept = Mapping(tuple(entry for entry in entries if entry[0].text in SECTIONS), change.place)
    return Laying({}, problems).changed(base, kept) if isinstance(base, Mapping) else base


def spliced(own: Node, files: Known[str, Node], problems: Problems, above: tuple[str, ...] = ()) -> Node:
    """A type's file with all that the files hold of which it changes something and which stand under no prefix."""
    if not isinstance(own, Mapping):
        return own
    included = value_of(own, "includes")
    entries = [entry_of(item) for item in included.items] if isinstance(included, Sequence) else []
    taken = [row for row in entries if row.change and not row.apart and row.type in files and row.type not in above]
    if not taken or not isinstance(included, Sequence):
        return own
    rest = Sequence(tuple(row.node for row in entries if row not in taken), included.place)
    whole = Mapping(tuple((k, rest if k.text == "includes" else v) for k, v in own.entries), own.place)
    for row in reversed(taken):
        inner = spliced(files[row.type], files, problems, (*above, row.type))
        what = f"includes, {row.type}"
        whole = _joined(varied(inner, row.change or inner, what, problems), whole, problems)
    return whole


def _joined(base: Node, own: Mapping, problems: Problems) -> Mapping:
    """What two files of assemblies say together; title, retest, cautions and checks passed over are the own one's."""
    entries = by_key(own)
    for key, value in entries_of(base):
        other = entries.get(key.text, (key, None))[1]
        if key.text in SECTIONS:
            entries[key.text] = (key, _both(value, other, problems))
        elif key.text in LISTS and isinstance(value, Sequence) and isinstance(other, Sequence | None):
            entries[key.text] = (key, Sequence(value.items + (other.items if other else ()), value.place))
        elif key.text == "drawn":
            entries[key.text] = (key, _over(value, other))
    return Mapping(tuple(entries.values()), own.place)


def _both(base: Node, own: Node | None, problems: Problems) -> Node:
    if not isinstance(base, Mapping) or not isinstance(own, Mapping):
        return base if own is None else own
    known = {key.text: key.place for key, _ in base.entries}
    for key, _ in own.entries:
        if key.text in known:
            message = f"includes: '{cut(key.text)}' comes in a second time; write what differs under '{CHANGED}'"
            complain(problems, key.place, message, (known[key.text], "first here"))
    return Mapping((*base.entries, *(entry for entry in own.entries if entry[0].text not in known)), base.place)


def _over(base: Node, own: Node | None) -> Node:
    """The picture of the included type with the own one over it; readings of both."""
    if not isinstance(base, Mapping) or not isinstance(own, Mapping):
        return base if own is None else own
    entries = by_key(base)
    for key, value in own.entries:
        before = entries.get(key.text, (key, None))[1]
        entries[key.text] = (key, _over(before, value) if before and key.text in {"readings", "beside"} else value)
    return Mapping(tuple(entries.values()), own.place)
