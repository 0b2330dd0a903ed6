"""``chargewright guide`` through its typed lines: readings, commands, slips, refusals, resuming."""

from __future__ import annotations

import builtins
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from cli.conftest import Run, dc_volts, raw_card

from chargewright.diagnosis.findings import Assessment, ProofFinding
from chargewright.diagnosis.question import question_of
from chargewright.jobs.files import load_card
from chargewright.jobs.reading import Stage
from chargewright.jobs.shown import Qualifier
from chargewright.machine.points import Function, Point
from chargewright.workbench import Job

OWN_BATTERY_VOLTS = "o\n1\nbattery_pos\nbattery_neg\n"


def test_a_reading_is_taken_saved_and_the_next_check_shown(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed="s rest_v\n12,31\nq\n")
    assert done.exit_code == 0
    (reading,) = load_card(bare).readings
    assert reading.shown is not None
    assert (reading.shown.value, reading.shown.lsd) == (12.31, 0.01)
    assert reading.check == "rest_v"
    assert reading.at is not None
    assert load_card(bare).opened == ("battery", "seat")
    assert "CHECK 1" in done.output
    assert "CHECK 2" in done.output


def test_a_check_shows_where_the_probes_go(cw: Run, bare: Path) -> None:
    text = cw("guide", bare, typed="s high_lights_v\nq\n").output
    page = text[text.rindex("CHECK 1") :]
    for line in (
        r"dial\s+DC volts, 20 V range",
        r"red\s+battery positive post",
        r"black\s+battery negative post",
        r"state\s+engine at 5000 rpm, lights on",
        r"time\s+[\d.]+ min: seat 2, battery posts, caps off 1",
    ):
        assert re.search(line, page), line
    assert "would read" in page
    assert "nothing wrong" in page
    assert "Exhaust gas kills indoors" in text


def test_it_goes_on_where_it_was_left(cw: Run, bare: Path) -> None:
    cw("guide", bare, typed="s rest_v\n12.31\nq\n")
    done = cw("guide", bare, typed="s high_lights_v\n12.9\n")
    assert "Readings so far: 1." in done.output
    assert "12.31 V  Battery volts at rest, as found" in done.output
    assert [r.id for r in load_card(bare).readings] == ["r1", "r2"]


@pytest.mark.parametrize("typed", ["OL", "o.l.", "open"])
def test_overload_is_a_reading(cw: Run, bare: Path, typed: str) -> None:
    cw("guide", bare, typed=f"s pair_ohm_ab\n{typed}\nq\n")
    (reading,) = load_card(bare).readings
    assert reading.shown is not None
    assert reading.shown.qualifier is Qualifier.OVERLOAD


@pytest.mark.parametrize(
    ("answer", "kept"),
    [("1", 13.1), ("13.1", 13.1), ("2", 1.31), ("1.31 V", 1.31), ("what\n1", 13.1), ("", None)],
)
def test_a_slipped_decimal_point_is_asked_about(
    cw: Run, bare: Path, answer: str, kept: float | None
) -> None:
    done = cw("guide", bare, typed=f"s high_lights_v\n1.31\n{answer}\nq\n")
    assert "Meant 13.1 V or 1.31 V?" in done.output
    values = [r.shown.value for r in load_card(bare).readings if r.shown is not None]
    assert values == ([] if kept is None else [kept])


def test_a_likely_reading_is_not_asked_about(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed="s high_lights_v\n13.1\nq\n")
    assert "Meant" not in done.output
    assert len(load_card(bare).readings) == 1


def test_stopping_at_the_question_takes_nothing(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed="s high_lights_v\n1.31\nq\n12.9\n")
    assert done.exit_code == 0
    assert load_card(bare).readings == ()


def test_what_is_not_understood_is_asked_again(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed="s rest_v\n12.6 bananas\n2k4\n12.6 ohm\n126\n12.6\nq\n")
    text = " ".join(done.output.split())
    assert "'bananas' is no unit, expected V or none" in text
    assert "is the check the right one?" in text
    assert "is the decimal point missing?" in text
    assert len(load_card(bare).readings) == 1


def test_a_look_is_answered_yes_or_no_and_n_means_no(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed="s look_plug\nn\ns look_clamps\nyes\ns look_case\n13.1\nq\n")
    assert [r.sign for r in load_card(bare).readings] == [False, True]
    assert "expected yes or no" in done.output


def test_an_own_reading_between_any_points(cw: Run, bare: Path) -> None:
    typed = "n\ndc_v\n2\nframe\nidle, lights on\n13,4\nq\n"
    cw("guide", bare, typed=typed)
    (reading,) = load_card(bare).readings
    assert (reading.function, reading.plus, reading.minus) == (
        Function.DC_V,
        Point.BATTERY_POS,
        Point.FRAME,
    )
    assert (reading.state.rpm, reading.state.lights_on, reading.state.key_on) == (
        "idle",
        True,
        True,
    )
    assert reading.check is None


def test_an_own_reading_that_is_a_catalogue_check_is_known(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed=f"{OWN_BATTERY_VOLTS}\n12.5\nq\n")
    assert "That is the check rest_v" in done.output
    assert load_card(bare).readings[0].check == "rest_v"


