"""Laying overlays over the shipped rule files: names that are added, and values that are changed.

It works on the nodes of the files, before any meaning is read from them, so what comes out is what the shipped files
would hold had they been edited; every value keeps the place where it was written.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from collections.abc import Mapping as Known
from pathlib import PurePosixPath

from diagnose.knowledge.drawn import misspelt_situations, named_situations
from diagnose.knowledge.fields import Problems, as_entries, complain, unknown
from diagnose.knowledge.format import CHANGED, rule_format
from diagnose.knowledge.overlay import Keys, Overlay, Touch
from diagnose.knowledge.shipped import OVERLAY_FILE
from diagnose.knowledge.words import expected, nearest, one_of
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence, by_key, entries_of, flat, kind_of, value_of
from diagnose.model.foreign import cut
from diagnose.model.places import Place


class Laying:
    """Lays overlays over the files of a rule base, one after the other; conflicts are noted with both places."""

    def __init__(self, nodes: dict[str, Node], problems: Problems) -> None:
        self.nodes, self.problems = dict(nodes), problems
        self._retired = retired_names(nodes.get("retired.yaml"))
        self._heads: dict[str, Place] = {}
        self._touches: dict[str, list[Touch]] = {}
        self._changed: dict[tuple[str, Keys], Place] = {}
        self._overlay = self._file = ""
        self._format = rule_format()

    def touches_of(self, overlay: str) -> tuple[Touch, ...]:
        """What an overlay adds and changes, by file and place."""
        return tuple(sorted(self._touches.get(overlay, ()), key=lambda touch: (touch.file, touch.place)))

    def lay(self, overlay: Overlay, nodes: dict[str, Node]) -> None:
        """Lays the files of one overlay over what there is."""
        self._overlay = overlay.name
        place = Place(f"{overlay.folder}/{OVERLAY_FILE}")
        if overlay.name and overlay.name in self._heads:
            note = (self._heads[overlay.name], "first here")
            complain(self.problems, place, f"a second overlay is called '{overlay.name}'; give it another name", note)
        self._heads.setdefault(overlay.name, place)
        for name, node in nodes.items():
            self._file = name
            base = self.nodes.get(name)
            entries = as_entries(node, name, self.problems)
            change = next(((key, value) for key, value in entries if key.text == CHANGED), None)
            rest = Mapping(tuple(entry for entry in entries if entry[0].text != CHANGED), node.place)
            if base is None:
                self._new_file(name, rest, change)
            elif isinstance(base, Mapping):
                self.nodes[name] = self._over(base, rest, change)

    def changed(self, base: Mapping, change: Mapping) -> Mapping:
        """The file of a type of assembly with what is changed of it."""
        self._file = f"assemblies/{PurePosixPath(base.place.file).name}"
        return self._changes(base, change, set())

    def _new_file(self, name: str, rest: Mapping, change: tuple[Scalar, Node] | None) -> None:
        if change is not None:
            sentence = "changed: there is nothing to change, for the rule base has no file"
            unknown(self.problems, change[0].place, sentence, name, self.nodes)
            return
        if rest.entries:
            message = _stands_alone(name, {key.text for key, _ in rest.entries}, self.nodes)
            if message:
                complain(self.problems, rest.place, message)
                return
        self.nodes[name] = rest
        self._touch(Touch(name, (), True, rest.place, None, None, rest))

    def _over(self, base: Mapping, rest: Mapping, change: tuple[Scalar, Node] | None) -> Mapping:
        """Changes come first, so that a name that the same overlay adds cannot be changed by it."""
        added = {(k.text, n.text) for k, v in rest.entries if isinstance(v, Mapping) for n, _ in v.entries}
        changed = self._changes(base, change[1], added) if change is not None else base
        return self._additions(changed, rest)

    def _additions(self, base: Mapping, rest: Mapping) -> Mapping:
        entries = by_key(base)
        section = rule_format().of_file(self._file)
        known = (*(section.keys if section else ()), CHANGED)
        for key, node in rest.entries:
            found = entries.get(key.text)
            if found is None and nearest(key.text, known) == CHANGED:
                unknown(self.problems, key.place, "no such key", key.text, [CHANGED])
            elif found is None:
                entries[key.text] = (key, node)
                self._touch(Touch(self._file, (key.text,), True, key.place, None, None, node))
            elif (
                isinstance(found[1], Mapping)
                and isinstance(node, Mapping)
                and not self._format.is_single(self._file, key.text)
            ):
                entries[key.text] = (found[0], self._names(found[1], node, key.text))
            elif not (isinstance(found[1], Scalar) and isinstance(node, Scalar) and found[1].text == node.text):
                message = f"'{cut(key.text)}' is in the rule base already; to change it, write it under 'changed'"
                complain(self.problems, key.place, message, (found[0].place, "it stands here"))
        return Mapping(tuple(entries.values()), base.place)

    def _names(self, section: Mapping, node: Mapping, what: str) -> Mapping:
        entries = by_key(section)
        for key, value in node.entries:
            if key.text in entries:
                message = f"{what}: '{cut(key.text)}' is in the rule base already; write what differs under 'changed'"
                complain(self.problems, key.place, message, (entries[key.text][0].place, "it stands here"))
            else:
                entries[key.text] = (key, value)
                self._touch(Touch(self._file, (what, key.text), True, key.place, None, None, value))
        return Mapping(tuple(entries.values()), section.place)

    def _changes(self, base: Mapping, node: Node, added: set[tuple[str, str]]) -> Mapping:
        entries = by_key(base)
        for key, value in as_entries(node, CHANGED, self.problems):
            what = f"{CHANGED}, {cut(key.text)}"
            if key.text not in entries:
                self._absent(key, f"{CHANGED}: the file has no", entries, base.place)
                continue
            old_key, old = entries[key.text]
            if not isinstance(old, Mapping):
                new: Node = self._replaced((key.text,), old_key, old, key, value)
            elif self._format.is_single(self._file, key.text):
                new = self._thing((key.text,), old_key, old, value, what)
            else:
                new = self._section(old_key, old, value, {name for section, name in added if section == key.text})
            entries[key.text] = (old_key, new)
        return Mapping(tuple(entries.values()), base.place)

    def _section(self, section: Scalar, base: Mapping, node: Node, added: set[str]) -> Mapping:
        what = f"{CHANGED}, {cut(section.text)}"
        entries = by_key(base)
        for key, value in as_entries(node, what, self.problems):
            if key.text not in entries:
                if key.text in added:
                    message = f"{what}: '{cut(key.text)}' is added by this overlay; write it there as it shall be"
                    complain(self.problems, key.place, message)
                else:
                    self._absent(key, f"{what}: there is no", entries, section.place)
                continue
            old_key, old = entries[key.text]
            path = (section.text, key.text)
            if section.text == "limits":
                message = (
                    f"{what}: '{cut(key.text)}' is what this profile's authority asks; write a profile of your own"
                )
                complain(self.problems, key.place, message, (old_key.place, "it stands here"))
                continue
            if isinstance(old, Mapping):
                entries[key.text] = (old_key, self._thing(path, old_key, old, value, f"{what}, '{cut(key.text)}'"))
            else:
                entries[key.text] = (old_key, self._replaced(path, old_key, old, key, value))
        return Mapping(tuple(entries.values()), base.place)

    def _thing(self, path: Keys, name: Scalar, base: Mapping, node: Node, what: str) -> Mapping:
        if not isinstance(node, Mapping):
            message = f"{what}: expected the keys that differ (key: value), found {kind_of(node)}"
            complain(self.problems, node.place, message, (name.place, "it stands here"))
            return base
        entries = by_key(base)
        given = {key.text for key, _ in node.entries}
        for voucher in entries:
            row = self._format.key(self._file, (*path, voucher))
            if row is not None and row.voucher and given and voucher not in given:
                message = f"{what}: '{voucher}' is missing; {row.voucher}"
                complain(
                    self.problems, node.place, message, (entries[voucher][0].place, "the old one vouches for these")
                )
        return self._keys(path, name, base, node)

    def _keys(self, path: Keys, name: Scalar, base: Mapping, node: Mapping) -> Mapping:
        """A mapping with other values under its keys, or under those of a table in it that is changed by entry."""
        entries = by_key(base)
        for key, value in node.entries:
            old_key, old = entries.get(key.text, (name, None))
            below = (*path, key.text)
            row = self._format.key(self._file, below)
            by_entry = row is not None and row.by_entry and row.name == key.text
            if by_entry and isinstance(old, Mapping) and isinstance(value, Mapping):
                entries[key.text] = (old_key, self._keys(below, old_key, old, value))
            else:
                new = self._replaced(below, old_key, old, key, value)
                entries[key.text] = (old_key if old is not None else key, new)
        return Mapping(tuple(entries.values()), base.place)

    def _replaced(self, path: Keys, old_key: Scalar, old: Node | None, key: Scalar, new: Node) -> Node:
        _fewer_warnings(path, old_key, old, new, self.problems)
        if path == ("drawn", "situations"):
            misspelt_situations(new, named_situations(old).keys(), self.problems)
        first = self._changed.setdefault((self._file, path), key.place)
        if first != key.place:
            message = f"'{cut(', '.join(path), 120)}' is changed a second time"
            complain(self.problems, key.place, message, (first, "first here"), (old_key.place, "the rule base's own"))
        self._touch(Touch(self._file, path, False, key.place, old_key.place, old, new))
        return new

    def _absent(self, key: Scalar, sentence: str, known: dict[str, tuple[Scalar, Node]], where: Place) -> None:
        successor = self._retired.get(key.text)
        near = successor if successor in known else nearest(key.text, known)
        advice = f"it is retired, replaced by '{successor}'" if successor else expected(key.text, known)
        note = (known[near][0].place, f"'{near}' stands here") if near else (where, "what could be changed stands here")
        complain(self.problems, key.place, f"{sentence} '{cut(key.text)}'; {advice}", note)
        self.problems[-1] = self.problems[-1]._replace(lacks=key.text)

    def _touch(self, touch: Touch) -> None:
        self._touches.setdefault(self._overlay, []).append(touch)


def retired_names(node: Node | None) -> dict[str, str]:
    """Retired name -> the name that replaced it, so far as it is written."""
    rows = ((name.text, value_of(row, "replaced by")) for name, row in entries_of(node, "retired"))
    return {name: new.text for name, new in rows if isinstance(new, Scalar)}


def _stands_alone(name: str, keys: Collection[str], known: Iterable[str]) -> str:
    """What is wrong with a new file `name` with these keys, where the key that makes it one is missing; else "".

    `known` are the files of the rule base.
    """
    section = rule_format().of_file(name)
    folder = PurePosixPath(name).parent.as_posix()
    if section is None or folder not in ("assemblies", "parts", "limits"):
        return ""
    needed = section.needed
    if needed[0] in keys or nearest(needed[0], keys):
        return ""
    *most, last = map(repr, needed)
    others = {PurePosixPath(other).stem: other for other in known if other.startswith(f"{folder}/")}
    near = nearest(PurePosixPath(name).stem, others)
    meant = f"did you mean '{others[near]}'?" if near else f"expected {one_of(others.values())}"
    needs = f"needs {', '.join(most)} and {last}"
    return f"a new {section.name} {needs}, and the rule base has no file '{cut(name, 120)}'; {meant}"


def _fewer_warnings(path: tuple[str, ...], key: Scalar, old: Node | None, new: Node, problems: Problems) -> None:
    """Notes each warning that `new` in place of `old` would take away; `key` is the shipped key.

    A list of cautions keeps those it has, and a repair the states it needs, whose cautions it would lose. A caution
    that is always read stays so, and one that is read on every assembly, or on those with a part, is still read there.
    What it is said on, at the site or by size, stays as it is, and so does what keeps people out of a state.
    """
    word, gone = "caution", list[str]()
    if path[-1] == "cautions":
        gone = sorted(_texts(old) - _texts(new))
    elif path[0] == "repairs" and path[-1] == "states":
        word, gone = "state", sorted(_texts(old) - _texts(new))
    elif path[0] == "cautions" and path[-1] == "always":
        gone = [path[1]] if _texts(old) == {"yes"} and _texts(new) != {"yes"} else []
    elif path[0] == "cautions" and path[-1] == "parts":
        gone = [path[1]] if old is None or _texts(old) - _texts(new) else []
    elif path[0] == "cautions" and path[-1] in {"said when", "from size"}:
        gone = [path[1]]
    elif path[0] == "states" and path[-1] == "not while" and old is not None:
        word, gone = "finding", sorted(_texts(old) - _texts(new))
    for name in gone:
        message = f"{cut(', '.join(path), 120)}: the {word} '{cut(name)}' cannot be taken away, only others added"
        complain(problems, new.place, message, (key.place, "the rule base gives it here"))


def _texts(node: Node | None) -> set[str]:
    items = node.items if isinstance(node, Sequence) else (node,)
    return {item.text.strip() for item in items if isinstance(item, Scalar) and item.text.strip()}


SECTIONS = ("components", "observations", "findings", "rules", "repairs")
LISTS = ("includes", "field test", "asked first")
# Of a picture, what an including type adds to.
MERGED = {"readings", "beside", "loads", "felt before"}


def varied(base: Node, change: Node, what: str, problems: Problems) -> Node:
    """The file of an included type with what is changed of it."""
    entries = as_entries(change, f"{what}, {CHANGED}", problems)
    for key, _ in entries:
        if key.text not in SECTIONS:
            unknown(problems, key.place, f"{what}, {CHANGED}: there is nothing to change under", key.text, SECTIONS)
    kept = Mapping(tuple(entry for entry in entries if entry[0].text in SECTIONS), change.place)
    return Laying({}, problems).changed(base, kept) if isinstance(base, Mapping) else base


def spliced(own: Node, files: Known[str, Node], problems: Problems) -> Node:
    """A type's file with all that the files hold of which it changes something and which stand under no prefix."""
    if not isinstance(own, Mapping):
        return own
    included = value_of(own, "includes")
    if not isinstance(included, Sequence):
        return own
    taken: list[tuple[str, Node]] = []
    left: list[Node] = []
    for entry in included.items:
        name, change = flat(value_of(entry, "assembly")), value_of(entry, CHANGED)
        # Under these its names or texts get something before them; of several types each keeps its place in the order.
        apart = {"under", "title"} & by_key(entry).keys() or len(included.items) > 1
        if change is None or apart or name not in files:
            left.append(entry)
        else:
            taken.append((name, change))
    if not taken:
        return own
    rest = Sequence(tuple(left), included.place)
    whole = Mapping(tuple((k, rest if k.text == "includes" else v) for k, v in own.entries), own.place)
    for name, change in reversed(taken):
        inner = spliced(files[name], files, problems)
        whole = _joined(varied(inner, change, f"includes, {name}", problems), whole, problems)
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
            there = named_situations(value_of(value, "situations"))
            misspelt_situations(value_of(other, "situations"), there.keys(), problems)
            entries[key.text] = (key, _over(value, other))
        elif key.text == "no protection when":
            entries.setdefault(key.text, (key, value))
    return Mapping(tuple(entries.values()), own.place)


def _both(base: Node, own: Node | None, problems: Problems) -> Node:
    if not isinstance(base, Mapping) or not isinstance(own, Mapping):
        return base if own is None else own
    known = {key.text: key.place for key, _ in base.entries}
    for key, _ in own.entries:
        if key.text in known:
            message = f"includes: '{cut(key.text)}' comes in a second time; write what differs under '{CHANGED}'"
            complain(problems, key.place, message, (known[key.text], "first here"), hides=True)
    return Mapping((*base.entries, *(entry for entry in own.entries if entry[0].text not in known)), base.place)


def _over(base: Node, own: Node | None) -> Node:
    """The picture of the included type with the own one over it; what stands under MERGED of both."""
    if not isinstance(base, Mapping) or not isinstance(own, Mapping):
        return base if own is None else own
    entries = by_key(base)
    for key, value in own.entries:
        before = entries.get(key.text, (key, None))[1]
        if isinstance(before, Sequence) and isinstance(value, Sequence) and key.text == "situations":
            value = Sequence(before.items + value.items, value.place)  # noqa: PLW2901  the own ones behind
        entries[key.text] = (key, _over(before, value) if before and key.text in MERGED else value)
    return Mapping(tuple(entries.values()), own.place)
