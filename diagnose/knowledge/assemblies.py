"""Building a type of assembly from its file, its parts, the site files, and the types it includes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise
from math import fsum
from typing import NamedTuple, cast

from diagnose.knowledge.context import Context, Vocabulary
from diagnose.knowledge.drawn import Drawable, read_drawn, titled
from diagnose.knowledge.fields import Fields, complain
from diagnose.knowledge.findings import read_premises
from diagnose.knowledge.format import CHANGED, rule_format
from diagnose.knowledge.laying import spliced, varied
from diagnose.knowledge.parts import PartFile, WayIn, read_common, read_repairs
from diagnose.knowledge.piece import Piece, of_component, of_line, own_name, under
from diagnose.knowledge.settings import Limits
from diagnose.knowledge.yamltext import Node, Scalar, Sequence, entries_of, flat, value_of
from diagnose.model.assembly import Assembly, TypeNames, type_names
from diagnose.model.causes import Finding
from diagnose.model.foreign import cut
from diagnose.model.places import Place
from diagnose.model.premises import All, Answered, AnyOf, Holds, Premise
from diagnose.model.work import Component, State

# What every type takes over from the settings as it stands there.
SETTLED = ("unlisted", "sources", "size_minutes", "turning_minutes", "plan_minutes", "not_covered")

NOT_ALONE = "names of one's own may stand under 'changed' only where one type is included, without 'under' and 'title'"


class Known(NamedTuple):
    """What has been read before the assemblies."""

    context: Context
    limits: Limits
    parts: dict[str, PartFile]
    site: PartFile


class Built(NamedTuple):
    """One type without the site files, and the names that it makes known."""

    title: str
    retest: str
    cautions: tuple[str, ...]
    piece: Piece
    words: Vocabulary
    steps: dict[str, tuple[str, ...]]
    granted: tuple[tuple[str, str], ...]
    unusual: tuple[tuple[str, str], ...]


class Builder:
    """Builds every type once; an included type is built before the one that includes it."""

    def __init__(self, nodes: list[Node], known: Known) -> None:
        self.known = known
        self.context = known.context
        self.nodes: dict[str, Node] = {}
        self.built: dict[str, Built] = {}
        self.types: set[str] = set()
        self.files = self._named(nodes)

    def _named(self, nodes: list[Node]) -> dict[str, Fields]:
        files: dict[str, Fields] = {}
        for node in nodes:
            file = self._fields(flat(value_of(node, "assembly")), node)
            name = file["assembly"]
            if name in self.types:
                message = f"assembly '{name}' is defined a second time"
                complain(self.context.problems, file.place, message, (files[name].place, "first here"))
            self.types.add(name)
            files.setdefault(name, file)
            self.nodes.setdefault(name, node)
        return files

    def _fields(self, name: str, node: Node) -> Fields:
        """A file of a type, with names of its own."""
        words = Vocabulary()
        words.include(self.known.site.words)
        words.limits, words.types = self.context.vocabulary.limits, self.types
        words.parts = set(self.known.parts)
        context = self.context._replace(vocabulary=words)
        return Fields(node, f"assembly {name}".strip(), rule_format().sections["assembly"], context)

    def all(self) -> dict[str, Assembly]:
        """Type -> assembly, sorted by type; none where types include each other in a circle."""
        if self._circle():
            return {}
        found = {name: self._finished(name, self._built(name)) for name in sorted(self.files) if name}
        self._called_twice(found.values())
        # A file that other types change is read once for each of them.
        self.context.problems[:] = dict.fromkeys(self.context.problems)
        return found

    def _circle(self) -> bool:
        """Whether types include each other in a circle; it is told as that, and nothing that follows from it."""
        places = {name: _included_by(node) for name, node in self.nodes.items()}
        try:
            TopologicalSorter(places).prepare()
        except CycleError as error:
            ring: list[str] = error.args[1][:0:-1]
            first = ring.index(min(ring))
            ring = [*ring[first:], *ring[:first], ring[first]]
            place, *others = (places[one][other] for one, other in pairwise(ring))
            told = zip(others, pairwise(ring[1:]), strict=True)
            notes = ((where, f"{one} includes {other} here") for where, (one, other) in told)
            message = f"assembly {ring[0]}, includes: a circle: {' includes '.join(ring)}"
            complain(self.context.problems, place, message, *notes, hides=True)
            return True
        return False

    def _called_twice(self, found: Iterable[Assembly]) -> None:
        """Nobody could tell two types of one name apart."""
        names = type_names(found)
        taken = {kind: kind for kind in names.types}
        for called, kind in names.called:
            other = next((taken[one] for one in taken if TypeNames((one,)).meant(called)), "")
            if other:
                message = f"assembly {kind}, also called: '{cut(called)}' means {other} already"
                complain(self.context.problems, self.files[kind].at("also called"), message)
            taken[called] = kind

    def _built(self, name: str) -> Built:
        if name not in self.built:
            self.built[name] = self._read(name, self.nodes[name])
        return self.built[name]

    def _file(self, name: str, node: Node) -> Fields:
        """The file of a type together with those of which it changes something."""
        whole = spliced(node, self.nodes, self.context.problems)
        return self.files[name] if whole is self.nodes[name] else self._fields(name, whole)

    def _read(self, name: str, node: Node) -> Built:
        """A type as its file has it, or with what another type that includes it changes of it."""
        file = self._file(name, node)
        context = cast("Context", file.scope)
        piece, words = Piece(), context.vocabulary
        around = {key.text for section in ("components", "observations") for key, _ in file[section]}
        for fields in file.listed("includes"):
            piece = piece.joined(self._included(fields, words, around))
        for key, fields in file.things("components"):
            piece = piece.joined(self._component(key, fields, context))
        piece = piece.joined(read_common(file, context))
        mends = tuple(sorted(row.name for row in piece.components))
        repairs = read_repairs(file, context, {"": WayIn()})[""]
        piece = piece.joined(Piece(repairs=tuple(row._replace(mends=mends) for row in repairs)))
        symbols = {row.name: self.known.parts[row.part].symbol for row in piece.components}
        drawn = read_drawn(file, piece.drawn, Drawable(symbols, words, context.problems))
        lists = {
            "field_test": piece.field_test + file["field test"],
            "asked_first": piece.asked_first + file["asked first"],
            "no_protection": piece.no_protection + _premises(file, "no protection when", context),
        }
        piece = piece._replace(drawn=drawn, **lists)
        steps = {state.text: rows for state, rows in file["steps to get there"]}
        granted, unusual = (_answers(file, key, context) for key in ("taken for granted", "hardly ever so"))
        return Built(file["title"], file["retest"], file["cautions"], piece, words, steps, granted, unusual)

    def _included(self, fields: Fields, words: Vocabulary, around: Set[str]) -> Piece:
        name, prefix, title = fields["assembly"], fields["under"], fields["title"]
        change = fields.get(CHANGED)
        if name not in self.files:
            return Piece()
        if change is None:
            inner = self._built(name)
        else:
            before = len(self.context.problems)
            inner = self._read(name, varied(self.nodes[name], change, fields.what, self.context.problems))
            self._explained(before, around)
        dotted = f"{prefix}." if prefix else ""
        own = inner.piece.names() | {f"rule {rule.name}" for rule in inner.piece.rules}
        brought = sorted(own & inner.words.places.keys())
        clash = next((name for name in brought if dotted + name in words.places), None)
        if clash is not None:
            note = (words.places[dotted + clash], "first here")
            message = f"{fields.what}: '{dotted}{clash}' comes in a second time; write 'under' to give a prefix"
            complain(self.context.problems, fields.place, message, note)
            return Piece()
        words.include(inner.words, dotted, own)
        named = under(inner.piece, dotted, None, of_line(inner.piece, title))
        size = fields["size"]
        parts = tuple(row._replace(size=size or row.size) for row in named.components)
        return named._replace(drawn=titled(named.drawn, title), components=parts)

    def _explained(self, before: int, own: Set[str]) -> None:
        """Says of names that an included type does not know, though the type that changes it does, why that is so."""
        for at, row in enumerate(self.context.problems[before:], before):
            if row.lacks in own:
                message = f"{row.message.partition(';')[0]} in what is included; {NOT_ALONE}"
                self.context.problems[at] = row._replace(message=message)

    def _component(self, key: Scalar, fields: Fields, context: Context) -> Piece:
        name, title, rate, sources = key.text, fields["title"], fields["rate"], fields["source"]
        kind: str = fields["part"]
        part = self.known.parts.get(kind)
        if part is None:
            return Piece()
        fields.scope = context._replace(vocabulary=part.words)
        weights = {cause.name: cause.rate for cause in part.piece.causes}
        shares = {cause.text for cause, _ in entries_of(fields.get("shares"))}
        if fields.at("part").file != fields.at("shares").file and not shares <= weights.keys():
            note = (fields.at("shares"), "shares of causes that it has not stand here")
            message = f"{fields.what}, part: another part has other causes; change 'shares' with it"
            complain(self.context.problems, fields.at("part"), message, note)
        else:
            weights |= {cause.text: share for cause, share in fields["shares"]}
        context.declare(name, key.place)
        context.vocabulary.components.add(name)
        context.vocabulary.include(part.words, f"{name}.")
        context.vocabulary.causes |= {f"{name}.{cause}" for cause in weights}
        total = fsum(weights.values()) or 1.0  # exact, so that the order of causes changes nothing
        causes = tuple(
            cause._replace(
                rate=rate * weights[cause.name] / total, sources=tuple(dict.fromkeys(cause.sources + sources))
            )
            for cause in part.piece.causes
        )
        rated = part.reached(fields["taken apart"])._replace(causes=causes)
        piece = under(rated, f"{name}.", name, of_component(title))
        return piece._replace(
            components=(Component(name, kind, title, key.place, part.recorded, fields["size"] or 0.0),)
        )

    def _finished(self, name: str, built: Built) -> Assembly:
        settings, limits = self.context.settings, self.known.limits
        whole = built.piece.joined(self.known.site.piece)
        kinds = {row.part for row in whole.components}
        whole = _possible(whole, kinds)
        cautions = tuple(
            caution._replace(always=caution.always or caution.name in built.cautions)
            for caution in settings.cautions
            if not caution.parts or kinds & set(caution.parts)
        )
        own = whole._asdict() | {
            # What is seen from outside comes before what is seen of each part: it is asked first.
            "observations": tuple(sorted(whole.observations, key=lambda row: bool(row.component))),
            "repairs": tuple(r._replace(retest=r.retest or built.retest) for r in whole.repairs),
            "field_test": tuple(dict.fromkeys(whole.field_test)),
            "asked_first": tuple(dict.fromkeys(whole.asked_first)),
        }
        return Assembly(
            type=name,
            title=built.title,
            retest=built.retest,
            granted=built.granted,
            unusual=built.unusual,
            **own,
            states=tuple(_state(row, whole.findings, built.steps) for row in settings.states),
            cautions=cautions,
            profiles=limits.profiles,
            default_profile=limits.default,
            gauge_accuracy=limits.gauge_accuracy,
            words=tuple(settings.words.items()),
            **{key: getattr(settings, key) for key in SETTLED},
            sizes=_sizes(self.files[name]),
            also_called=self.files[name]["also called"],
            retired=settings.renamed,
            place=self.files[name].place,
        )


def _included_by(node: Node) -> dict[str, Place]:
    """The types that a file includes, each with the place where it says so."""
    rows = value_of(node, "includes")
    items = rows.items if isinstance(rows, Sequence) else ()
    return {flat(value_of(item, "assembly")): item.place for item in items}


def _possible(whole: Piece, kinds: Set[str]) -> Piece:
    """A type without the answers that need a part which it has not, and without what these alone would show."""
    barred = {
        row.name: {answer for answer, parts in row.answers_with_parts if kinds.isdisjoint(parts)}
        for row in whole.observations
        if row.answers_with_parts
    }

    def is_possible(premise: Premise) -> bool:
        parts = premise.parts if isinstance(premise, All) else (premise,)
        return not any(
            isinstance(x, Answered) and barred.get(x.observation, set()).issuperset(x.answers) for x in parts
        )

    rules = tuple(row for row in whole.rules if is_possible(row.premise))
    lost = {row.finding for row in whole.rules} - {row.finding for row in rules}
    return whole._replace(
        observations=tuple(
            row._replace(answers=tuple(pair for pair in row.answers if pair[0] not in barred.get(row.name, ())))
            for row in whole.observations
        ),
        rules=rules,
        findings=tuple(row for row in whole.findings if row.name not in lost),
    )


def _sizes(file: Fields) -> tuple[float, float]:
    """The smallest and the largest nominal size (inches)."""
    smallest, largest = file["smallest size"] or 0.0, file["largest size"] or 24.0
    if smallest > largest:
        file.miss("the smallest size is above the largest", "smallest size")
    return smallest, largest


def _premises(file: Fields, key: str, context: Context) -> tuple[Premise, ...]:
    """The premise under a key, where there is one."""
    return (read_premises(file[key], f"{file.what}, {key}", context),) if file[key] else ()


def _answers(file: Fields, key: str, context: Context) -> tuple[tuple[str, str], ...]:
    """The answers under a key: one to each observation, joined by 'and'."""
    before = len(file.problems)
    premises = _premises(file, key, context)
    asked = [part for row in premises for part in (row.parts if isinstance(row, All) else (row,))]
    single = all(isinstance(part, Answered) and len(part.answers) == 1 for part in asked)
    if not single and len(file.problems) == before:
        file.miss("expected one answer to each observation, as in '{NAME: ANSWER}'", key)
    return tuple((part.observation, part.answers[0]) for part in asked if isinstance(part, Answered))


def _state(state: State, findings: Iterable[Finding], steps: Mapping[str, tuple[str, ...]]) -> State:
    """A state as this type has it: its steps, and the findings, under whatever prefix, that keep people out of it."""
    state = state._replace(steps=steps.get(state.name, state.steps))
    match state.not_while:
        case Holds(name, grades):
            found = tuple(Holds(row.name, grades) for row in findings if own_name(row.name) == name)
            return state._replace(not_while=AnyOf(found) if found else None)
    return state
