"""Reading scales.yaml, states.yaml, cautions.yaml, sources.yaml and retired.yaml."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from diagnose.knowledge.context import Context, Settings, Vocabulary
from diagnose.knowledge.fields import Fields, Problems, unknown
from diagnose.knowledge.format import rule_format
from diagnose.knowledge.premises import read_premises
from diagnose.knowledge.yamltext import Node, Scalar, entries_of, value_of
from diagnose.model.causes import Unlisted
from diagnose.model.premises import Holds
from diagnose.model.work import Caution, PlanMinutes, Source, State

MOST_WORDS = 8
UNTOLD = Unlisted("", 0.01, 0.1)  # until the scales say it, or where they do not
Opened = Callable[[str], Node]


def read_settings(opened: Opened, problems: Problems) -> Settings:
    """Reads the five files through `opened`, which gives the node of a file of the rule base by its name."""
    settings = Settings({}, (), UNTOLD, (), (), (), PlanMinutes(0.0, 0.0), (), {})

    def file(name: str) -> Fields:
        file = f"{name}.yaml"
        return Fields(opened(file), file, rule_format().sections[name], Context(settings, Vocabulary(), problems))

    rows = file("sources").things("sources")
    settings = settings._replace(sources=tuple(row.into(Source, key, key=key.text) for key, row in rows))
    settings = settings._replace(cautions=_cautions(file("cautions")))
    work = file("states")
    settings = settings._replace(states=_states(work), size_minutes=_sizes(work), plan_minutes=_plan_minutes(work))
    scales = file("scales")
    kinds = tuple(key.text for key, _ in scales["cause kinds"])
    settings = settings._replace(words={key.text: number for key, number in scales["words"]}, kinds=kinds)
    scales.scope = Context(settings, Vocabulary(), problems)
    others = tuple((name, row["answer"]) for row in scales.listed("not covered") for name in row["names"])
    settings = settings._replace(not_covered=others)
    old = file("retired")
    return settings._replace(unlisted=_unlisted(scales), retired=_retired(old), renamed=_renamed(old))


def _unlisted(scales: Fields) -> Unlisted:
    fields = scales.inner("unlisted")
    return UNTOLD if fields is None else Unlisted(fields["text"], fields["rate"], fields["shows"])


def _cautions(file: Fields) -> tuple[Caution, ...]:
    rows = file.things("cautions")
    return tuple(row.into(Caution, key, said_when=None, in_short=_in_short(row)) for key, row in rows)


def _in_short(caution: Fields) -> str:
    """The clause, which has to fit a line of a phone."""
    text: str = caution["in short"]
    if len(text.split()) > MOST_WORDS:
        caution.miss(f"at most {MOST_WORDS} words, found {len(text.split())}", "in short")
    return text


def said_when(file: Node, context: Context) -> Context:
    """The context with what each caution is said on, which rests on names that other files make known."""
    rows = {row.name: row for row in context.settings.cautions}
    for key, row in entries_of(file, "cautions"):
        node = value_of(row, "said when")
        if node is not None and key.text in rows:
            premise = read_premises(node, f"caution '{key.text}', said when", context)
            rows[key.text] = rows[key.text]._replace(said_when=premise)
    return context._replace(settings=context.settings._replace(cautions=tuple(rows.values())))


def _states(file: Fields) -> tuple[State, ...]:
    rows = list(file.things("states"))
    return tuple(
        row.into(
            State,
            key,
            cover=_each_part(row),
            not_while=Holds(row["not while"]) if row["not while"] else None,
            steps=row["steps to get there"],
            after=_after(row, rows[:place]),
        )
        for place, (key, row) in enumerate(rows)
    )


def _after(state: Fields, before: Sequence[tuple[Scalar, Fields]]) -> str:
    """The state that is gone through first: one that stands before it, so that no way into a state is a circle."""
    name: str = state["comes after"]
    known = [key.text for key, _ in before]
    if name and name not in known:
        sentence = f"{state.what}, comes after: no state before it is called"
        unknown(state.problems, state.at("comes after"), sentence, name, known)
    return name


def _each_part(state: Fields) -> float:
    """The minutes for getting at one part, which are some of the state's own."""
    minutes: float = state["each part"]
    if minutes > state["minutes"]:
        state.miss("they are some of the state's minutes, so there cannot be more of them", "each part")
    return minutes


def _sizes(file: Fields) -> tuple[tuple[float, float], ...]:
    sizes = tuple((row["up to"], row["times"]) for row in file.listed("size minutes"))
    if all(size for size, _ in sizes) and list(sizes) != sorted(sizes):
        file.miss("sizes must rise", "size minutes")
    return sizes


def _plan_minutes(file: Fields) -> PlanMinutes:
    fields = file.inner("plan minutes")
    return PlanMinutes(fields["retest"], fields["fall back"]) if fields is not None else PlanMinutes(0.0, 0.0)


def _retired(file: Fields) -> dict[str, str]:
    return {key.text: f"replaced by '{row['replaced by']}': {row['why']}" for key, row in file.things("retired")}


def _renamed(file: Fields) -> tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...]:
    rows = file.things("retired")
    return tuple(
        sorted(
            (key.text, row["replaced by"], tuple(sorted((old.text, new) for old, new in row["answers"])))
            for key, row in rows
        )
    )
