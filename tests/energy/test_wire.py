"""Wire tables exactly, and drops worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.energy.wire import (
    FUSE_FOR_MM2,
    FUSE_SHARE,
    IEC_60228_CLASS_5,
    awg_mm2,
    awg_ohm_per_m,
    choose_wire,
    fuse_for,
    iec_ohm_per_m,
)
from chargewright.errors import InputError

SIZES = (0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0)


def test_iec_60228() -> None:
    """IEC 60228 class 5 and class 2, plain copper, largest ohm/km at 20 C."""
    flexible = [39.0, 26.0, 19.5, 13.3, 7.98, 4.95, 3.30, 1.91, 1.21, 0.780]
    stranded = [36.0, 24.5, 18.1, 12.1, 7.41, 4.61, 3.08, 1.83, 1.15, 0.727]
    for size, five, two in zip(SIZES, flexible, stranded, strict=True):
        assert 1000.0 * iec_ohm_per_m(size) == pytest.approx(five)
        assert 1000.0 * iec_ohm_per_m(size, flexible=False) == pytest.approx(two)


@pytest.mark.parametrize(
    ("gauge", "mohm_per_m"),
    [
        (6, 1.296),
        (8, 2.061),
        (10, 3.277),
        (12, 5.211),
        (14, 8.285),
        (16, 13.17),
        (18, 20.95),
        (20, 33.31),
        (22, 52.96),
    ],
)
def test_awg(gauge: int, mohm_per_m: float) -> None:
    """ASTM B258 diameters with 17.241 nohm m, as printed to four digits."""
    assert 1000.0 * awg_ohm_per_m(gauge) == pytest.approx(mohm_per_m, rel=5e-4)


def test_awg_36_is_five_mils_and_0000_is_460() -> None:
    """The two ends that define the gauge: 0.005 in at 36; 4/0 would be 0.46 in (n = -3)."""
    assert awg_mm2(36) == pytest.approx(0.7853981634 * 0.127**2)
    ratio = awg_mm2(0) / awg_mm2(36)
    assert ratio == pytest.approx(92.0 ** (2.0 * 36.0 / 39.0))


def test_drop_by_hand() -> None:
    """1.2 m of 2.5 mm2 class 5 at 20 A: 0.192 V at 20 C, 0.237 V at 80 C."""
    assert 20.0 * 1.2 * iec_ohm_per_m(2.5) == pytest.approx(0.192, abs=5e-4)
    assert 20.0 * 1.2 * iec_ohm_per_m(2.5, temp_c=80.0) == pytest.approx(0.237, abs=5e-4)


def test_a_pair_of_heated_grips() -> None:
    """3.5 A over 3 m: 1.0 mm2 would drop 0.24 V hot, so 1.5 mm2; fuse 5 A (3.75 A for long)."""
    choice = choose_wire(3.5, 3.0)
    assert choice.mm2 == 1.5
    assert choice.fuse_a == 5.0
    assert choice.drop_v == pytest.approx(3.5 * 3.0 * 0.0133 * 294.5 / 254.5)


@given(st.floats(0.2, 40.0), st.floats(0.2, 6.0))
def test_the_choice_keeps_drop_and_fuse(current_a: float, length_m: float) -> None:
    try:
        choice = choose_wire(current_a, length_m)
    except InputError:
        assert current_a * length_m * iec_ohm_per_m(25.0, temp_c=60.0) > 0.2
        return
    assert choice.drop_v <= 0.2
    assert choice.fuse_a is not None
    assert current_a <= FUSE_SHARE * choice.fuse_a + 1e-9 <= FUSE_FOR_MM2[choice.mm2] + 1e-9
    thinner = [size for size in IEC_60228_CLASS_5 if size < choice.mm2]
    if thinner:
        drop = current_a * length_m * iec_ohm_per_m(thinner[-1], temp_c=60.0)
        assert drop > 0.2 or fuse_for(current_a, thinner[-1]) is None


def test_a_fuse_never_exceeds_its_wire() -> None:
    assert fuse_for(14.0, 0.5) is None
    assert fuse_for(14.0, 2.5) == 20.0


def test_wrong_sizes_are_named() -> None:
    with pytest.raises(InputError, match=r"2 mm2.*2\.5"):
        iec_ohm_per_m(2.0)
    with pytest.raises(InputError, match="AWG 40"):
        awg_mm2(40)
    with pytest.raises(InputError, match="more than 25 mm2"):
        choose_wire(90.0, 20.0)