@pytest.mark.parametrize(
    ("state", "reason"),
    [
        ("3000, battery off", "leave the battery on, or stop the engine first"),
        ("cranking, battery off", "put the lead on first"),
    ],
)
def test_an_unsafe_reading_is_refused_with_its_reason(
    cw: Run, bare: Path, state: str, reason: str
) -> None:
    done = cw("guide", bare, typed=f"{OWN_BATTERY_VOLTS}{state}\n14.1\nq\n")
    assert reason in " ".join(done.output.split())
    assert all(r.state.battery_in for r in load_card(bare).readings)


def test_ohms_across_a_battery_are_refused_before_the_reading(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed="o\nohm\nbattery_pos\nbattery_neg\n\nq\n")
    assert "can be damaged" in " ".join(done.output.split())
    assert load_card(bare).readings == ()


@pytest.mark.parametrize("typed", ["o\n99\n", "o\n\n", "o\n1\nwing\n", "o\n1\n2\n1\nflying\n"])
def test_an_own_reading_can_be_given_up(cw: Run, bare: Path, typed: str) -> None:
    assert cw("guide", bare, typed=f"{typed}q\n").exit_code == 0
    assert load_card(bare).readings == ()


def test_a_state_that_contradicts_itself_is_one_line(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed=f"{OWN_BATTERY_VOLTS}90 rpm\nq\n")
    assert "expected 100 to 20000 rpm" in done.output


def test_undo_takes_back_readings_of_this_session_and_of_earlier_ones(cw: Run, bike: Path) -> None:
    done = cw("guide", bike, typed="s crank_v\n10.2\nu\nu\nu\nu\nq\n")
    assert done.output.count("Taken back") == 3
    assert "nothing to take back" in done.output
    assert load_card(bike).readings == ()


def test_charging_is_noted_and_the_battery_as_found_is_gone(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed="c\nc\ns rest_v\nu\nq\n")
    assert "noted as charged already" in done.output
    assert "its state as found can no longer be read" in " ".join(done.output.split())
    assert load_card(bare).done == ()


def test_skipping_brings_the_next_best(cw: Run, bare: Path) -> None:
    titles = re.findall(r"^Likeliest.*?\.\n(.+?)\n  ", cw("guide", bare).output, re.M | re.S)
    done = cw("guide", bare, typed="s\n\nq\n")
    pages = re.findall(r"CHECK 1\n.*?\.\n([^\n]+)\n  (?:dial|look)", done.output, re.S)
    assert len(pages) == 2
    assert pages[0] != pages[1]
    assert titles[0].strip() == pages[0]


def test_a_check_is_found_by_a_word(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed="s look\n1\nq\n")
    assert done.exit_code == 0
    assert "Number (Enter: none of them)" in done.output
    assert "no check here has 'unicorn'" in cw("guide", bare, typed="s unicorn\nq\n").output
    assert "add a word" in cw("guide", bare, typed="s volts\nq\n").output


def test_the_question_mark_tells_why(cw: Run, bike: Path) -> None:
    text = cw("guide", bike, typed="?\nq\n").output
    assert "Other checks" in text
    assert "12.31 V" in text[text.index("What the readings say") :]
    assert "deciding now about" in " ".join(text.split())


@pytest.mark.parametrize("error", [KeyboardInterrupt, EOFError])
def test_ctrl_c_and_end_of_input_save_and_leave(
    cw: Run, bare: Path, monkeypatch: pytest.MonkeyPatch, error: type[BaseException]
) -> None:
    lines = iter(["s rest_v", "12.31"])

    def typed(_prompt: str = "") -> str:
        for line in lines:
            return line
        raise error

    monkeypatch.setattr(builtins, "input", typed)
    done = cw("guide", bare)
    assert done.exit_code == 0
    assert "Saved in" in done.output
    assert len(load_card(bare).readings) == 1


def test_readings_that_cannot_be_reckoned_with_can_be_taken_back(cw: Run, tmp_path: Path) -> None:
    path = tmp_path / "unsafe.json"
    state = {"engine": "running", "rpm": 3000.0, "key_on": True, "battery_in": False}
    path.write_text(json.dumps(raw_card(readings=[dc_volts("r1", 14.0, **state)])))
    done = cw("guide", path, typed="x\nu\nq\n")
    assert done.exit_code == 0
    assert "stop the engine first" in " ".join(done.output.split())
    assert "CHECK 1" in done.output
    assert load_card(path).readings == ()


BLOWN_FUSE = dc_volts("r2", 12.5, key_on=True, lights_on=True) | {
    "plus": "battery_pos",
    "minus": "fuse_out",
}


@pytest.fixture
def blown(tmp_path: Path) -> Path:
    """All the battery's volts stand across the main fuse: nothing else can be meant."""
    path = tmp_path / "blown.json"
    path.write_text(json.dumps(raw_card(readings=[dc_volts("r1", 12.5), BLOWN_FUSE])))
    return path


