"""The keys of parts/<kind>.yaml and site/*.yaml."""

from __future__ import annotations

from diagnose.knowledge.keys.common import FINDINGS, OBSERVATIONS, RULES, SOURCE
from diagnose.knowledge.keys.kinds import (
    DELIBERATE_KEY,
    LOCAL_NAME,
    Choice,
    Key,
    Listed,
    Named,
    Number,
    Probability,
    Section,
    Shaped,
    Table,
    Text,
    Texts,
    Thing,
    Things,
    YesNo,
    needed,
    sometimes,
)
from diagnose.knowledge.symbols import LARGEST, POINT, THICKEST

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

_WAY = rf"^{POINT}( +to +{POINT})+$"
_CORNERS = Shaped(rf"^{POINT} +to +{POINT}$", "two corners, as in '-20 -14 to 20 14', left and upper first")
_TONES = Choice(
    (
        ("ink", "Black."),
        ("paper", "White."),
        ("tint", "The colour of what flows in the pipes."),
        ("none", "Nothing."),
    )
)


def _shape(kind: str, points: str, about: str) -> Key:
    return sometimes(kind, Shaped(_WAY, f"points right and down from the part's own, as in '{points}'"), about)


SHAPE = Section(
    "shape",
    "One shape of a symbol. Points count right and down from where the part stands on its line.",
    (
        _shape("line", "-10 -17 to -10 -6", "A line through two points or more."),
        _shape("area", "-6 -14 to 6 -14 to 0 -2", "An area with three corners or more."),
        _shape("box", "-21 -17 to 21 17", "A box, by two corners."),
        _shape("circle", "0 0 to 16 0", "A circle, by its middle and a point of it."),
        _shape("spring", "-4 0 to 14 0", "A spring between two points."),
        _shape("curve", "-8 9 to 0 -7 to 8 9", "A curve from the first to the third point, drawn towards the second."),
        Key("thick", Number(0, THICKEST), "How thick the line is; 1.6 if left out, 0 for none."),
        Key("filled", _TONES, "What it is filled with; nothing, if left out."),
        Key("colour", _TONES, "The colour of the line; ink, if left out."),
        Key("dashed", YesNo(), "Whether the line is dashed: yes or no."),
        Key("round", Number(0, LARGEST), "How far the corners of a box are rounded; not at all, if left out."),
        Key("wide", Number(0, LARGEST), "How far a spring reaches to either side; 6, if left out."),
        DELIBERATE_KEY,
    ),
    one_of=("line", "area", "box", "circle", "spring", "curve"),
)

SYMBOL = Section(
    "symbol",
    "How a part is drawn in the picture of an assembly. It is named beside its symbol.",
    (
        sometimes("shapes", Listed(SHAPE), "What is drawn, from the back to the front."),
        sometimes(
            "leads",
            Choice((("yes", "It leads pressure from the line to another part."),)),
            "Makes it a tube, which has no shapes of its own.",
        ),
        Key(
            "stands",
            Choice(
                (
                    ("on the line", "The line runs through its point; it is named below."),
                    ("on top", "It stands on the line, and is named above."),
                    ("below", "It hangs below the line; its point is the top of its body."),
                )
            ),
            "Where it stands; on the line, if left out.",
        ),
        Key("room", _CORNERS, "What stays free for it; a little more than its shapes take, if left out."),
        Key("shaded", _CORNERS, "What is shaded while the part is suspected; its room, if left out."),
        Key("pipe to", Shaped(f"^{POINT}$", "a point, as in '-13 31'"), "Of one below: where its pipe comes in."),
        Key("tube to", Shaped(f"^{POINT}$", "a point, as in '-52 9'"), "Where a tube that leads to it comes in."),
        DELIBERATE_KEY,
    ),
    one_of=("shapes", "leads"),
)

RECORDED = Section(
    "part on the record",
    "What the record of a test asks of each part of this kind.",
    (
        Key(
            "tick",
            Shaped(r"^(?!.* or .* or )\s*\S.* or .*\S\s*$", "two words, as in 'tight or leaked'"),
            "The two boxes of which one is ticked in each test.",
        ),
        Key("confirm", Text(), "A box for the assembly that has such a part, as in 'air gap right'."),
        Key("in one line", YesNo(), "Whether all parts of the kind share one line of the repairs: yes or no."),
        DELIBERATE_KEY,
    ),
)

PART = Section(
    "part",
    "A kind of part: how it fails, why, what is seen when it is opened, and how it is repaired.",
    (
        needed("part", LOCAL_NAME, "The name of the part; it is also the name of the file."),
        needed("title", Text(), "What the part is called in texts."),
        Key("symbol", Thing(SYMBOL), "How it is drawn in the picture of an assembly; as a plain box, if left out."),
        Key("record", Thing(RECORDED), "What the record of a test asks of it."),
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
