"""Effects that fool technicians: each is in the model, with its sign and about its size.

``python -m benchmarks.effects`` prints the figures; docs/model.md quotes them.
"""

from __future__ import annotations

import pytest

from benchmarks import effects


def test_copper_reads_a_third_more_when_hot() -> None:
    """(234.5 + 110)/(234.5 + t), t the workshop's 19 C: 1.359 (annealed copper)."""
    found = effects.copper_temperature()
    assert found["hot ohm"] / found["cold ohm"] == pytest.approx(344.5 / 253.5, rel=2e-3)


def test_magnets_fade_when_hot() -> None:
    """Ferrite -0.2 %/K to neodymium -0.1 %/K over 61 K: 6 to 12 % less (from memory)."""
    found = effects.magnet_temperature()
    assert 0.88 < found["hot V"] / found["cold V"] < 0.94


def test_set_point_falls_a_little_when_hot() -> None:
    """-3 mV/K over 61 K: 0.18 V (assumed spread -10 to 0)."""
    found = effects.set_point_temperature()
    assert found["cold V"] - found["hot V"] == pytest.approx(0.17, abs=0.04)


def test_some_regulators_are_good_cold_and_fail_hot() -> None:
    found = effects.good_cold_fails_hot()
    assert found["cold V"] > 14.2
    assert found["hot V"] < 13.0


def test_a_flat_battery_holds_running_volts_down() -> None:
    """Common practice: charge the battery first, a flat one drags a sound machine down."""
    found = effects.flat_battery()
    assert found["charged V"] > 14.2
    assert found["flat V"] < found["charged V"] - 0.5


def test_average_meter_reads_a_tenth_low_on_a_connected_alternator() -> None:
    """120-degree quasi-square: 0.7405 / 0.8165 = 0.907 (computed from the wave's definition)."""
    found = effects.quasi_square_wave()
    assert found["average V"] / found["true rms V"] == pytest.approx(0.907, abs=0.01)


def test_the_battery_swallows_the_ripple() -> None:
    """A fault shows as more ripple, a battery that does not hold as volts of it."""
    found = effects.ripple_filtered()
    assert found["sound V"] < 0.3
    assert found["open junction V"] > 1.5 * found["sound V"]
    assert found["battery 5 ohm V"] > 1.0


def test_resistance_in_the_fuse_matters_where_the_output_crosses_it() -> None:
    """The charging current crosses the fuse only when the output joins behind it."""
    found = effects.load_at_regulator_or_battery()
    assert found["harness V"] < found["battery V"] - 0.1


def test_a_loose_ground_shows_only_under_load() -> None:
    """0.15 ohm: volts at full output (Ohm's law), nothing with the engine off."""
    found = effects.loose_ground()
    assert found["charging V"] > 1.5
    assert abs(found["key on V"]) < 1e-6


def test_shorted_turns_hide_from_an_ohmmeter() -> None:
    """An eighth of one winding is a sixteenth of a pair: 0.018 ohm, but volts of AC."""
    found = effects.turns_short()
    assert found["ohm less"] < 0.02
    assert found["AC V less"] > 3.0


def test_a_grounded_lead_reads_sound_unplugged() -> None:
    """The frame is no part of the circuit until the rectifier joins it."""
    found = effects.ground_fault_plugged_in()
    assert found["open pair, share"] == pytest.approx(1.0, abs=0.005)
    assert found["output, share"] < 0.9


def test_a_damp_plug_alarms_the_ohmmeter_and_costs_nothing() -> None:
    found = effects.damp_plug()
    assert found["harness ohm"] == pytest.approx(1000.0, rel=0.02)
    assert found["stator ohm"] > 1e6
    assert abs(found["V lost"]) < 0.02
