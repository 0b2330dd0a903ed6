"""One check on the screen: where the probes go, the dial, the machine's state, what it may read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from chargewright.checks.word import FUNCTION_WORDS, describe
from chargewright.cli.screen import Cell, Screen
from chargewright.cli.words import minutes_text, percent, quantity
from chargewright.diagnosis.explain import band_text
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
    """Return the dial's function, and the range for it on a meter that is set by hand."""
    function = step.question.function
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


def show_step(
    screen: Screen, step: NextStep, meter: MeterCard, *, cautions: Iterable[str] | None = None
) -> None:
    """Write a check for the bench. ``cautions`` replaces the step's own list."""
    question = step.question
    screen.line(f"{step.check.title}", "bold cyan")
    pairs: list[tuple[str, Cell]] = [
        *probe_pairs(question.function, question.plus, question.minus, dial_text_of(step, meter)),
        ("state", state_words(question.state)),
        ("how", step.check.how),
        ("time", time_text(step)),
    ]
    told = step.cautions if cautions is None else tuple(cautions)
    pairs += [("care" if number == 0 else "", (text, "yellow")) for number, text in enumerate(told)]
    screen.pairs(pairs)
    show_expected(screen, step)


def dial_text_of(step: NextStep, meter: MeterCard) -> str:
    """Return the dial text, empty for a look."""
    return "" if step.question.function is Function.LOOK else dial_text(step, meter)


def time_text(step: NextStep) -> str:
    """Return the minutes of a step and what they are made of."""
    total = minutes_text(step.minutes, step.wait_h)
    others = [
        f"{what.removeprefix('open and close: ')} {minutes:g}"
        for what, minutes in step.parts
        if what != step.check.title
    ]
    return f"{total}: {', '.join(others)}, the check {step.check.minutes:g}" if others else total


def show_expected(screen: Screen, step: NextStep) -> None:
    """Write what the check would read under each leading cause."""
    function = step.question.function
    rows: list[list[Cell]] = []
    for band in step.expected:
        if function is Function.LOOK:
            text = f"yes in {percent(band.overload)}"
        else:
            text = band_text(band, function)
        rows.append(["   ", (text, "bold"), band.title])
    if rows:
        screen.line("  would read" if function is not Function.LOOK else "  would be seen", "bold")
        screen.rows(rows, gap=2)
