"""Published uncertainty examples: GUM, EA-4/02, JCGM 101; printed digits beside each check."""

from __future__ import annotations

from collections.abc import Callable
from math import cos, inf, sin, sqrt

import numpy as np
import pytest

from chargewright.machine.parameters import Array
from chargewright.meters.uncertainty import (
    Spread,
    combine,
    monte_carlo,
    ratio_u,
    rectangle_u,
    welch_satterthwaite,
)

Draw = Callable[[np.random.Generator, int], Array]


def normal(mean: float, u: float) -> Draw:
    return lambda rng, n: rng.normal(mean, u, n)


def uniform(low: float, high: float) -> Draw:
    return lambda rng, n: rng.uniform(low, high, n)


class TestGumH2:
    """GUM Table H.2: simultaneous resistance and reactance, correlated inputs."""

    volts = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
    amps = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3
    phase = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])

    def sensitivities(self) -> dict[str, tuple[float, Array]]:
        v, i, f = self.volts.mean(), self.amps.mean(), self.phase.mean()
        z = v / i
        return {
            "R": (z * cos(f), np.array([cos(f) / i, -z * cos(f) / i, -z * sin(f)])),
            "X": (z * sin(f), np.array([sin(f) / i, -z * sin(f) / i, z * cos(f)])),
            "Z": (z, np.array([1 / i, -z / i, 0.0])),
        }

    def inputs(self) -> tuple[Array, Array]:
        data = np.array([self.volts, self.amps, self.phase])
        return data.std(axis=1, ddof=1) / sqrt(5), np.corrcoef(data)

    @pytest.mark.parametrize(
        ("name", "value", "u"),
        [("R", 127.732, 0.071), ("X", 219.847, 0.296), ("Z", 254.260, 0.236)],
    )
    def test_with_correlation(self, name: str, value: float, u: float) -> None:
        best, sensitivity = self.sensitivities()[name]
        inputs_u, correlation = self.inputs()
        assert best == pytest.approx(value, abs=5e-4)
        assert combine(sensitivity, inputs_u, correlation) == pytest.approx(u, abs=5e-4)

    def test_r_to_seven_digits(self) -> None:
        # 0.0710714: GTC 1.5.1, uncertainties 3.2.3 and metrolopy 1.1.1 agree
        inputs_u, correlation = self.inputs()
        u = combine(self.sensitivities()["R"][1], inputs_u, correlation)
        assert u == pytest.approx(0.0710714, abs=5e-8)

    @pytest.mark.parametrize(("name", "u"), [("R", 0.195), ("X", 0.201), ("Z", 0.204)])
    def test_trap_of_dropping_the_correlation(self, name: str, u: float) -> None:
        inputs_u, _ = self.inputs()
        assert combine(self.sensitivities()[name][1], inputs_u) == pytest.approx(u, abs=5e-4)


def test_gum_4_3_7_and_5_1_5_voltmeter() -> None:
    half_width = 14e-6 * 0.928571 + 2e-6 * 1.0
    u_b = rectangle_u(half_width)
    assert half_width * 1e6 == pytest.approx(15.0, abs=0.05)
    assert u_b * 1e6 == pytest.approx(8.66, abs=0.006)  # text 8.7
    u_c = combine(np.ones(2), np.array([12e-6, u_b]))
    assert u_c * 1e6 == pytest.approx(14.8, abs=0.05)  # text 15


@pytest.mark.parametrize(("correlated", "u"), [(True, 1.00), (False, 0.316)])
def test_gum_5_2_2_ten_resistors(correlated: bool, u: float) -> None:
    correlation = np.ones((10, 10)) if correlated else None
    assert combine(np.ones(10), np.full(10, 0.1), correlation) == pytest.approx(u, abs=5e-4)


def test_gum_h1_end_gauge() -> None:
    d_u = combine(np.ones(3), np.array([5.8, 3.9, 6.7]))
    d_freedom = welch_satterthwaite([5.8, 3.9, 6.7], [24, 5, 8])
    assert d_u == pytest.approx(9.68, abs=0.006)  # GUM 9.7
    assert d_freedom == pytest.approx(25.4, abs=0.05)  # GUM 25.6
    length = 50_000_623.0
    parts = [
        25.0,
        d_u,
        length * 0.1 * rectangle_u(1e-6),
        length * 11.5e-6 * rectangle_u(0.05),
    ]
    assert combine(np.ones(4), np.array(parts)) == pytest.approx(31.66, abs=0.006)  # GUM 32
    freedom = welch_satterthwaite(parts, [18, d_freedom, 50, 2])
    assert freedom == pytest.approx(16.75, abs=0.006)  # GUM 16


@pytest.mark.parametrize(
    ("spread", "k"),
    [(Spread((1.0,)), 1.645), (Spread((1.0, 1.0)), 1.902), (Spread((), 1.0), 1.960)],
    ids=["rectangle", "triangle", "normal"],
)
def test_coverage_factor_of_the_plain_shapes(spread: Spread, k: float) -> None:
    assert spread.half_width(0.95) / spread.u == pytest.approx(k, abs=5e-4)


