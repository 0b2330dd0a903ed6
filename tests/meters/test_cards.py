"""Cards: makers' arithmetic, and messages for cards that cannot be used."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from chargewright.errors import InputError
from chargewright.machine.points import Function
from chargewright.meters.card import FunctionCard, Range, temperature_factor
from chargewright.meters.indicate import indicate_amps, indicate_volts
from chargewright.meters.load import load_meter, meter_ids


@pytest.mark.parametrize(
    ("one", "reading", "low", "high", "digit"),
    [
        # makers' pages: 100.0 V at 1 % + 2; 2.000 V at 0.08 % + 2 on a 5.000 V range
        (Range(full_scale=600, lsd=0.1, percent=1.0, counts=2), 100.0, 98.8, 101.2, 1e-9),
        (Range(full_scale=5, lsd=0.001, percent=0.08, counts=2), 2.0, 1.9964, 2.0036, 1e-9),
        # 5 V on 10 V, 0.0020 % of reading + 0.0005 % of range = 150 uV
        (Range(full_scale=10, lsd=5e-5, percent=0.002, counts=1), 5.0, 4.99985, 5.00015, 1e-9),
        # counts are of the true last digit: 0.02 % + 15 of 0.1 mV at 3.3 V = 2.16 mV
        (Range(full_scale=5, lsd=1e-4, percent=0.02, counts=15), 3.3, 3.29784, 3.30216, 1e-9),
    ],
)
def test_spec_arithmetic(one: Range, reading: float, low: float, high: float, digit: float) -> None:
    assert reading - one.limit(reading) == pytest.approx(low, abs=digit)
    assert reading + one.limit(reading) == pytest.approx(high, abs=digit)


def test_temperature_rule() -> None:
    # 14.00 V, 0.5 % + 2 of 10 mV: +-0.090 V at 23 C, +-0.180 V at 38 C
    card = load_meter("trms-6000")
    volts, nothing = np.array([14.0]), np.zeros(1)
    widths = [
        indicate_volts(
            card,
            Function.DC_V,
            dc=volts,
            ac_true_rms=nothing,
            ac_average=nothing,
            frequency_hz=nothing,
            temp_c=temp_c,
        ).half_width[0]
        for temp_c in (23.0, 38.0)
    ]
    assert widths == pytest.approx([0.090, 0.180], abs=1e-12)
    assert temperature_factor(8.0) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("input_ohm", "source_ohm", "percent"),
    [(1e7, 1e5, -0.990), (1e7, 1e6, -9.09), (3e3, 100.0, -3.23)],
)
def test_loading_of_the_source(input_ohm: float, source_ohm: float, percent: float) -> None:
    card = load_meter(own_card(input_ohm=input_ohm))
    nothing = np.zeros(1)
    shown = indicate_volts(
        card,
        Function.DC_V,
        dc=np.ones(1),
        ac_true_rms=nothing,
        ac_average=nothing,
        frequency_hz=nothing,
        source_ohm=source_ohm,
    )
    assert 100 * (shown.centre[0] - 1) == pytest.approx(percent, abs=0.006)


@pytest.mark.parametrize(
    ("volts", "ohm", "burden_ohm", "amps", "digit"),
    [
        (10.0, 10.0, 0.5, 0.952381, 5e-7),
        (12.6, 252.0, 0.5, 0.04990, 5e-6),
        (12.6, 252.0, 2.0, 0.04960, 1e-5),
        (12.6, 252.0, 12.0, 0.04773, 5e-6),
    ],
)
def test_burden(volts: float, ohm: float, burden_ohm: float, amps: float, digit: float) -> None:
    data = own_card()
    data["functions"]["dc_a"] = {
        "burden_ohm": burden_ohm,
        "ranges": [{"full_scale": 10, "lsd": 0.001, "percent": 1, "counts": 3}],
    }
    shown = indicate_amps(load_meter(data), Function.DC_A, np.array([volts / ohm]), source_ohm=ohm)
    assert shown.centre[0] == pytest.approx(amps, abs=digit)


class TestRangeChoice:
    auto = load_meter("trms-6000").functions[Function.DC_V]
    manual = load_meter("average-2000").functions[Function.DC_V]

    @pytest.mark.parametrize(
        ("reading", "full_scale"), [(0.3, 0.6), (-0.3, 0.6), (5.9, 6), (6.1, 60), (5e3, 1000)]
    )
    def test_smallest_that_fits(self, reading: float, full_scale: float) -> None:
        assert self.auto.range_for(reading).full_scale == full_scale

    def test_typed_place_tells_a_range_set_by_hand(self) -> None:
        assert self.manual.range_for(0.15).full_scale == 0.2
        assert self.manual.range_for(0.15, 0.01).full_scale == 20
        assert self.auto.range_for(0.15, 0.01).full_scale == 0.6

    def test_columns_agree_with_the_single_choice(self) -> None:
        readings = np.array([0.1, -0.7, 3.0, 14.0, 130.0])
        card = load_meter("average-2000")
        nothing = np.zeros(5)
        shown = indicate_volts(
            card,
            Function.DC_V,
            dc=readings,
            ac_true_rms=nothing,
            ac_average=nothing,
            frequency_hz=nothing,
        )
        one_by_one = [self.manual.range_for(float(reading)) for reading in readings]
        assert shown.lsd.tolist() == [one.lsd for one in one_by_one]
        limits = [one.limit(float(r)) for one, r in zip(one_by_one, readings, strict=True)]
        assert shown.half_width == pytest.approx(limits)


def own_card(**fields: object) -> dict[str, Any]:
    return {
        "id": "bench",
        "title": "a bench meter",
        "functions": {
            "dc_v": {
                "percent": 0.1,
                "counts": 2,
                "ranges": [{"full_scale": 20, "lsd": 0.001}],
                **fields,
            }
        },
    }


class TestLoading:
    def test_built_in_cards_know_every_function_but_the_look(self) -> None:
        assert meter_ids() == ("average-2000", "trms-6000")
        for name in meter_ids():
            card = load_meter(name)
            assert card.id == name
            assert set(Function) - set(card.functions) <= {Function.LOOK, Function.CLAMP_A}
            assert all(one.source for one in card.functions.values())
            assert card.functions[Function.DIODE].test_source.series_ohm > 0

    def test_own_file(self, tmp_path: Path) -> None:
        path = tmp_path / "mine.toml"
        path.write_text(
            'id = "mine"\ntitle = "my meter"\n[functions.dc_v]\npercent = 0.5\ncounts = 2\n'
            "ranges = [{ full_scale = 60, lsd = 0.01 }, "
            "{ full_scale = 600, lsd = 0.1, percent = 0.7 }]\n"
        )
        ranges = load_meter(str(path)).functions[Function.DC_V].ranges
        assert ranges == load_meter(path).functions[Function.DC_V].ranges
        assert [one.percent for one in ranges] == [0.5, 0.7]

    def test_field_overrides_reach_the_card(self) -> None:
        card = load_meter(own_card(autorange=False, input_ohm=1e6))
        spec = card.function(Function.DC_V)
        assert (spec.autorange, spec.input_ohm) == (False, 1e6)

    @pytest.mark.parametrize(
        ("data", "words"),
        [
            (own_card(percent=-3), r"functions\.dc_v\.ranges\[0\]\.percent = -3: expected 0 to 99"),
            (own_card(percent="0,5"), r"percent = '0,5': expected 0 to 99 % of reading"),
            (own_card(counts=True), r"counts = True: expected"),
            (own_card(input_ohm=float("nan")), r"input_ohm = nan: expected"),
            (own_card(precent=1), r"unknown field 'precent': did you mean 'percent'"),
            (own_card(autorange="yes"), r"autorange = 'yes': expected true or false"),
            (own_card(ranges=[]), r"ranges = \[\]: expected a list of ranges"),
            (own_card(ranges=[{"full_scale": 20}]), r"lsd is missing: expected"),
            (own_card(ranges=[{"full_scale": 1, "lsd": 2}]), r"expected 0 < lsd < full_scale"),
            (
                own_card(ranges=[{"full_scale": 20, "lsd": 0.01}, {"full_scale": 2, "lsd": 0.001}]),
                r"functions\.dc_v: ranges \[20\.0, 2\.0\]: expected full scales in ascending",
            ),
            (own_card(open_v=2.7), r"open_v 2\.7 with short_a None: expected both"),
            (own_card() | {"id": ""}, r"id = '': expected some text"),
            (own_card() | {"functions": {}}, r"functions is empty"),
            (own_card() | {"functions": {"dcv": {}}}, r"unknown field 'dcv': did you mean 'dc_v'"),
            (own_card() | {"functions": {"ohm": {}}}, r"functions\.ohm\.open_v is missing"),
            (own_card() | {"functions": {"dc_v": 3}}, r"functions\.dc_v = 3: expected a table"),
        ],
    )
    def test_message_names_place_value_and_what_was_expected(
        self, data: dict[str, Any], words: str
    ) -> None:
        with pytest.raises(InputError, match=words):
            load_meter(data)

    def test_unknown_name(self) -> None:
        with pytest.raises(InputError, match=r"'trms-600'.*did you mean 'trms-6000'"):
            load_meter("trms-600")

    def test_no_such_file(self, tmp_path: Path) -> None:
        with pytest.raises(InputError, match=r"gone\.toml: no such file"):
            load_meter(tmp_path / "gone.toml")

    def test_broken_toml_names_the_line(self, tmp_path: Path) -> None:
        path = tmp_path / "broken.toml"
        path.write_text('id = "x"\ntitle = \n')
        with pytest.raises(InputError, match=r"broken\.toml: not valid TOML: .*line 2"):
            load_meter(path)

    def test_not_text(self, tmp_path: Path) -> None:
        path = tmp_path / "binary.toml"
        path.write_bytes(b"\xff\xfe\x00")
        with pytest.raises(InputError, match="cannot be read as UTF-8"):
            load_meter(path)

    def test_missing_function_says_what_the_meter_has(self) -> None:
        with pytest.raises(InputError, match=r"'average-2000' has no function 'clamp_a'.*dc_v"):
            load_meter("average-2000").function(Function.CLAMP_A)

    def test_missing_test_source(self) -> None:
        one = Range(full_scale=20, lsd=0.01, percent=1, counts=1)
        with pytest.raises(InputError, match="open_v and short_a are missing"):
            _ = FunctionCard(ranges=(one,)).test_source
