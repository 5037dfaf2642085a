"""The keys of parts/<kind>.yaml and site/*.yaml."""

from __future__ import annotations

from diagnose.knowledge.keys.common import FINDINGS, OBSERVATIONS, RULES, SOURCE
from diagnose.knowledge.keys.kinds import (
    DELIBERATE_KEY,
    LOCAL_NAME,
    Choice,
    Key,
    Named,
    Number,
    Probability,
    Section,
    Table,
    Text,
    Texts,
    Things,
    needed,
)
from diagnose.model.schematic import SYMBOLS

MODE = Section(
    "failure mode",
    "How a part fails, as it is seen from outside.",
    (
        needed("text", Text(), "The failure as a sentence; {component} becomes the title of the component."),
        SOURCE,
        DELIBERATE_KEY,
    ),
)

CAUSE = Section(
    "cause",
    "Why a part fails.",
    (
        needed("text", Text(), "The cause in words; {component} becomes the title of the component."),
        needed("kind", Named("kind of cause"), "The kind of cause, from scales.yaml; circumstances weigh on kinds."),
        needed(
            "share",
            Number(0.001, 10_000),
            "How often this is the cause, against the other causes of the part. Only the proportion counts.",
        ),
        needed(
            "brings",
            Table("failure mode", Probability(), least=1),
            "Which failure modes of the part it brings about, each with how likely.",
        ),
        SOURCE,
        DELIBERATE_KEY,
    ),
)

CONDITION = Section(
    "site condition",
    "Something outside the assembly that looks like a fault of it.",
    (
        needed("text", Text(), "The condition in words."),
        needed("kind", Named("kind of cause"), "The kind of cause, from scales.yaml."),
        needed("rate", Probability(), "How likely it is found at an assembly that someone looks at."),
        SOURCE,
        DELIBERATE_KEY,
    ),
)

REPAIR = Section(
    "repair",
    "What is done about causes.",
    (
        needed("title", Text(), "What is done, in a few words."),
        needed("steps", Texts(), "The steps, one action each."),
        Key("parts", Texts(), "Parts to take along, by generic names; no maker and no number."),
        needed("minutes", Number(0, 2000), "Minutes of work at the smallest size, once the states are reached."),
        Key(
            "parts as minutes",
            Number(0, 10_000),
            "What the parts cost, in minutes of work; it counts in the order of the repairs.",
        ),
        Key("states", Named("state", many=True), "The states that the assembly has to be in, from states.yaml."),
        Key("cautions", Named("caution", many=True), "Warnings beyond those of the states, from cautions.yaml."),
        needed("cures", Table("cause", Probability(), least=1), "Which causes it cures, each with how likely."),
        Key("retest", Text(), "The test after this repair, where it is another than the one of the assembly."),
        SOURCE,
        DELIBERATE_KEY,
    ),
)

REPAIRS = Key("repairs", Things(REPAIR), "What is done about the causes, by name.")

_SYMBOL_MEANS = {
    "air_inlet": "An inlet that lets air in.",
    "check": "A check valve.",
    "cock": "A test cock.",
    "meter": "A meter.",
    "relief": "A relief valve.",
    "shutoff": "A shutoff valve.",
    "tube": "A line that brings pressure to another component.",
    "vent": "A vent.",
}

PART = Section(
    "part",
    "A kind of part: how it fails, why, what is seen when it is opened, and how it is repaired.",
    (
        needed("part", LOCAL_NAME, "The name of the part; it is also the name of the file."),
        needed("title", Text(), "What the part is called in texts."),
        Key(
            "symbol",
            Choice(tuple((symbol, _SYMBOL_MEANS[symbol]) for symbol in SYMBOLS)),
            "How it is drawn in the picture of an assembly. A part without it is named below the picture.",
        ),
        needed("modes", Things(MODE, least=1), "How it fails, as seen from outside, by name."),
        needed("causes", Things(CAUSE, least=1), "Why it fails, by name."),
        OBSERVATIONS,
        FINDINGS,
        RULES,
        REPAIRS,
        DELIBERATE_KEY,
    ),
)

SITE = Section(
    "site",
    "What lies outside the assembly: conditions, what spoils a test, and circumstances. It applies to every type.",
    (
        needed(
            "site",
            Choice(
                (
                    ("conditions", "What looks like a fault of the assembly."),
                    ("validity", "What spoils a test."),
                    ("circumstances", "History and surroundings that make a kind of cause likelier."),
                )
            ),
            "Which of the three files this is.",
        ),
        Key("conditions", Things(CONDITION), "What looks like a fault of the assembly, by name."),
        OBSERVATIONS,
        FINDINGS,
        RULES,
        REPAIRS,
        DELIBERATE_KEY,
    ),
)
