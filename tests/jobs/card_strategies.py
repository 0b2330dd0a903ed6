"""Hypothesis strategies for whole job cards, as the JSON a foreign program might send."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from chargewright.jobs.card import CcaStandard, Confirmation
from chargewright.jobs.parts import RPM_MAX, RPM_MIN
from chargewright.jobs.reading import Stage
from chargewright.jobs.shown import LIMITS, ONE_FIGURE, UNIT_OF, Qualifier
from chargewright.machine.layout import Chemistry
from chargewright.machine.points import POINT_BY_WORD, Engine, Function, Load, Warmth

Json = dict[str, Any]

_letters = st.characters(blacklist_categories=["Cs", "Cc"])
lines = st.text(_letters, max_size=30)
texts = st.text(st.one_of(_letters, st.just("\n")), max_size=60)
words = st.from_regex(r"[a-z0-9][a-z0-9_.-]{0,15}", fullmatch=True)
job_ids = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,15}", fullmatch=True)
times = (
    st.datetimes()
    .map(lambda moment: moment.isoformat() + "+02:00")
    .filter(lambda text: not text.startswith(("0001", "9999")))
)
finite = st.floats(allow_nan=False, allow_infinity=False)
free = st.dictionaries(
    lines,
    st.recursive(
        st.none() | st.booleans() | st.integers(-(10**20), 10**20) | finite | texts,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(lines, inner, max_size=3),
        max_leaves=6,
    ),
    max_size=3,
)


def _some(**optional: st.SearchStrategy[Any]) -> st.SearchStrategy[Json]:
    """Any subset of the optional fields, also as explicit nulls left out."""
    return st.fixed_dictionaries({}, optional=optional)


def _between(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


@st.composite
def shown(draw: st.DrawFn, function: Function) -> Json:
    """What a meter shows on ``function``, every qualifier."""
    qualifier = draw(st.sampled_from(Qualifier))
    if qualifier is Qualifier.CONTINUITY and function not in (Function.OHM, Function.DIODE):
        qualifier = Qualifier.OVERLOAD
    result: Json = {"unit": UNIT_OF[function].value, "qualifier": qualifier.value}
    if qualifier in ONE_FIGURE:
        result["value"] = draw(_between(*LIMITS[function]))
    if qualifier is Qualifier.BETWEEN:
        pair = sorted([draw(_between(*LIMITS[function])), draw(_between(*LIMITS[function]))])
        result["value"], result["value_max"] = pair
    return result | draw(_some(text=lines, lsd=st.floats(1e-9, 1e6)))


@st.composite
def states(draw: st.DrawFn) -> Json:
    """A machine state; speeds only with the engine running."""
    engine = draw(st.sampled_from(Engine))
    result = draw(
        _some(
            rpm_rel_u=_between(0.01, 0.5),
            key_on=st.booleans(),
            lights_on=st.booleans(),
            plug_in=st.booleans(),
            battery_in=st.booleans(),
            warmth=st.sampled_from(list(Warmth)).map(str),
            load=st.sampled_from(list(Load)).map(str),
            battery_charged=st.booleans(),
            rest_h=_between(0, 1e5),
        )
    )
    result["engine"] = engine.value
    if engine is Engine.RUNNING:
        kind = draw(st.sampled_from(["none", "word", "number", "range"]))
        if kind == "word":
            result["rpm"] = draw(st.sampled_from(["idle", "mid", "high"]))
        elif kind != "none":
            speeds = sorted(draw(st.tuples(_between(RPM_MIN, RPM_MAX), _between(RPM_MIN, RPM_MAX))))
            result["rpm"] = speeds[0]
            if kind == "range":
                result["rpm_max"] = speeds[1]
    return result


meters = st.one_of(
    st.fixed_dictionaries({"card": words}, optional={"leads_nulled": st.booleans()}),
    st.fixed_dictionaries({"own_card": free}, optional={"leads_nulled": st.booleans()}),
)


@st.composite
def readings(draw: st.DrawFn) -> Json:
    """One reading of any function."""
    function = draw(st.sampled_from(Function))
    result = draw(
        _some(
            check=words,
            meter=meters,
            at=times,
            stage=st.sampled_from(list(Stage)).map(str),
            note=texts,
            excluded=lines.filter(bool),
            state=states(),
        )
    )
    result |= {"id": draw(words), "function": function.value}
    if function is Function.LOOK:
        return result | {"check": draw(words), "sign": draw(st.booleans())}
    points = draw(
        st.lists(st.sampled_from(list(POINT_BY_WORD)), min_size=2, max_size=2, unique=True)
    )
    return result | {"plus": points[0], "minus": points[1], "shown": draw(shown(function))}


_repairs = st.one_of(
    st.fixed_dictionaries({"cause": words}, optional={"at": times, "note": texts}),
    st.fixed_dictionaries({"repair": words}, optional={"at": times, "note": texts}),
)
_chances = _between(0, 1)
_energy = st.fixed_dictionaries(
    {"id": words, "kind": words, "at": times},
    optional={
        "inputs": free,
        "result": free,
        "said": st.lists(lines, max_size=3),
        "versions": st.dictionaries(words, lines, max_size=2),
    },
)
_proved = st.fixed_dictionaries(
    {"at": times, "repairs": st.lists(words, max_size=2)},
    optional={
        "checks": st.lists(
            st.fixed_dictionaries(
                {"check": words, "low": finite, "high": finite, "remaining": _chances},
                optional={"reading": words, "inside": st.booleans()},
            ),
            max_size=2,
        ),
        "remaining": _chances,
        "proved": st.booleans(),
        "versions": st.dictionaries(words, lines, max_size=2),
    },
)
cards: st.SearchStrategy[Json] = st.fixed_dictionaries(
    {
        "card_version": st.just(2),
        "id": job_ids,
        "created": times,
        "machine": st.fixed_dictionaries(
            {"class": words},
            optional={
                "label": lines,
                "spec": free,
                "mileage_km": _between(0, 1e6),
                "engine_h": _between(0, 1e5),
            },
        ),
    },
    optional={
        "title": lines,
        "invented": st.booleans(),
        "battery": _some(
            chemistry=st.sampled_from(list(Chemistry)).map(str),
            capacity_ah=_between(0.5, 400),
            cca_a=_between(1, 2000),
            cca_standard=st.sampled_from(list(CcaStandard)).map(str),
            age_years=_between(0, 50),
        ),
        "meter": meters,
        "complaint": _some(kind=words, text=texts),
        "ambient_c": _between(-40, 55),
        "readings": st.lists(readings(), max_size=4, unique_by=lambda reading: reading["id"]),
        "opened": st.lists(words, max_size=3, unique=True),
        "done": st.lists(
            st.fixed_dictionaries({"act": words}, optional={"at": times, "note": texts}), max_size=2
        ),
        "repairs": st.lists(_repairs, max_size=2),
        "energy": st.lists(_energy, max_size=2, unique_by=lambda result: result["id"]),
        "decision": free,
        "proved": _proved,
        "confirmed_cause": st.fixed_dictionaries(
            {"cause": words},
            optional={
                "also": st.lists(words, max_size=2),
                "by": st.sampled_from(list(Confirmation)).map(str),
                "note": texts,
            },
        ),
        "seed": st.integers(0, 2**63 - 1),
        "notes": texts,
        "versions": st.dictionaries(words, lines, max_size=2),
    },
)
