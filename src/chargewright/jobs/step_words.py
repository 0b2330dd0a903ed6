"""A check in words for the bench: the dial, the places of both probes, the machine's state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chargewright.checks.word import FUNCTION_WORDS, describe
from chargewright.diagnosis.number_words import quantity
from chargewright.machine.points import POINT_TITLES, Function, Point, State

if TYPE_CHECKING:
    from chargewright.diagnosis.findings import NextStep
    from chargewright.diagnosis.question import Answer
    from chargewright.meters.card import MeterCard

ROOM = 1.15  # a range is offered when the expected figures leave this much room below its end
SHORT_POINTS = {
    Point.BATTERY_NEG: "battery −",
    Point.BATTERY_POS: "battery +",
    Point.FUSE_OUT: "behind fuse",
    Point.REG_OUT: "regulator out",
    Point.REG_BODY: "regulator body",
    Point.FRAME: "frame",
    Point.ALT_A: "alternator A",
    Point.ALT_B: "alternator B",
    Point.ALT_C: "alternator C",
    Point.REG_A: "regulator A",
    Point.REG_B: "regulator B",
    Point.REG_C: "regulator C",
    Point.REG_SENSE: "sense lead",
    Point.STARTER_POS: "starter",
    Point.LIGHT_COIL: "lighting lead, alternator",
    Point.LIGHT_REG: "lighting lead, regulator",
    Point.LAMP: "headlamp",
    Point.REG_FIELD: "field lead, regulator",
    Point.FIELD_POS: "field lead, alternator",
    Point.FIELD_NEG: "field ground lead",
    Point.REG_SUPPLY: "regulator supply",
}
RANGED = (Function.DC_V, Function.OHM)  # AC and amperes begin on the highest range, for safety


def probe_pairs(
    function: Function | None, plus: Point | None, minus: Point | None, dial: str = ""
) -> list[tuple[str, str]]:
    """Return labels and texts for the dial and the places of both probes."""
    if function is None:
        return []
    if function is Function.LOOK:
        if plus is None or minus is None:
            return [("look", "eyes and fingers, no meter")]
        where = POINT_TITLES[plus]
        return [("look", where if plus is minus else f"from {where} to {POINT_TITLES[minus]}")]
    pairs = [("dial", dial or FUNCTION_WORDS[function])]
    if plus is None or minus is None:
        return pairs
    red, black = POINT_TITLES[plus], POINT_TITLES[minus]
    if plus is minus:
        return [*pairs, ("probes", f"both on {red}")]
    if function is Function.CLAMP_A:
        return [*pairs, ("clamp", f"round the wire, arrow from {red} to {black}")]
    if function is Function.DC_A:
        pairs.append(("wire", f"open the one from {red} to {black}, meter in its place"))
    return [*pairs, ("red", red), ("black", black)]


def state_words(state: State) -> str:
    """Return how the machine stands, as ``engine at 5000 rpm, lights on``."""
    return describe(None, None, None, state).removeprefix("act, ")


def short_title(answer: Answer) -> str:
    """Return how a reading is called; one of no catalogue check gets its points in short."""
    question = answer.question
    plus, minus, state = question.plus, question.minus, question.state
    if plus is None or minus is None:
        return answer.title
    if answer.title != describe(question.function, plus, minus, state):
        return answer.title
    where = SHORT_POINTS[plus]
    if plus is not minus:
        where = f"{where} to {SHORT_POINTS[minus]}"
    return f"{FUNCTION_WORDS[question.function]}, {where}, {state_words(state)}"


def dial_text(step: NextStep, meter: MeterCard) -> str:
    """Return the dial's function, its range on a meter set by hand; empty for a look."""
    function = step.question.function
    if function is Function.LOOK:
        return ""
    words = FUNCTION_WORDS[function]
    card = meter.functions.get(function)
    if card is None or card.autorange:
        return words
    if function in (Function.AC_V, Function.DC_A):
        return f"{words}, highest range first"
    ends = [abs(x) for band in step.expected for x in (band.low, band.high) if x is not None]
    if function not in RANGED or not ends:
        return words
    scale = card.range_for(max(ends) * ROOM).full_scale
    return f"{words}, {quantity(scale, function.unit)} range"