def test_ea_4_02_s9_multimeter_at_100_v() -> None:
    widths = (0.05, 0.011)  # resolution and calibrator's limit; calibrator U 0.002 V at k = 2
    spread = Spread(widths, 0.001)
    assert rectangle_u(0.05) * 1e3 == pytest.approx(29, abs=0.5)
    assert rectangle_u(0.011) * 1e3 == pytest.approx(6.4, abs=0.05)
    assert spread.u * 1e3 == pytest.approx(29.57, abs=0.006)
    assert 1.65 * spread.u == pytest.approx(0.05, abs=0.005)  # the document's U
    # exact convolution; computed reference 0.0505 and 1.709, which are these figures cut off:
    # the trapezoid alone gives 0.061 - sqrt(0.00011) = 0.05051, SciPy quadrature 0.0505597
    assert Spread(widths).half_width() == pytest.approx(0.061 - sqrt(0.00011), abs=1e-9)
    assert spread.half_width() == pytest.approx(0.0505597, abs=5e-8)
    assert spread.half_width() / spread.u == pytest.approx(1.7096, abs=5e-4)


def test_ea_4_02_s3_resistor() -> None:
    u = combine(np.ones(6), np.array([2.5, 5.8, 1.6, 3.2, 4.1, 0.7]))
    assert u == pytest.approx(8.37, abs=0.006)  # plain sum of the printed parts


def test_ea_4_02_s10_calliper() -> None:
    u = combine(np.ones(2), np.array([29.0, 15.0]))
    spread = Spread((29.0 * sqrt(3), 15.0 * sqrt(3)))
    assert u == pytest.approx(33, abs=0.5)
    assert spread.half_width() / spread.u == pytest.approx(1.84, abs=0.006)
    assert spread.half_width() == pytest.approx(60, abs=0.5)


def test_ea_4_02_s2_weight_freedom() -> None:
    parts = [22.5, 8.95, 14.4, 5.77, 5.77]
    assert combine(np.ones(5), np.array(parts)) == pytest.approx(29.3, abs=0.05)
    assert welch_satterthwaite(parts, [inf, inf, 2, inf, inf]) == pytest.approx(34, abs=0.5)


class TestJcgm101:
    """JCGM 101:2008 clause 9, by draws and, where the sum is one, by exact convolution."""

    @pytest.mark.parametrize(
        ("draws", "exact", "u", "half_width"),
        [
            ([normal(0, 1)] * 4, Spread((), 2.0), 2.00, 3.92),
            ([uniform(-sqrt(3), sqrt(3))] * 4, Spread((sqrt(3),) * 4), 2.00, 3.88),
        ],
        ids=["9.2.2 normal", "9.2.3 rectangular"],
    )
    def test_9_2_sum_of_four(
        self, draws: list[Draw], exact: Spread, u: float, half_width: float
    ) -> None:
        result = monte_carlo(lambda *x: sum(x, np.zeros(1)), draws, rng=np.random.default_rng(92))
        assert result.u == pytest.approx(u, abs=0.01)
        assert (result.high - result.low) / 2 == pytest.approx(half_width, abs=0.02)
        assert exact.half_width() == pytest.approx(half_width, abs=0.005)

    def test_9_2_4_one_rectangle_dominates(self) -> None:
        exact = Spread((sqrt(3), sqrt(3), sqrt(3), 10 * sqrt(3)))
        assert exact.u == pytest.approx(10.15, abs=0.005)
        assert exact.half_width() == pytest.approx(17.0, abs=0.05)
        assert exact.u * 1.96 == pytest.approx(19.9, abs=0.05)  # what a normal would claim

    def test_9_3_mass_calibration(self) -> None:
        def model(m: Array, d: Array, air: Array, weight: Array, ref: Array) -> Array:
            return (m + d) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / ref)) - 1e5

        draws = [
            normal(1e5, 0.050),
            normal(1.234, 0.020),
            uniform(1.10, 1.30),
            uniform(7000, 9000),
            uniform(7950, 8050),
        ]
        # the shortest interval of a symmetric density scatters by 0.0015 from run to run of
        # 1e6 trials: average several, as the document's adaptive procedure does
        runs = [
            monte_carlo(model, draws, rng=np.random.default_rng(seed), trials=200_000)
            for seed in range(10)
        ]
        assert np.mean([run.mean for run in runs]) == pytest.approx(1.2340, abs=3e-4)
        assert np.mean([run.u for run in runs]) == pytest.approx(0.0754, abs=2e-4)
        assert np.mean([run.shortest_low for run in runs]) == pytest.approx(1.083, abs=0.002)
        assert np.mean([run.shortest_high for run in runs]) == pytest.approx(1.383, abs=0.002)

    def test_logarithm_of_a_rectangle(self) -> None:
        # NPL report DEM-ES-011 Table 9.2
        result = monte_carlo(np.log, [uniform(0.1, 1.1)], rng=np.random.default_rng(94))
        assert result.mean == pytest.approx(-0.665, abs=0.004)
        assert result.u == pytest.approx(0.606, abs=0.003)
        assert result.shortest_low == pytest.approx(-1.895, abs=0.012)
        assert result.shortest_high == pytest.approx(0.095, abs=0.001)

    def test_same_generator_state_gives_the_same_result(self) -> None:
        first, second = (
            monte_carlo(np.abs, [normal(0, 1)], rng=np.random.default_rng(5), trials=1000)
            for _ in range(2)
        )
        assert first == second


def test_internal_resistance_from_two_points() -> None:
    # 12.60 -> 10.20 V at 120.0 A; 0.5 % + 2 (10 mV), clamp 2.5 % + 10 (0.1 A): u 0.65 mohm
    drop_u = combine(np.ones(2), np.array([rectangle_u(0.083), rectangle_u(0.071)]))
    assert 1e3 * ratio_u(2.40, drop_u, 120.0, rectangle_u(4.0)) == pytest.approx(0.65, abs=0.006)
