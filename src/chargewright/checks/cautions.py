"""Which caution texts go with a reading, from what is measured and how the machine stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from chargewright.checks.catalogue import Check
from chargewright.checks.safety import ALTERNATOR, BEYOND_PLUG, NEGATIVE, POSITIVE, RESISTANCE
from chargewright.machine.points import Engine, Function, Load, Point, State, Warmth

MAKER_FIRST = "maker_first"

POSTS = frozenset({Point.BATTERY_POS, Point.BATTERY_NEG})


def caution_ids(
    function: Function, plus: Point | None, minus: Point | None, state: State
) -> tuple[str, ...]:
    """Return the names of the cautions any reading of this kind carries, catalogue or not."""
    points = frozenset(point for point in (plus, minus) if point is not None)
    ids = [*_engine(state), *_battery(points, state)]
    if function in RESISTANCE and plus is not minus:
        ids.append("dead_circuit")
        ids += _network(points, state)
    if function is Function.DC_A:
        ids += ["series_meter", "amp_jack"]
    unplugged = not state.plug_in and bool(points & ALTERNATOR)
    if unplugged and state.engine is not Engine.OFF and function is Function.AC_V:
        ids.append("open_circuit_volts")
    if state.full_field:
        ids.append("full_field")
    if state.warmth is not Warmth.COLD:
        ids.append("hot_parts")
    return tuple(dict.fromkeys(ids))


def cautions_for(check: Check, texts: Mapping[str, str]) -> tuple[str, ...]:
    """Return the caution texts of a check; the last one defers to the maker's manual."""
    derived: tuple[str, ...] = ()
    if check.function is not None:
        derived = caution_ids(check.function, check.plus, check.minus, check.state)
    return as_texts((*check.cautions, *derived), texts)


def as_texts(ids: Iterable[str], texts: Mapping[str, str]) -> tuple[str, ...]:
    """Return the texts behind caution names, each once, the maker's word last."""
    once = dict.fromkeys(name for name in ids if name != MAKER_FIRST)
    return tuple(texts[name] for name in (*once, MAKER_FIRST))


def _engine(state: State) -> list[str]:
    if state.engine is Engine.RUNNING:
        return ["running", "exhaust", "no_battery_off"]
    if state.engine is Engine.CRANKING:
        return ["crank_short"]
    return []


def _battery(points: frozenset[Point], state: State) -> list[str]:
    ids = []
    if points & POSTS:
        ids += ["short", "acid"]
    if not state.battery_in:
        ids.append("negative_first")
    if state.load is Load.LOAD_TESTER:
        ids += ["load_heat"] if state.battery_charged else ["load_heat", "load_uncharged"]
    return ids


def _network(points: frozenset[Point], state: State) -> list[str]:
    """Cautions where another part of the circuit lies beside the one that is meant."""
    ids = []
    floating = points <= ALTERNATOR | {Point.FRAME} and not state.plug_in
    if state.battery_in and not floating and points & (POSITIVE | NEGATIVE | BEYOND_PLUG):
        ids.append("battery_in_network")
    if state.plug_in and points & BEYOND_PLUG:
        ids.append("parallel_paths")
    return ids
