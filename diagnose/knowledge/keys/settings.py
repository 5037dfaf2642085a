"""The keys of the files that stand beside types, parts and site: settings, limits, version.yaml and overlay.yaml."""

from __future__ import annotations

from diagnose.knowledge.edition import DAY, NUMBERS
from diagnose.knowledge.keys.common import SOURCE
from diagnose.knowledge.keys.kinds import (
    DELIBERATE_KEY,
    LOCAL_NAME,
    MONTH,
    PRESSURE,
    SIZE,
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
from diagnose.knowledge.settings import SOURCE_MARKS

UNLISTED = Section(
    "unlisted",
    "The chance that something is wrong which no rule knows.",
    (
        needed("text", Text(), "What stands on the sheet for it."),
        needed("rate", Probability(), "How likely it is at an assembly that someone looks at."),
        needed("shows", Probability(), "How likely it shows each single finding."),
        SOURCE,
        DELIBERATE_KEY,
    ),
)
SCALES = Section(
    "scales",
    "Words for probabilities, kinds of cause, and what the rules do not know.",
    (
        needed(
            "words",
            Table("text", Number(1e-6, 1 - 1e-6), least=1),
            "Words for probabilities, each with its number between 0 and 1.",
        ),
        needed(
            "cause kinds",
            Table("text", Text(), least=1),
            "Kinds of cause, each in words; circumstances weigh on kinds.",
        ),
        needed("unlisted", Thing(UNLISTED), "The chance that something is wrong which no rule knows."),
        Key(
            "short forms",
            Table("text", Text()),
            "Short forms that texts may use without writing them out, each with what it means.",
        ),
        DELIBERATE_KEY,
    ),
)

STATE = Section(
    "state",
    "A state that an assembly is brought into, to look or to work.",
    (
        needed("text", Text(), "The state in words."),
        needed("minutes", Number(0, 2000), "Minutes to bring an assembly in service into this state, smallest size."),
        Key("cautions", Named("caution", many=True), "Warnings for whoever brings it into this state."),
        Key("last step", Text(), "The step that ends every repair made in this state."),
        DELIBERATE_KEY,
    ),
)
SIZE_MINUTES = Section(
    "size minutes",
    "How much longer work takes at larger sizes.",
    (
        needed("up to", SIZE, "Nominal sizes up to this one, included."),
        needed("times", Number(0.1, 100), "Minutes of work are multiplied by this number."),
        DELIBERATE_KEY,
    ),
)
PLAN_MINUTES = Section(
    "plan minutes",
    "What every plan counts besides the work itself.",
    (
        needed("retest", Number(0, 2000), "Minutes of the test after each repair."),
        needed("fall back", Number(1, 100_000), "Minutes that it costs where no repair has helped, smallest size."),
        DELIBERATE_KEY,
    ),
)
STATES = Section(
    "states",
    "States of the assembly, and minutes.",
    (
        needed("states", Things(STATE, least=1, names="any"), "States that checks and repairs need, by name."),
        needed("size minutes", Listed(SIZE_MINUTES), "How minutes of work grow with size; sizes must rise."),
        needed("plan minutes", Thing(PLAN_MINUTES), "What every plan counts besides the work itself."),
        DELIBERATE_KEY,
    ),
)

CAUTION = Section(
    "caution",
    "A warning. Local code, the water supplier and the maker's instructions govern.",
    (
        needed("text", Text(), "The warning: what can happen, and what to do."),
        Key("always", YesNo(), "Whether it stands on every sheet."),
        Key("parts", Texts(), "It stands only where the assembly has one of these parts; everywhere, if left out."),
        SOURCE,
        DELIBERATE_KEY,
    ),
)
CAUTIONS = Section(
    "cautions",
    "Warnings; states, repairs and types of assembly name them.",
    (needed("cautions", Things(CAUTION, least=1, names="any"), "Warnings, by name."), DELIBERATE_KEY),
)

_MARKS_MEAN = {
    "read": "It was read in full.",
    "read in part": "Parts of it were read.",
    "quoted by others": "It is known from others who quote it.",
    "from memory": "Nobody has looked it up.",
}
SOURCE_ENTRY = Section(
    "source entry",
    "Something published that rules rest on.",
    (
        needed("title", Text(), "What it is called, and who published it when."),
        needed("where", Text(), "Where it can be found."),
        needed("mark", Choice(tuple((mark, _MARKS_MEAN[mark]) for mark in SOURCE_MARKS)), "How well it is known."),
        DELIBERATE_KEY,
    ),
)
SOURCES = Section(
    "sources",
    "What has been published; everything in the rule base cites it.",
    (
        needed("sources", Things(SOURCE_ENTRY, least=1, names="any"), "Sources, by the key that others cite."),
        DELIBERATE_KEY,
    ),
)

RETIRED_NAME = Section(
    "retired name",
    "A name that is no longer used and never gets a second meaning.",
    (
        needed("replaced by", Text(), "The name that stands in its place."),
        needed("why", Text(), "Why it was given up."),
        DELIBERATE_KEY,
    ),
)
RETIRED = Section(
    "retired",
    "Names that are no longer used.",
    (Key("retired", Things(RETIRED_NAME, names="any"), "Names that are no longer used."), DELIBERATE_KEY),
)

_VERSION = Shaped(NUMBERS, "three numbers, as in 1.4.0")
_DATE = Shaped(DAY, "a day, as in 2026-11-29")
CHANGE = Section(
    "change",
    "What one version of the rule base changed.",
    (
        needed("version", _VERSION, "The version."),
        needed("date", _DATE, "The day on which it was given out."),
        needed("changed", Texts(), "What changed, in sentences for who uses the rules."),
        DELIBERATE_KEY,
    ),
)
EDITION = Section(
    "version",
    "Which version of the rules this is; every sheet says so.",
    (
        needed("version", _VERSION, "The version; docs/rule-format.md says which number to raise."),
        needed("changes", Listed(CHANGE), "What each version changed, the newest first."),
        DELIBERATE_KEY,
    ),
)

_CHECKED = needed("checked", MONTH, "The month in which the value was last compared with its source, as in 2026-11.")
_NOTE = Key("note", Text(), "Anything worth knowing about the value.")
LIMIT = Section(
    "limit",
    "An acceptance limit: which pressure passes.",
    (
        sometimes("at least", PRESSURE, "This pressure or more passes."),
        sometimes("above", PRESSURE, "Only more than this pressure passes."),
        SOURCE,
        _CHECKED,
        _NOTE,
        DELIBERATE_KEY,
    ),
    one_of=("at least", "above"),
)
PROFILE = Section(
    "limit profile",
    "The acceptance limits of one authority.",
    (
        needed("profile", LOCAL_NAME, "The name of the profile; cases name it."),
        needed("title", Text(), "Whose limits these are, and of which year."),
        Key("default", YesNo(), "Whether it is used where a case names none; one profile only."),
        needed("explains", Text(), "One or two sentences: who uses it, and what differs from others."),
        needed("limits", Things(LIMIT, least=1, names="local"), "The limits, by the name that rules use."),
        DELIBERATE_KEY,
    ),
)
GAUGE_LIMIT = Section(
    "gauge accuracy",
    "How far a gauge may be off.",
    (
        sometimes("at most", PRESSURE, "A reading may be off by this pressure, up or down."),
        SOURCE,
        _CHECKED,
        _NOTE,
        DELIBERATE_KEY,
    ),
    one_of=("at most",),
)
GAUGE = Section(
    "gauge",
    "What is taken for the gauge where a case does not state its accuracy.",
    (needed("gauge accuracy", Thing(GAUGE_LIMIT), "How far a gauge may be off."), DELIBERATE_KEY),
)

OVERLAY = Section(
    "overlay",
    "What makes a folder an overlay: your own rules, laid over the shipped ones.",
    (
        needed("overlay", LOCAL_NAME, "The name of the overlay."),
        needed("title", Text(), "What it is; every sheet made with it says so."),
        DELIBERATE_KEY,
    ),
)
