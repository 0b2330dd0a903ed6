"""Windings from figures between leads, against published and computed references."""

from __future__ import annotations

import math

import pytest

from chargewright.errors import InputError
from chargewright.machine.layout import Winding
from chargewright.machine.scatter import fixed, lognormal
from chargewright.machine.winding import Stator, copper_at, cut_in_rpm, greatest_a


def henry(winding: Winding, pair_v: float, output_a: float, pole_pairs: float) -> float:
    stator = Stator(
        pair_v_per_krpm=fixed(pair_v, "class-range"),
        pair_ohm=fixed(0.3, "class-range"),
        output_a=lognormal(output_a, 0.1, "class-range"),
    )
    parts = stator.windings(winding)
    return parts["winding_h_a"].centre * parts["emf_v_per_krpm_a"].centre / pole_pairs


def test_inductance_from_output() -> None:
    # Computed reference: 75 V between leads at 500 Hz (5000 rpm, 6 pairs), 28.5 A -> 0.653 mH.
    assert henry(Winding.STAR, 15.0, 28.5, 6) == pytest.approx(0.653e-3, rel=2e-3)


def test_delta_is_three_times_its_star_equivalent() -> None:
    # Star-delta transformation: equal between every pair of leads when L_delta = 3 L_star.
    star, delta = (henry(w, 15.0, 28.5, 6) for w in (Winding.STAR, Winding.DELTA))
    assert delta == pytest.approx(3.0 * star, rel=1e-12)


def test_rated_output_gives_back_the_reference_machine() -> None:
    # Computed reference: 27-state implicit bridge solver; 0.65 mH, 15 V per 1000 rpm, 0.15 ohm
    # gives 27.71 A at 5000 rpm into 14.4 V. Resistance is neglected here: 2 %.
    greatest = greatest_a(27.71, 5000.0, cut_in_rpm(Winding.STAR, 15.0))
    assert henry(Winding.STAR, 15.0, greatest, 6) == pytest.approx(0.65e-3, rel=0.02)


@pytest.mark.parametrize(
    ("rated_a", "n0_rpm", "greatest"), [(18.0, 846.0, 18.76), (8.4, 735.0, 8.65)]
)
def test_outboard_current_tables(rated_a: float, n0_rpm: float, greatest: float) -> None:
    # Service-manual type specifications, class small outboard: 18 A and 8.4 A at 3000 rpm, least-
    # squares fits of the whole tables 18.76 A (within 0.1 A) and 8.65 A (within 0.13 A).
    assert greatest_a(rated_a, 3000.0, n0_rpm) == pytest.approx(greatest, abs=0.13)


def test_single_coil_cut_in_lies_where_outboards_begin_to_charge() -> None:
    # The same tables' fits put n0 between 735 and 1578 rpm; their coils give 18.4-20.1 V peak
    # per 1000 rpm, 13.0-14.2 V rms.
    for rms in (13.0, 14.2):
        assert 735.0 < cut_in_rpm(Winding.SINGLE, rms) < 1578.0


@pytest.mark.parametrize(
    ("ohm", "to_c", "expected"),
    [(0.300, 120.0, 0.4179), (0.300, 150.0, 0.4532), (0.13, 150.0, 0.1964)],
)
def test_copper(ohm: float, to_c: float, expected: float) -> None:
    # R2 = R1 (234.5 + t2)/(234.5 + t1), rated annealed copper, from 20 C.
    assert copper_at(ohm, 20.0, to_c) == pytest.approx(expected, abs=5e-5)


def test_copper_measured() -> None:
    # Bench figures of a light-aircraft stator: 0.250 ohm at 20 C, 0.337 ohm at 93.9 C, whose
    # leads and joints put it 4.5 % above copper alone.
    assert copper_at(0.250, 20.0, 93.9) == pytest.approx(0.337 / 1.045, abs=5e-4)


def test_rated_speed_below_cut_in_is_refused() -> None:
    with pytest.raises(InputError, match="rated_rpm = 900 rpm"):
        greatest_a(10.0, 900.0, 1000.0)


def test_pair_ohms_come_back() -> None:
    # Two phases in series; one delta winding beside two others; one coil.
    for winding, factor in ((Winding.STAR, 2.0), (Winding.DELTA, 2 / 3), (Winding.SINGLE, 1.0)):
        stator = Stator(
            pair_v_per_krpm=fixed(15.0, "class-range"),
            pair_ohm=fixed(0.3, "class-range"),
            output_a=lognormal(28.0, 0.1, "class-range"),
        )
        parts = stator.windings(winding)
        assert parts["winding_ohm_a"].centre * factor == pytest.approx(0.3)
        ratio = math.sqrt(3.0) if winding is Winding.STAR else 1.0
        assert parts["emf_v_per_krpm_b"].centre * ratio == pytest.approx(15.0)
