"""The keys of assemblies/<type>.yaml."""

from __future__ import annotations

from diagnose.knowledge.keys.common import FINDING, FINDINGS, OBSERVATION, OBSERVATIONS, RULE, RULES, SOURCE
from diagnose.knowledge.keys.kinds import (
    DELIBERATE_KEY,
    LOCAL_NAME,
    Changes,
    Flow,
    Key,
    Listed,
    Named,
    Number,
    Section,
    Table,
    Text,
    Thing,
    Things,
    needed,
)

COMPONENT = Section(
    "component",
    "A part at its place in the assembly.",
    (
        needed("part", Named("part"), "The kind of part; a file of parts/ describes it."),
        needed("title", Text(), "What it is called in this assembly, as in 'first check valve'."),
        needed(
            "rate",
            Number(1e-6, 0.9),
            "How likely it has a fault when someone looks, as a number; its causes share it.",
        ),
        Key(
            "shares",
            Table("cause", Number(0.001, 10_000)),
            "Causes that are likelier or rarer at this place than the part's file says: their shares here.",
        ),
        SOURCE,
        DELIBERATE_KEY,
    ),
)

CHANGED_HERE = Section(
    "changed of an included type",
    "What differs from the included type, by name: only keys that get another value, and a source of their own.",
    (
        Key("components", Changes(COMPONENT), "Components of the included type: rates, shares, titles."),
        Key("observations", Changes(OBSERVATION), "What is seen or read on it: questions, and when they count."),
        Key("findings", Changes(FINDING), "What that shows: reasons, backgrounds, sentences."),
        Key("rules", Changes(RULE), "Its rules: premises, sentences."),
    ),
)

INCLUDED = Section(
    "included type",
    "Another type that this one contains, as a detector type contains that of its main line and of its bypass.",
    (
        needed("assembly", Named("type"), "The type that is contained."),
        Key("under", LOCAL_NAME, "What its names begin with here, as in 'bypass'; they stay as they are without it."),
        Key("title", Text(), "What stands before its texts."),
        Key("changed", Thing(CHANGED_HERE), "What differs from the included type here, and only here."),
        DELIBERATE_KEY,
    ),
)

DRAWN_READING = Section(
    "drawn reading",
    "Where a reading is written in the picture.",
    (
        needed("at", Named("component"), "The component at which it is written."),
        Key("says", Text(), "The words before its value, as in 'holds'."),
        DELIBERATE_KEY,
    ),
)

DRAWN_BESIDE = Section(
    "drawn beside",
    "A line that lies beside the main line: that of an included type, or of components of the type's own.",
    (
        needed("leaves after", Named("component"), "The component of the main line after which it leaves."),
        needed("returns before", Named("component"), "The component of the main line before which it comes back."),
        Key("along the flow", Flow(), "The components on it, where no included type brings them."),
        Key("title", Text(), "What is written where it begins, where no included type brings its title."),
        Key("before it", Flow(), "Components ahead of the included line."),
        Key("after it", Flow(), "Components behind the included line."),
        DELIBERATE_KEY,
    ),
)

DRAWN = Section(
    "drawn",
    "The picture of the assembly.",
    (
        Key(
            "along the flow",
            Flow(),
            "The components from inlet to outlet, each once. A tube is written {tube: the component it leads to}.",
        ),
        Key(
            "readings", Things(DRAWN_READING, names="any", of="reading"), "Which reading is written at which component."
        ),
        Key(
            "beside",
            Things(DRAWN_BESIDE, names="any"),
            "A line beside the main one, by the prefix of an included type or a new name.",
        ),
        DELIBERATE_KEY,
    ),
)

ASSEMBLY = Section(
    "assembly",
    "A type of assembly: its components, what is seen and read on it, and what that shows.",
    (
        needed("assembly", Text(), "The short name of the type, as in RP; cases name it."),
        needed("title", Text(), "What the type is called in full."),
        needed("retest", Text(), "One sentence: the test that puts it back into service after a repair."),
        Key("cautions", Named("caution", many=True), "Warnings that stand on every sheet of this type."),
        Key("includes", Listed(INCLUDED), "Other types that this one contains; detector types only."),
        Key("components", Things(COMPONENT), "The parts of the assembly, each with a name of its own."),
        Key(
            "field test",
            Named("observation", many=True),
            "What a field test consists of, in the order in which it is made: first what later steps rest on.",
        ),
        Key("drawn", Thing(DRAWN), "The picture of the assembly; a type without it has none."),
        OBSERVATIONS,
        FINDINGS,
        RULES,
        DELIBERATE_KEY,
    ),
)
