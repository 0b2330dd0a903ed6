"""What typed lines and machine states mean; nothing typed gets a traceback out."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.cli.program import one_line
from chargewright.cli.state_words import SETTINGS, parse_state
from chargewright.cli.typed import WORDS, Act, understand
from chargewright.cli.words import minutes_text, percent, quantity, severity_text
from chargewright.errors import ChargewrightError
from chargewright.jobs.reading import CardState


@pytest.mark.parametrize("line", ["13.1", "13,1 V", "461 mV", "OL", "open", "> 16", "c 3", "o l"])
def test_readings_are_no_commands(line: str) -> None:
    assert understand(line).act is Act.READING
    assert understand(line).rest == line


def test_n_is_no_at_a_look_and_an_own_reading_elsewhere() -> None:
    assert understand("n").act is Act.OWN
    assert understand("n", look=True).act is Act.READING
    assert understand("N", look=True).rest == "N"


@given(st.text(max_size=80))
def test_any_line_means_something(line: str) -> None:
    found = understand(line)
    assert (found.act is Act.NOTHING) == (not line.strip())
    if found.act not in (Act.READING, Act.NOTHING):
        assert line.split()[0].lower() in (*WORDS, "n")


@given(st.lists(st.sampled_from([*SETTINGS, "3000 rpm", "2000-3000", "rest 10 h"]), max_size=5))
def test_state_words_give_fields_of_a_card(words: list[str]) -> None:
    fields = parse_state(", ".join(words))
    assert set(fields) <= set(CardState.model_fields)


@given(st.text(max_size=60))
def test_any_state_text_is_understood_or_refused_in_one_line(text: str) -> None:
    with contextlib.suppress(ChargewrightError):  # any other exception fails the test
        assert set(parse_state(text)) <= set(CardState.model_fields)


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("", {}),
        ("idle", {"engine": "running", "key_on": True, "rpm": "idle"}),
        ("engine at 3000 rpm", {"engine": "running", "key_on": True, "rpm": 3000.0}),
        (
            "Running 1500-3000",
            {"engine": "running", "key_on": True, "rpm": 1500.0, "rpm_max": 3000.0},
        ),
        ("off, key on", {"engine": "off", "key_on": True}),
        ("rest 12 h; cold", {"rest_h": 12.0, "warmth": "cold"}),
    ],
)
def test_states_as_people_type_them(text: str, fields: dict[str, object]) -> None:
    assert parse_state(text) == fields


@given(st.text(max_size=200))
def test_an_error_is_one_line_that_steers_no_terminal(text: str) -> None:
    line = one_line(text)
    assert line.isprintable()
    assert len(line.splitlines()) <= 1


@given(st.floats(0.0, 1.0))
def test_a_share_is_never_told_as_certain(share: float) -> None:
    assert percent(share) not in ("0%", "100%")


@given(st.floats(0.05, 600.0))
def test_minutes_are_told_within_half_a_minute(minutes: float) -> None:
    text = minutes_text(minutes)
    hours, _, rest = text.rpartition(" h")
    told = 60.0 * float(hours or 0) + float(rest.removesuffix(" min") or 0)
    assert abs(told - minutes) <= 0.5 + 1e-9


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.003, "A", "3 mA"),
        (15.0, "V", "15 V"),
        (0.02, "ohm", "0.02 ohm"),
        (0.005, "ohm", "5 mohm"),
        (1e6, "ohm", "1 Mohm"),
        (-0.2, "V", "-200 mV"),
        (0.0, "V", "0 V"),
    ],
)
def test_quantities_read_easily(value: float, unit: str, text: str) -> None:
    assert quantity(value, unit) == text


def test_severities_are_told_small_to_large_without_repeating() -> None:
    told = severity_text(("0.16 ohm, one", "0.03 ohm, one", "6.0 mohm, one"))
    assert told == "about 0.03 ohm, one (6.0 mohm, to 0.16 ohm,)"
    assert severity_text(
        ("regulator set -1.8 V", "regulator set -1.4 V", "regulator set -0.7 V")
    ) == ("regulator set -1.4 V (-1.8 to -0.7)")
    assert severity_text(("open", "open", "open")) == "open"
    assert severity_text(()) == ""
