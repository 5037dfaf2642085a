"""The keys of observations, findings and rules, which every kind of rule file may hold."""

from __future__ import annotations

from diagnose.knowledge.findings import MOST_DECIBANS
from diagnose.knowledge.keys.kinds import (
    DELIBERATE_KEY,
    DIFFERENCE,
    RANGE,
    Chances,
    Choice,
    Grades,
    Key,
    Named,
    Number,
    Premises,
    Probability,
    Section,
    Table,
    Text,
    Things,
    When,
    YesNo,
    needed,
    sometimes,
)
from diagnose.knowledge.quantities import PRESSURE_UNITS

SOURCE = needed(
    "source",
    Named("source", many=True),
    "Where this comes from: a key of sources.yaml, 'common practice', 'inference', 'from memory', or 'estimate' for a "
    "number of your own; a list where there are several.",
)
TITLE = needed("title", Text(), "A short name for tables and headings.")

OBSERVATION = Section(
    "observation",
    "Something that a person sees, measures or answers. It is unknown until it is answered.",
    (
        TITLE,
        sometimes("question", Text(), "The question, as it is put to the person at the assembly."),
        sometimes("how", Text(), "How to look or to measure, so that two people get the same answer."),
        Key(
            "answers",
            Table("name", Text(), least=2),
            "The answers to choose from, two or more, the harmless one first.",
        ),
        Key(
            "unit",
            Choice(tuple((unit, f"Readings are shown in {unit}.") for unit in PRESSURE_UNITS)),
            "Makes it a reading, and says in which unit it is shown. Readings may be entered in any unit.",
        ),
        sometimes("range", RANGE, "The lowest and the highest pressure that can be true; anything outside is refused."),
        Key("computed", DIFFERENCE, "Not asked, but worked out: one reading minus another."),
        Key("limit", Named("limit"), "The acceptance limit that the reading is judged by."),
        Key(
            "only in service",
            YesNo(),
            "Whether it shows only while the assembly is in service, so that it is not asked for later: yes or no.",
        ),
        Key("on the record", Text(), "The field of a test's record in which the answer stands, as in 'Line pressure'."),
        sometimes("state", Named("state"), "The state that the assembly has to be in, from states.yaml."),
        sometimes("minutes", Number(0, 600), "How many minutes it takes once the assembly is in that state."),
        Key("asked when", Premises(), "Only asked, and only counted, while this holds."),
        Key("void when", Premises(), "Not counted while this holds, because the answer could then mislead."),
        SOURCE,
        DELIBERATE_KEY,
    ),
    one_of=("answers", "unit", "computed"),
    conditions=(
        When("computed", "not there", needs=("question", "how", "state", "minutes")),
        When("unit", "there", needs=("range",)),
        When("unit", "not there", bars=("range",)),
    ),
)

FINDING = Section(
    "finding",
    "What rules conclude from observations and other findings: true, false or unknown. It may have grades.",
    (
        TITLE,
        needed(
            "says",
            Grades(),
            "The sentence that stands on the sheet while the finding is true; or a sentence for each grade, the "
            "harmless one first.",
        ),
        Key("says otherwise", Text(), "The sentence that stands on the sheet while the finding is false."),
        sometimes(
            "background",
            Chances(),
            "How likely this is seen with nothing wrong. For each grade: this grade or a worse one.",
        ),
        Key(
            "reasons",
            Table("reason", Chances()),
            "What would show this, and how likely. Failure modes and site conditions; in a part's file, causes of the "
            "part. Two that show it only together are joined by ' and '.",
        ),
        Key(
            "hidden by",
            Table("reason", Probability()),
            "What can hide it: the chance to see it is multiplied by this number while that is present.",
        ),
        Key(
            "weighs",
            Table("kind of cause", Number(-MOST_DECIBANS, MOST_DECIBANS)),
            "For a circumstance: how much likelier (or, with a minus, less likely) it makes a kind of cause, in "
            "decibans. 3 doubles the odds, 10 makes them ten times as high.",
        ),
        Key("weighs on", Named("component", many=True), "The components whose causes it weighs; all, if left out."),
        SOURCE,
        DELIBERATE_KEY,
    ),
    conditions=(
        When("reasons", "holds entries", needs=("background",), bars=("weighs",)),
        When("reasons", "holds no entries", bars=("background", "hidden by")),
        When("weighs", "holds no entries", bars=("weighs on",)),
        When("says", "holds entries", bars=("says otherwise",)),
        When("says", "holds three", by_grade=("background", "reasons")),
    ),
)

RULE = Section(
    "rule",
    "From premises to one finding: while all premises hold, the finding is true.",
    (
        needed("premises", Premises(), "What must hold, all of it: observations with answers, and findings."),
        needed(
            "finding",
            Named("conclusion"),
            "The finding that it concludes; of one with grades, 'NAME is GRADE'.",
        ),
        needed("reason", Text(), "The mechanism in one sentence: why the premises show the finding."),
        SOURCE,
        Key("easily confused with", Text(), "What looks like this and is not."),
        Key(
            "disputed", Text(), "Where sources disagree: both opinions, each with its source. It is shown to the user."
        ),
        DELIBERATE_KEY,
    ),
)

OBSERVATIONS = Key("observations", Things(OBSERVATION), "What is asked and measured, by name.")
FINDINGS = Key("findings", Things(FINDING), "What rules conclude, by name.")
RULES = Key("rules", Things(RULE, names="local"), "From premises to findings, by name.")
