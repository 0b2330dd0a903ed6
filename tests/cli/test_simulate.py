"""``chargewright simulate`` from a question to a picture."""

from __future__ import annotations

import csv
import io
import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from cli.conftest import Run
from PIL import Image


def test_a_whole_question_is_answered(cw: Run, tmp_path: Path) -> None:
    svg, png, columns = (tmp_path / name for name in ("w.svg", "w.png", "w.csv"))
    done = cw(
        "simulate", "sport-600-1000", "--cause", "plug_resistance=0.2", "--rpm", 3000, "--lights",
        "--units", 40, "--svg", svg, "--png", png, "--csv", columns,
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    text = done.output
    assert "0.20 ohm in one contact of the alternator plug (A)" in text
    told = text[text.index("TELLS IT FROM A SOUND MACHINE") : text.index("MOVES, BUT OVERLAPS")]
    assert "AC volts, red on alternator lead A" in told
    assert told.count(" V (") == 1  # this drop alone, in volts; the sound one in millivolts
    assert told.count(" mV (") == 1
    assert "engine at 3000 rpm, lights on" in text
    assert ET.parse(svg).getroot().attrib["role"] == "img"
    assert Image.open(io.BytesIO(png.read_bytes())).width == 1440
    rows = list(csv.DictReader(io.StringIO(columns.read_text())))
    assert {"time_ms", "weight", "cutting", "phase_a_a", "output_v", "battery_v"} <= set(rows[0])
    mean = sum(float(row["weight"]) * float(row["battery_v"]) for row in rows)
    assert 12.5 < mean < 15.0
    assert sum(float(row["weight"]) for row in rows) == pytest.approx(1.0, abs=1e-5)


def test_json_gives_readings_and_waveforms(cw: Run) -> None:
    done = cw("simulate", "atv", "--cause", "drain=50mA", "--units", 20, "--json")
    assert done.exit_code == 0, done.output
    data = json.loads(done.output)
    drain = next(one for one in data["readings"] if one["check"] == "drain_a")
    assert drain["told_apart"]
    assert drain["shows"]["middle"] == pytest.approx(0.050, rel=0.1)
    assert drain["sound"]["high"] < 0.005
    waves = data["waveforms"]
    assert len(waves["time_ms"]) == len(waves["battery_v"]) == len(waves["cutting"])


def test_without_a_cause_it_tells_what_a_sound_machine_reads(cw: Run) -> None:
    done = cw("simulate", "outboard-small-single", "--units", 20, "--plug-out", "--cold")
    assert done.exit_code == 0, done.output
    assert "nothing wrong" in done.output
    assert "WOULD READ" in done.output
    assert "TELLS IT" not in done.output


def test_it_fits_a_phone_s_terminal(cw: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    done = cw("simulate", "atv", "--cause", "fuse_open", "--units", 20)
    assert done.exit_code == 0
    assert max(map(len, done.output.splitlines())) <= 40


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("nowhere",), "machine class 'nowhere' does not exist"),
        (("atv", "--cause", "fuse_opn"), "did you mean 'fuse_open'"),
        (("atv", "--rpm", "5"), "rpm 5: expected 300 to 20000"),
        (("atv", "--svg", "/nowhere/a.svg"), "/nowhere/a.svg: cannot be written"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(cw: Run, args: tuple[str, ...], said: str) -> None:
    done = cw("simulate", *args, *([] if "--units" in args else ["--units", "10"]))
    assert done.exit_code == 2
    lines = done.output.strip().splitlines()
    assert said in lines[-1]
    assert len(lines) == 1
