"""A workshop's own file: what it changes, and how each mistake is answered."""

from __future__ import annotations

from pathlib import Path

import pytest

from chargewright.checks.load import Book, load_book
from chargewright.checks.table import OWN_FILE
from chargewright.errors import InputError
from chargewright.machine.layout import Layout
from chargewright.machine.points import Point, State
from chargewright.machine.speeds import Speeds

NEW = """
[[check]]
id = "lamp_v"
title = "Volts at the headlamp feed"
function = "dc_v"
plus = "fuse_out"
minus = "frame"
state = { key_on = true }
needs = ["main_fuse"]
minutes = 2
how = "Key on. Meter on DC volts, red behind the main fuse, black on bare frame."
cautions = ["short"]
"""


def write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_changes_only_what_is_given(tmp_path: Path, book: Book) -> None:
    text = """
[switch]
warm_up = 8
[caution]
short = "Cover the positive post."
[[access]]
id = "seat"
open_min = 4
[[check]]
id = "pair_ohm_bc"
minutes = 2.5
[[check]]
id = "high_lights_v"
state = { rpm = 4500 }
"""
    own = load_book(own=write(tmp_path, text))
    old = {check.id: check for check in book.checks}
    new = {check.id: check for check in own.checks}
    assert list(new) == list(old)
    assert own.effort.switches.warm_up == 8.0
    assert own.effort.switches.cool_down == book.effort.switches.cool_down
    assert own.cautions["short"] == "Cover the positive post."
    seat = own.effort.access.opening("seat")
    assert (seat.open_min, seat.close_min) == (4.0, 1.0)
    assert new["pair_ohm_bc"].minutes == 2.5
    assert new["pair_ohm_bc"].how == old["pair_ohm_bc"].how
    changed = own.catalogue(Layout(), Speeds(1200.0, 3000.0, 5000.0)).get("high_lights_v")
    assert changed.state.rpm == 4500.0
    assert changed.state.lights_on  # the rest of the state stays
    untouched = [name for name in old if name not in ("pair_ohm_bc", "high_lights_v")]
    assert all(new[name] == old[name] for name in untouched)


def test_a_new_check_joins_at_the_end(tmp_path: Path, book: Book) -> None:
    own = load_book(own=write(tmp_path, NEW))
    assert own.checks[:-1] == book.checks
    assert own.checks[-1].plus is Point.FUSE_OUT
    assert own.checks[-1].state == State(key_on=True)


def test_the_example_in_the_documentation_works(tmp_path: Path) -> None:
    example = OWN_FILE.split("```toml\n")[1].split("```")[0]
    own = load_book(own=write(tmp_path, example))
    assert own.checks[-1].id == "lamp_v"
    assert own.effort.switches.warm_up == 8.0


def test_kinds_differ_in_minutes_and_order() -> None:
    tree = load_book("outboard").effort.access
    assert tree.ancestors("engine_cover") == ("side_panel",)
    assert load_book().effort.access.ancestors("engine_cover") == ()
    scooter = load_book("scooter").effort.access
    assert scooter.opening("side_panel").total_min == 13.0  # its own figures, not scaled
    assert scooter.opening("regulator").total_min == pytest.approx(2.0 * 1.3)
    assert scooter.opening("seat").title == "under-seat box"


