"""Rides: the WMTC trace to the metre, gears by hand, and files that cannot be read."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.energy.trace import (
    RPM_PER_KMH,
    Gearing,
    distance_m,
    read_trace,
    ride_shares,
    rpm_shares,
)
from chargewright.errors import InputError

ROOT = Path(__file__).resolve().parents[2]
WMTC = ROOT / "tests" / "data" / "wmtc-two-wheeler.csv"
SHA_256 = "df9f7c0e1c19acced084b75d9c34b2a04388d93e99f6a166b8ea98c8729d4b90"
FULL, REDUCED = "Motorcycle >35kW", "Scooter <4kW"


def test_the_trace_is_the_published_file() -> None:
    """File of a public package (BSD-3-Clause, licence beside it)."""
    assert hashlib.sha256(WMTC.read_bytes()).hexdigest() == SHA_256
    assert "BSD 3-Clause" in (WMTC.parent / "wmtc-two-wheeler-LICENSE.txt").read_text()


@pytest.mark.parametrize(
    ("column", "start", "metres", "most_kmh", "mean_kmh", "at_rest_s"),
    [
        (FULL, 0, 4065.1, 60.0, 24.39, 109),
        (REDUCED, 0, 3944.2, 50.0, 23.67, 109),
        (FULL, 600, 9111.7, 94.9, 54.67, 45),
        (FULL, 1200, 15736.4, 125.3, 94.42, 16),
    ],
)
def test_wmtc_totals(
    column: str, start: int, metres: float, most_kmh: float, mean_kmh: float, at_rest_s: int
) -> None:
    """UN GTR No. 2 parts 1, 1 reduced, 2 and 3: 600 s each, to the tenth of a metre."""
    time_s, speed, is_rpm = read_trace(WMTC, column=column)
    part = slice(start, start + 600)
    assert not is_rpm
    assert distance_m(time_s[part], speed[part]) == pytest.approx(metres, abs=0.06)
    assert speed[part].max() == pytest.approx(most_kmh, abs=0.05)
    assert speed[part].mean() == pytest.approx(mean_kmh, abs=0.005)
    assert int((speed[part] == 0.0).sum()) == at_rest_s


def test_wmtc_whole() -> None:
    """1800 s, 28913.2 m, 170 s at rest; t = 22...28 s: 1.0 2.6 4.8 7.2 9.6 12.0 14.3 km/h."""
    time_s, speed, _ = read_trace(WMTC, column=FULL)
    assert distance_m(time_s, speed) == pytest.approx(28913.2, abs=0.06)
    assert int((speed == 0.0).sum()) == 170
    first = speed[(time_s >= 22) & (time_s <= 28)]
    assert first == pytest.approx([1.0, 2.6, 4.8, 7.2, 9.6, 12.0, 14.3])
    steps = np.diff(speed[:600]) / 3.6
    assert (steps.max(), steps.min()) == pytest.approx((2.50, -2.00), abs=0.01)


def test_speed_to_rpm() -> None:
    """n = 2.6526 v i/r: 50 km/h, overall 6.0, 0.31 m -> 2567 rpm."""
    assert pytest.approx(2.6526, abs=5e-5) == RPM_PER_KMH
    one_gear = Gearing(ratios=(6.0,), wheel_m=0.31, idle_rpm=1000.0)
    assert one_gear.rpm(np.array([50.0]))[0] == pytest.approx(2567.0, abs=0.5)


def test_gears_keep_the_engine_turning() -> None:
    gearing = Gearing()
    rpm = gearing.rpm(np.linspace(0.0, 130.0, 261))
    assert rpm[0] == gearing.idle_rpm
    assert rpm.min() >= gearing.idle_rpm
    moving = rpm[np.linspace(0.0, 130.0, 261) > 25.0]
    assert moving.min() >= gearing.shift_rpm - 1e-6


@given(st.lists(st.floats(0.0, 9000.0), min_size=3, max_size=200), st.integers(1, 30))
def test_shares_keep_time_and_turns(speeds: list[float], bins: int) -> None:
    """Seconds and revolutions of the turning engine are kept exactly, whatever the classes."""
    rpm = np.array(speeds)
    rpm[0] = 1200.0
    shares = rpm_shares(np.arange(float(rpm.size)), rpm, bins=bins)
    assert shares.duration_s == pytest.approx(float((rpm > 0.0).sum()))
    turns = float((shares.rpm * shares.seconds).sum())
    assert turns == pytest.approx(float(rpm.sum()), rel=1e-9)
    assert shares.rpm.size <= bins


def test_own_recordings() -> None:
    by_speed = ride_shares(ROOT / "examples" / "short-commute.csv", gearing=Gearing())
    by_rpm = ride_shares(ROOT / "examples" / "rpm-log.csv", gearing=Gearing())
    assert by_speed.duration_s > 300.0
    assert by_rpm.rpm.max() > 3000.0


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("time_s,rpm\n0,1000\n", "2 lines"),
        ("when,rpm\n0,1000\n1,1000\n", "no time column"),
        ("time_s,temperature\n0,1\n1,1\n", "no speed"),
        ("time_s,rpm\n0,1000\n0,1000\n", "line 3: time does not rise"),
        ("time_s,rpm\n0,1000\n1,99000\n", "line 3: 99000 rpm"),
        ("time_s,rpm\n0,1000\n1,fast\n", "line 3: could not convert"),
        ("time_s,rpm\n0,1000\n1,1000,7\n", "line 3: 3 fields; expected 2"),
    ],
)
def test_files_that_cannot_be_read(text: str, message: str, tmp_path: Path) -> None:
    path = tmp_path / "ride.csv"
    path.write_text(text)
    with pytest.raises(InputError, match=message):
        read_trace(path)
    with pytest.raises(InputError, match=r"gone\.csv"):
        read_trace(tmp_path / "gone.csv")


def test_an_unknown_column_is_answered_with_the_nearest() -> None:
    with pytest.raises(InputError, match="scooter <4kw"):
        read_trace(WMTC, column="scooter 4kw")