def test_a_clear_case_ends_with_the_repair(cw: Run, blown: Path) -> None:
    done = cw("guide", blown, typed="r\nq\n")
    assert "REPAIR  replace the main fuse once its reason is known" in done.output
    assert "PROVE THE REPAIR" in done.output  # also a sure diagnosis: the work may have failed
    proved = load_card(blown).proved
    assert proved is not None
    assert proved.checks
    assert {check.reading for check in proved.checks} == {None}
    assert not proved.proved
    assert [one.repair for one in load_card(blown).repairs] == ["replace_fuse"]
    cw("guide", blown, typed="q\n")
    assert len(load_card(blown).repairs) == 1


def test_a_repair_can_be_taken_back(cw: Run, blown: Path) -> None:
    cw("guide", blown, typed="r\nu\n\n")
    assert load_card(blown).repairs == ()


def test_a_repair_is_proved_by_readings_after_it(
    cw: Run, blown: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = Job.assess

    def with_a_proof(job: Job) -> Assessment:
        check = job.check("fuse_out_v")
        proof = ProofFinding(
            check=check, question=question_of(check), low=12.4, high=12.9, remaining=0.01
        )
        return replace(plain(job), proof=(proof,))

    monkeypatch.setattr(Job, "assess", with_a_proof)
    done = cw("guide", blown, typed="r\n12.5\n\n")
    page = done.output[done.output.index("PROVE THE REPAIR") :]
    assert re.search(r"12\.40? to 12\.90? V  a sound machine", page)
    assert "REPAIR DONE" in page
    assert "Readings after it: 1" in page
    (after,) = [r for r in load_card(blown).readings if r.stage is Stage.AFTER_REPAIR]
    assert after.check == "fuse_out_v"
    proved = load_card(blown).proved
    assert proved is not None
    assert proved.repairs == ("replace_fuse",)
    (check,) = proved.checks
    assert (check.check, check.low, check.high) == ("fuse_out_v", 12.4, 12.9)
    assert (check.reading, check.inside) == (after.id, True)
    assert proved.remaining is not None
    assert proved.proved == (proved.remaining < 0.02)
    before = blown.read_bytes()
    cw("guide", blown, typed="q\n")  # nothing new: the proof keeps its time
    assert load_card(blown).proved == proved
    assert blown.read_bytes() == before


def test_a_repair_that_has_not_taken_is_called_for_again_and_proved_anew(
    cw: Run, tmp_path: Path
) -> None:
    """After a new fuse all the volts still stand across it: the old fault is there."""
    again = BLOWN_FUSE | {"id": "p1", "stage": "after_repair", "at": "2026-08-01T11:00:00Z"}
    path = tmp_path / "again.json"
    card = raw_card(
        readings=[dc_volts("r1", 12.5), BLOWN_FUSE, again],
        repairs=[{"repair": "replace_fuse", "at": "2026-08-01T10:00:00Z"}],
    )
    path.write_text(json.dumps(card))
    done = cw("guide", path, typed="r\nq\n")
    page = done.output
    assert "Not proved: replace the main fuse once its reason is known." in page
    assert "12.50 V" in page[page.index("Not proved") :]
    assert page.index("REPAIR  replace the main fuse") < page.index("PROVE THE REPAIR")
    kept = load_card(path)
    assert [one.repair for one in kept.repairs] == ["replace_fuse", "replace_fuse"]
    assert kept.proved is not None
    assert {check.reading for check in kept.proved.checks} == {None}, "p1 proves the first only"


def test_repair_done_before_any_is_advised_is_nothing(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed="r\nq\n")
    assert "No repair is advised yet" in done.output
    assert load_card(bare).repairs == ()


@pytest.mark.parametrize(
    ("typed", "state"),
    [
        ("12.9 at 1000 to 2000", {"rpm": 1000.0, "rpm_max": 2000.0}),
        ("12,9@2500", {"rpm": 2500.0}),
        ("12.9 at rpm unknown", {}),
        ("12.9 at 3000, by ear, temperature unknown", {"rpm": 3000.0, "warmth": "unknown"}),
    ],
)
def test_a_reading_taken_at_another_speed(
    cw: Run, bare: Path, typed: str, state: dict[str, object]
) -> None:
    done = cw("guide", bare, typed=f"s high_lights_v\n{typed}\nq\n")
    assert done.exit_code == 0
    (reading,) = json.loads(bare.read_text(encoding="utf-8"))["readings"]
    assert reading["shown"]["value"] == 12.9
    kept = reading["state"]
    assert {name: kept.get(name) for name in ("rpm", "rpm_max")} == {
        "rpm": state.get("rpm"),
        "rpm_max": state.get("rpm_max"),
    }
    assert kept["warmth"] == state.get("warmth", "cold")
    assert cw("assess", bare).exit_code == 0


def test_a_reading_taken_with_the_engine_otherwise_is_another_reading(cw: Run, bare: Path) -> None:
    done = cw("guide", bare, typed="s rest_v\n12.9 at 3000\nq\n")
    assert "another reading" in done.output
    assert json.loads(bare.read_text(encoding="utf-8"))["readings"] == []