FIRST = 'id = "rest_v"\n'
MISTAKES = [
    ("[[check]]\n" + FIRST + "minutes = -1", r"check 'rest_v', field minutes: -1; .*0.1 to 600"),
    ("[[check]]\n" + FIRST + "minutes = nan", r"field minutes: nan; expected a number"),
    ("[[check]]\n" + FIRST + "minutes = true", r"field minutes: True; expected a number"),
    ("[[check]]\n" + FIRST + 'function = "volts"', r"function: 'volts'; expected one of dc_v"),
    ("[[check]]\n" + FIRST + 'plus = "batery_pos"', r"plus: 'batery_pos'; .*'battery_pos'"),
    ("[[check]]\n" + FIRST + 'needs = ["seet"]', r"needs: \['seet'\]; 'seet' is unknown.*'seat'"),
    ("[[check]]\n" + FIRST + 'needs = "seat"', r"needs: 'seat'; expected a list of words"),
    ("[[check]]\n" + FIRST + 'cautions = ["acids"]', r"cautions: .*'acid'"),
    ("[[check]]\n" + FIRST + "minuts = 2", r"field minuts: 2; no such field.*'minutes'"),
    ("[[check]]\n" + FIRST + 'how = " "', r"field how: ' '; expected a text"),
    ("[[check]]\n" + FIRST + "sign = {}", r"field sign: .*only with function = 'look'"),
    (
        "[[check]]\n" + FIRST + 'state = { engine = "on" }',
        r"check 'rest_v.state', field engine: 'on'; expected one of off, cranking, running",
    ),
    (
        "[[check]]\n" + FIRST + "state = { rpm = 900 }",
        r"field rpm: 900; expected a speed only with engine = 'running'",
    ),
    (
        '[[check]]\nid = "idle_v"\nstate = { rpm = "fast" }',
        r"field rpm: 'fast'; expected idle, mid, high or a number",
    ),
    ("[[check]]\n" + FIRST + "state = 3", r"field state: 3; expected a table"),
    ('[[check]]\nid = "own_v"\nminutes = 1', r"check 'own_v', field function: missing; expected"),
    ("[[check]]\nminutes = 1", r"check number 1, field id: None; expected a word"),
    ("[[check]]\n" + FIRST + "[[check]]\n" + FIRST, r"check 'rest_v', field id: given twice"),
    ("[check]\nrest_v = 1", r"check: expected tables headed \[\[check\]\]"),
    ('[[check]]\nid = "look_fuse"\nplus = "frame"', r"field minus: missing"),
    (
        '[[check]]\nid = "look_fuse"\nsign = { triggers = [{ quantities = ["fuse"], at = 1, '
        "width = 1 }] }",
        r"'look_fuse.sign.triggers\[0\]', field quantities: \['fuse'\].*'fuse_ohm'",
    ),
    ('[[check]]\nid = "look_fuse"\nsign = { most = 0.001 }', r"most: 0.001; .*from 0.02 to 1"),
    ('[[access]]\nid = "seat"\nopen_min = "2"', r"access 'seat', field open_min: '2'; expected"),
    ('[[access]]\nid = "seat"\nparent = "boots"', r"access 'seat', field parent: 'boots'"),
    ('[[access]]\nid = "seat"\nparent = "battery"', r"closes a ring"),
    ("[switch]\nwarmup = 3", r"section 'switch', field warmup: 3; .*'warm_up'"),
    ("[switch]\nplug = -1", r"field plug: -1; expected a number from 0"),
    ("[caution]\nacid = 3", r"section 'caution', field acid: 3; expected a text"),
    ("[checks]", r"section 'checks'; did you mean .*'check'"),
    ("[kind.scooter]\nmultiplier = 0", r"field multiplier: 0; expected a number from 0.1 to 20"),
    ("[[check]", r"not valid TOML"),
]


@pytest.mark.parametrize(("text", "message"), MISTAKES, ids=[m[1][:40] for m in MISTAKES])
def test_a_mistake_names_file_entry_field_value_and_expectation(
    tmp_path: Path, text: str, message: str
) -> None:
    path = write(tmp_path, text)
    kind = "scooter" if "kind" in text else "motorcycle"
    with pytest.raises(InputError, match=message) as caught:
        load_book(kind, own=path)
    assert "\n" not in str(caught.value)
    assert "own.toml" in str(caught.value)


def test_a_second_act_is_refused(tmp_path: Path) -> None:
    text = NEW.replace('"dc_v"\nplus = "fuse_out"\nminus = "frame"', '"act"')
    with pytest.raises(InputError, match=r"2 checks with function 'act' .*lamp_v"):
        load_book(own=write(tmp_path, text))


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nowhere.toml: cannot be read"):
        load_book(own=tmp_path / "nowhere.toml")
