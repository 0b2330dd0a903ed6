"""``chargewright jobs``: in, out and back without loss, and where the store lies."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
from cli.conftest import Run, dc_volts, raw_card

from chargewright.cli.store import default_store
from chargewright.jobs.files import load_card


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "shop.sqlite"


def test_a_card_goes_in_and_comes_out_unchanged(
    cw: Run, bike: Path, store: Path, tmp_path: Path
) -> None:
    assert cw("jobs", "--store", store, "import", bike).exit_code == 0
    listed = cw("jobs", "--store", store, "list").output
    assert "job-1" in listed
    assert "green 7" in listed
    out = tmp_path / "out.json"
    assert cw("jobs", "--store", store, "export", "job-1", out).exit_code == 0
    assert load_card(out) == load_card(bike)
    shown = cw("jobs", "--store", store, "export", "job-1").output
    assert json.loads(shown) == json.loads(out.read_text(encoding="utf-8"))


def test_export_does_not_write_over_a_file(cw: Run, bike: Path, store: Path) -> None:
    cw("jobs", "--store", store, "import", bike)
    before = bike.read_bytes()
    assert cw("jobs", "--store", store, "export", "job-1", bike).exit_code == 2
    assert bike.read_bytes() == before
    assert cw("jobs", "--store", store, "export", "job-1", bike, "--force").exit_code == 0


def test_history_puts_the_same_check_side_by_side(cw: Run, tmp_path: Path, store: Path) -> None:
    for number, (day, volts) in enumerate([("2025-05-01", 12.71), ("2026-05-01", 12.38)]):
        path = tmp_path / f"{number}.json"
        card = raw_card(
            id=f"job-{number}", created=f"{day}T08:00:00Z", readings=[dc_volts("r1", volts)]
        )
        path.write_text(json.dumps(card))
        assert cw("jobs", "--store", store, "import", path).exit_code == 0
    text = cw("jobs", "--store", store, "history", "GREEN  7").output
    assert text.index("12.71 V") < text.index("12.38 V")
    assert "2025-05-01" in text
    (track,) = json.loads(cw("jobs", "--store", store, "history", "green 7", "--json").output)
    assert [past["value"] for past in track["readings"]] == [12.71, 12.38]
    done = cw("jobs", "--store", store, "history", "blue 1")
    assert done.exit_code == 2
    assert "blue 1" in done.stderr


def test_a_conflict_is_refused_until_one_says_how(cw: Run, bike: Path, store: Path) -> None:
    cw("jobs", "--store", store, "import", bike)
    card = json.loads(bike.read_text())
    card["readings"].append(dc_volts("r3", 12.0))
    bike.write_text(json.dumps(card))
    done = cw("jobs", "--store", store, "import", bike)
    assert done.exit_code == 4
    assert "merge" in done.stderr
    assert cw("jobs", "--store", store, "import", bike, "--on-conflict", "merge").exit_code == 0
    shown = json.loads(cw("jobs", "--store", store, "export", "job-1").output)
    assert [one["id"] for one in shown["readings"]] == ["r1", "r2", "r3"]


def test_one_bad_card_of_several_writes_none(cw: Run, bike: Path, store: Path) -> None:
    bad = bike.with_name("bad.json")
    bad.write_text("{}")
    assert cw("jobs", "--store", store, "import", bike, bad).exit_code == 2
    assert json.loads(cw("jobs", "--store", store, "list", "--json").output) == []


def test_backup_is_a_whole_store(cw: Run, bike: Path, store: Path, tmp_path: Path) -> None:
    cw("jobs", "--store", store, "import", bike)
    copy = tmp_path / "copy.sqlite"
    assert cw("jobs", "--store", store, "backup", copy).exit_code == 0
    with sqlite3.connect(copy) as database:
        assert database.execute("SELECT count(*) FROM jobs").fetchone() == (1,)
    database.close()
    assert "job-1" in cw("jobs", "--store", copy, "list").output
    assert cw("jobs", "--store", store, "backup", copy).exit_code == 4


def test_where_the_store_lies(
    cw: Run, bike: Path, store: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    done = cw("jobs", "list")
    assert done.exit_code == 4
    assert str(default_store()) in done.stderr
    assert not default_store().exists()
    assert cw("jobs", "import", bike).exit_code == 0
    assert default_store().exists()
    assert tmp_path in default_store().parents
    monkeypatch.setenv("CHARGEWRIGHT_STORE", str(store))
    assert cw("jobs", "import", bike).exit_code == 0
    assert store.exists()


def test_a_store_where_none_can_be_is_refused(cw: Run, bike: Path) -> None:
    done = cw("jobs", "--store", bike / "inside" / "x.sqlite", "import", bike)
    assert done.exit_code == 4
    assert "cannot be made" in done.stderr


def test_a_file_that_is_no_store_is_refused(cw: Run, bike: Path) -> None:
    done = cw("jobs", "--store", bike, "list")
    assert done.exit_code == 4
    assert "is no database" in done.stderr
    assert done.stderr.count("\n") == 1
