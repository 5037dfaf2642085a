"""The keys of a case file and of the cases beside the rules: what may stand there and what it means."""

from __future__ import annotations

from diagnose.knowledge.keys.kinds import (
    DELIBERATE_KEY,
    PRESSURE,
    SIZE,
    Answers,
    AssemblyType,
    Key,
    Listed,
    Named,
    Results,
    Section,
    Text,
    Texts,
    Thing,
    needed,
)

_TYPE = needed("assembly", AssemblyType(), "The type of the assembly, as in RP.")
_PROFILE = Key("profile", Named("profile"), "Whose acceptance limits to judge by; the default profile, if left out.")
_TITLE = Key("title", Text(), "What to call the case, as in an address or a number.")
_SIZE = Key("size", SIZE, "The nominal size, as in '3/4 in', '1 1/2 in' or '50 mm'; it counts in the minutes of work.")
_ACCURACY = Key(
    "gauge_accuracy",
    PRESSURE,
    "How far the gauge may be off, more than 0 and at most 5 psid; the usual accuracy, if left out.",
)
_NOTES = Key("notes", Text(may_be_empty=True), "Anything worth remembering.")
_STATE = Key("state", Named("state"), "The state that the assembly has been brought into; in service, if left out.")
_PARTS = Key("parts", Named("component", many=True), "The parts that are open, where a state is reached part by part.")

RECORD = Section(
    "record",
    "What was found and done in the end.",
    (
        Key("found", Texts(), "What was found, in words."),
        Key("done", Texts(), "What was done, in words."),
        Key("final_test", Answers(), "The readings of the test afterwards."),
        DELIBERATE_KEY,
    ),
)
CASE = Section(
    "case",
    "One assembly, and what was seen and read on it.",
    (
        _TYPE,
        _PROFILE,
        _TITLE,
        _SIZE,
        _ACCURACY,
        _NOTES,
        _STATE,
        _PARTS,
        Key("observations", Answers(), "What was seen and read; leave out what is unknown."),
        Key("record", Thing(RECORD, may_be_empty=True), "What was found and done in the end."),
        DELIBERATE_KEY,
    ),
)

EXPECTED = Section(
    "expect",
    "What must come of the case, and what must not; at least one of these.",
    (
        Key("finds", Results(), "Findings that must hold, each with its grade ('yes' or 'no' where it has none)."),
        Key("does not find", Results(), "Grades that must be ruled out."),
        Key("leaves open", Named("finding", many=True), "Findings of which no grade may be settled."),
        Key("fires", Named("rule", many=True), "Rules whose premises must all hold."),
        Key("does not fire", Named("rule", many=True), "Rules whose premises must not all hold."),
        Key("first", Named("standing"), "What must be the most probable: a cause, a component, or 'nothing wrong'."),
        Key("order", Named("standing", many=True), "Causes or components from the most probable on."),
        Key("not first", Named("standing", many=True), "Causes or components that must not be the most probable."),
        Key("void", Named("observation", many=True), "Answers that must not count, because something spoils them."),
        DELIBERATE_KEY,
    ),
)
BESIDE_CASE = Section(
    "case beside the rules",
    "A case with what must come of it.",
    (
        needed("name", Text(), "A whole sentence: what is seen, and what it must lead to."),
        _TYPE,
        _PROFILE,
        _TITLE,
        _SIZE,
        _ACCURACY,
        _NOTES,
        _STATE,
        _PARTS,
        Key("observations", Answers(closed=False), "What was seen and read; leave out what is unknown."),
        needed("expect", Thing(EXPECTED), "What must come of the case, and what must not."),
        Key("source", Named("source"), "Who published the statement that this case checks."),
        Key("states", Text(), "What that source states, in other words; goes with 'source'."),
        DELIBERATE_KEY,
    ),
)
CASES = Section(
    "cases",
    "Cases beside the rules: what the rules must and must not make of them.",
    (needed("cases", Listed(BESIDE_CASE), "The cases."), DELIBERATE_KEY),
)
