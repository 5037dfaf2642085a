"""Reading scales.yaml, states.yaml, cautions.yaml, sources.yaml and retired.yaml."""

from __future__ import annotations

from collections.abc import Callable

from diagnose.knowledge.context import MARKS, Context, Settings, Vocabulary, as_source
from diagnose.knowledge.fields import Fields, Problems, as_choice, as_items, as_number, as_text, complain
from diagnose.knowledge.quantities import parse_size
from diagnose.knowledge.yamltext import Node
from diagnose.model.causes import Unlisted
from diagnose.model.foreign import cut
from diagnose.model.work import Caution, PlanMinutes, Source, State

NO_MINUTES = PlanMinutes(0.0, 0.0)
SOURCE_MARKS = ("read", "read in part", "quoted by others", "from memory")

Opened = Callable[[str], Node]


def read_settings(opened: Opened, problems: Problems) -> Settings:
    """Reads the five files through `opened`, which gives the node of a file of the rule base by its name."""
    sources = _sources(Fields(opened("sources.yaml"), "sources.yaml", problems))
    known = tuple(source.key for source in sources) + MARKS
    cautions = _cautions(Fields(opened("cautions.yaml"), "cautions.yaml", problems), known)
    work = Fields(opened("states.yaml"), "states.yaml", problems)
    states, sizes, minutes = _states(work, cautions), _sizes(work), _plan_minutes(work)
    work.done()
    scales = Fields(opened("scales.yaml"), "scales.yaml", problems)
    words = _words(scales)
    kinds = tuple(_kind(key.text, node, scales) for key, node in scales.entries("cause kinds", needed=True))
    unlisted = _unlisted(scales, words, sources)
    for key, node in scales.entries("short forms"):
        as_text(node, f"{scales.what}, short forms, {cut(key.text)}", problems)
    scales.done()
    retired = _retired(Fields(opened("retired.yaml"), "retired.yaml", problems))
    return Settings(words, kinds, unlisted, sources, states, sizes, minutes, cautions, retired)


def _words(scales: Fields) -> dict[str, float]:
    return {key.text: _word(key.text, node, scales) for key, node in scales.entries("words", needed=True)}


def _word(word: str, node: Node, scales: Fields) -> float:
    """The word's probability. A wrong one is no number at all, so that no grade seems wrong because of it."""
    before = len(scales.problems)
    number = as_number(node, f"{scales.what}, words, {word}", scales.problems, 1e-6, 1 - 1e-6)
    return number if len(scales.problems) == before else float("nan")


def _kind(name: str, node: Node, scales: Fields) -> str:
    as_text(node, f"{scales.what}, cause kinds, {name}", scales.problems)
    return name


def _unlisted(scales: Fields, words: dict[str, float], sources: tuple[Source, ...]) -> Unlisted:
    node = scales.need("unlisted")
    if node is None:
        return Unlisted("", 0.01, 0.1)
    fields = Fields(node, "scales.yaml, unlisted", scales.problems)
    settings = Settings(words, (), Unlisted("", 0.01, 0.1), sources, (), (), NO_MINUTES, (), {})
    context = Context(settings, Vocabulary(), scales.problems)
    chances = []
    for key in ("rate", "shows"):
        value = fields.need(key)
        chances.append(context.probability(value, f"{fields.what}, {key}") if value is not None else 0.1)
    context.sources(fields)
    unlisted = Unlisted(fields.text("text"), chances[0], chances[1])
    fields.done()
    return unlisted


def _sources(file: Fields) -> tuple[Source, ...]:
    rows = []
    for key, node in file.entries("sources", needed=True):
        fields = Fields(node, f"source '{key.text}'", file.problems)
        title, where, mark = fields.text("title"), fields.text("where"), fields.choice("mark", SOURCE_MARKS)
        rows.append(Source(key.text, title, where, mark, key.place))
        fields.done()
    file.done()
    return tuple(rows)


def _cautions(file: Fields, known: tuple[str, ...]) -> tuple[Caution, ...]:
    rows = []
    for key, inner in file.entries("cautions", needed=True):
        fields = Fields(inner, f"caution '{key.text}'", file.problems)
        node = fields.need("source")
        what = f"{fields.what}, source"
        items = as_items(node, what, file.problems) if node is not None else ()
        sources = tuple(as_source(item, what, file.problems, known) for item in items)
        text, always, parts = fields.text("text"), fields.yes("always"), fields.texts("parts")
        rows.append(Caution(key.text, text, always, sources, parts, key.place))
        fields.done()
    file.done()
    return tuple(rows)


def _all_known(fields: Fields, key: str, node: Node | None, known: tuple[str, ...]) -> tuple[str, ...]:
    what = f"{fields.what}, {key}"
    items = as_items(node, what, fields.problems) if node is not None else ()
    return tuple(as_choice(item, what, fields.problems, known) for item in items)


def _states(file: Fields, cautions: tuple[Caution, ...]) -> tuple[State, ...]:
    states = []
    known = tuple(row.name for row in cautions)
    for key, node in file.entries("states", needed=True):
        fields = Fields(node, f"state '{key.text}'", file.problems)
        named = _all_known(fields, "cautions", fields.get("cautions"), known)
        text, minutes, last = fields.text("text"), fields.number("minutes", 0, 2000), fields.text("last step", "")
        states.append(State(key.text, text, minutes, named, key.place, last))
        fields.done()
    return tuple(states)


def _sizes(file: Fields) -> tuple[tuple[float, float], ...]:
    node = file.need("size minutes")
    what = "states.yaml, size minutes"
    items = as_items(node, what, file.problems) if node is not None else ()
    sizes = tuple(_size(item, file) for item in items)
    if all(size for size, _ in sizes) and list(sizes) != sorted(sizes):
        complain(file.problems, file.at("size minutes"), f"{what}: sizes must rise")
    return sizes


def _size(node: Node, file: Fields) -> tuple[float, float]:
    fields = Fields(node, "states.yaml, size minutes", file.problems)
    fields.need("up to")
    size = fields.parsed("up to", parse_size, 0.0)
    times = fields.number("times", 0.1, 100)
    fields.done()
    return size, times


def _plan_minutes(file: Fields) -> PlanMinutes:
    node = file.need("plan minutes")
    if node is None:
        return NO_MINUTES
    fields = Fields(node, "states.yaml, plan minutes", file.problems)
    minutes = PlanMinutes(fields.number("retest", 0, 2000), fields.number("fall back", 1, 100_000))
    fields.done()
    return minutes


def _retired(file: Fields) -> dict[str, str]:
    rows = {}
    for key, node in file.entries("retired"):
        fields = Fields(node, f"retired name '{key.text}'", file.problems)
        rows[key.text] = f"replaced by '{fields.text('replaced by')}': {fields.text('why')}"
        fields.done()
    file.done()
    return rows
