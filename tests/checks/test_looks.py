"""The chance of seeing a sign: bounds, monotony, halfway point, derived quantities."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.checks.load import load_book
from chargewright.checks.looks import (
    DERIVED,
    QUANTITIES,
    Sign,
    Trigger,
    battery_cca_v,
    overcharge_v,
    sign_probability,
)
from chargewright.machine.parameters import INDEX, PARAMETERS, Array, healthy_row

LOOKS = [check for check in load_book().checks if check.sign is not None]


def machines(**columns: list[float]) -> Array:
    """Return healthy machines with the named columns (all of one length) put in."""
    count = len(next(iter(columns.values())))
    params = np.tile(healthy_row(), (count, 1))
    for name, values in columns.items():
        params[:, INDEX[name]] = values
    return params


def _sign(name: str) -> Sign:
    sign = next(check.sign for check in LOOKS if check.id == name)
    assert sign is not None
    return sign


@given(st.data())
def test_chance_stays_between_least_and_most_on_any_machine(data: st.DataObject) -> None:
    row = [data.draw(st.floats(p.low, p.high)) for p in PARAMETERS]
    for check in LOOKS:
        assert check.sign is not None
        p = sign_probability(check.sign, np.array([row]))
        assert p.shape == (1,)
        assert np.all(p >= check.sign.least - 1e-12)
        assert np.all(p <= check.sign.most + 1e-12)


@pytest.mark.parametrize("check", LOOKS, ids=lambda check: str(check.id))
def test_chance_never_falls_as_a_fault_grows(check: object) -> None:
    sign = check.sign  # type: ignore[attr-defined]
    for trigger in sign.triggers:
        for name in trigger.quantities:
            if name in DERIVED:
                continue
            parameter = PARAMETERS[INDEX[name]]
            lowest = max(parameter.low, 1e-9)
            grid = np.geomspace(lowest, parameter.high, 40)
            p = sign_probability(sign, machines(**{name: list(grid)}))
            assert np.all(np.diff(p) >= 0.0)
            assert p[-1] > p[0]


@pytest.mark.parametrize("check", LOOKS, ids=lambda check: str(check.id))
def test_a_sound_machine_rarely_shows_a_sign(check: object) -> None:
    sign = check.sign  # type: ignore[attr-defined]
    p = sign_probability(sign, healthy_row()[None, :])
    assert p[0] < sign.least + 0.05


def test_halfway_at_the_trigger_and_log_odds_of_one_width_above() -> None:
    """Logistic in ln x: p = 1/2 at x = at, 1/(1+1/e) = 0.7311 one width above."""
    trigger = Trigger(quantities=("fuse_ohm",), at=0.1, width=0.6)
    sign = Sign(triggers=(trigger,), least=0.0, most=1.0)
    p = sign_probability(sign, machines(fuse_ohm=[0.1, 0.1 * np.exp(0.6), 0.1 * np.exp(-0.6)]))
    np.testing.assert_allclose(p, [0.5, 0.7310585786, 0.2689414214], rtol=1e-9)


def test_the_worst_of_three_leads_decides() -> None:
    sign = _sign("look_plug")
    one = sign_probability(sign, machines(plug_ohm_b=[0.4]))
    same_elsewhere = sign_probability(sign, machines(plug_ohm_c=[0.4]))
    also_a_little = sign_probability(sign, machines(plug_ohm_b=[0.4], plug_ohm_a=[0.1]))
    assert one == same_elsewhere == also_a_little
    assert one[0] > 0.5


def test_overcharge_in_volts() -> None:
    """14.8 V is the upper end of regulated volts; unregulated drifts to 18 V (ISO 16750-2)."""
    params = machines(setpoint_v=[14.5, 14.8, 16.3, 14.5], cut_max=[1.0, 1.0, 1.0, 0.0])
    np.testing.assert_allclose(overcharge_v(params), [0.0, 0.0, 1.5, 3.2])
    hot = machines(setpoint_hot_shift_v=[2.0, -2.0])
    np.testing.assert_allclose(overcharge_v(hot), [1.7, 0.0])


def test_a_starter_battery_of_half_its_rating_has_twice_the_volts() -> None:
    """CCA of about 3.0 V / R at 25 C: 16.7 milliohm and 180 A belong together."""
    params = machines(battery_ohm=[0.0167, 0.0334], rated_cca_a=[180.0, 180.0])
    np.testing.assert_allclose(battery_cca_v(params), [3.006, 6.012])


def test_swollen_case_follows_overcharge_or_age() -> None:
    sign = _sign("look_case")
    params = machines(setpoint_v=[14.5, 16.5, 14.5], battery_ohm=[0.015, 0.015, 0.12])
    sound, overcharged, aged = sign_probability(sign, params)
    assert sound < 0.06 < 0.4 < min(overcharged, aged)


def test_empty_batch_gives_an_empty_answer() -> None:
    assert sign_probability(_sign("look_fuse"), np.empty((0, len(PARAMETERS)))).shape == (0,)


def test_quantities_are_columns_or_derived() -> None:
    assert {"fuse_ohm", "overcharge_v", "battery_cca_v"} <= QUANTITIES
    assert not set(DERIVED) & set(INDEX)
