"""The engine on rules about something else, invented for the test: a bicycle lamp that stays dark."""

from __future__ import annotations

from diagnose.engine.chaining import Chaining
from diagnose.engine.justify import Reasons
from diagnose.engine.order import order_gates, order_rules
from diagnose.model.premises import All, Answered, AnyOf, Bound, Gate, Holds, Measured, Not
from tests.engine.strategies import PLAIN, Answers, counted, rule

GRADES = {
    "light": ("bright", "dim", "dark"),
    "voltage_arrives": PLAIN,
    "wire_broken": PLAIN,
    "bulb_burnt_out": PLAIN,
}
RULES = [
    rule("no_light_at_all", Answered("lamp", ("stays dark",)), "light", "dark"),
    rule("weak_light", Answered("lamp", ("glows faintly",)), "light", "dim"),
    rule(
        "meter_shows_voltage",
        Measured("lamp_volts", "at least", Bound(0.0, ("full_voltage",))),
        "voltage_arrives",
    ),
    rule("spare_lamp_lights", Answered("spare_lamp", ("lights",)), "voltage_arrives"),
    rule(
        "dark_without_voltage",
        All(
            (
                Holds("light", ("dark",)),
                Not(Holds("voltage_arrives")),
                Measured("lost_volts", "above", Bound(1.0)),
            )
        ),
        "wire_broken",
    ),
    rule("dark_with_voltage", All((Holds("light", ("dark",)), Holds("voltage_arrives"))), "bulb_burnt_out"),
    rule("seen_broken", AnyOf((Answered("filament", ("broken",)),)), "bulb_burnt_out"),
]
COMPUTED = {"lost_volts": ("battery_volts", "lamp_volts")}
GATES = [
    Gate("void when", Answered("switch", ("off",)), ("lamp", "lamp_volts")),
    Gate("asked when", Holds("light", ("dark",)), ("spare_lamp",)),
]
LIMITS = {"full_voltage": 5.5}


def looked_at(answers: Answers) -> tuple[Chaining, set[str]]:
    gates = order_gates(GATES, RULES, COMPUTED)
    chaining, aside = counted(order_rules(GRADES, RULES), LIMITS, gates, answers, COMPUTED)
    return chaining, set(aside)


def test_a_dark_lamp_without_voltage_has_a_broken_wire() -> None:
    answers: Answers = {
        "lamp": "stays dark",
        "lamp_volts": 0.2,
        "battery_volts": 6.0,
        "spare_lamp": "stays dark",
        "filament": "whole",
    }
    chaining, aside = looked_at(answers)
    assert aside == set()
    assert tuple(chaining.grades["wire_broken"].values()) == (False, True)
    assert tuple(chaining.grades["bulb_burnt_out"].values()) == (True, False)
    named = {step.proposition.finding for step in Reasons(chaining, RULES).trail("wire_broken", "yes")}
    assert named == {"wire_broken", "light", "voltage_arrives"}


def test_nothing_follows_from_a_lamp_that_is_switched_off() -> None:
    chaining, aside = looked_at({"switch": "off", "lamp": "stays dark", "lamp_volts": 0.2, "spare_lamp": "lights"})
    assert aside == {"lamp", "lamp_volts", "spare_lamp"}
    assert chaining.possible("light") == (0, 1, 2)
    assert tuple(chaining.grades["wire_broken"].values()) == (None, None)


def test_a_faint_glow_leaves_only_the_filament_to_look_at() -> None:
    chaining, _ = looked_at({"switch": "on", "lamp": "glows faintly"})
    assert chaining.possible("light") == (1,)
    assert tuple(chaining.grades["wire_broken"].values()) == (True, False)
    assert Reasons(chaining, RULES).missing("bulb_burnt_out", "yes") == ("filament",)
