"""``chargewright report`` writes a file or says in one line why not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cli.conftest import Run


@pytest.mark.parametrize("ending", ["pdf", "html", "json", "csv", "PDF"])
def test_each_form_is_written(cw: Run, bike: Path, tmp_path: Path, ending: str) -> None:
    target = tmp_path / f"bike-report.{ending}"
    done = cw("report", bike, "--to", target)
    assert done.exit_code == 0, done.output
    assert target.stat().st_size > 300
    assert target.name in done.output
    assert [path.name for path in tmp_path.iterdir() if "draft" in path.name] == []


def test_workshop_and_customer_differ(cw: Run, bike: Path, tmp_path: Path) -> None:
    for reader in ("customer", "workshop"):
        assert (
            cw("report", bike, "--to", tmp_path / f"{reader}.html", "--for", reader).exit_code == 0
        )
    customer, workshop = (
        (tmp_path / f"{r}.html").read_text("utf-8") for r in ("customer", "workshop")
    )
    assert "Take care" in customer
    assert "Odds of causes" in workshop


def test_an_export_is_worked_out_again_and_compared(cw: Run, bike: Path, tmp_path: Path) -> None:
    export, again = tmp_path / "export.json", tmp_path / "again.json"
    assert cw("report", bike, "--to", export).exit_code == 0
    done = cw("report", export, "--to", again)
    assert done.exit_code == 0
    assert "Repeated: same decision and shares" in done.output
    raw = json.loads(export.read_text("utf-8"))
    raw["card"]["seed"] = 5
    export.write_text(json.dumps(raw), encoding="utf-8")
    done = cw("report", export, "--to", tmp_path / "third.json")
    assert "differs from the export" in done.output


@pytest.mark.parametrize(
    ("args", "why"),
    [
        (["--to", "report.doc"], "expected a name that ends in one of .pdf, .html, .json, .csv"),
        (["--to", "report"], "expected a name that ends in"),
        (["--to", "x.csv", "--for", "customer"], "holds everything"),
        (["--to", "x.html", "--paper", "a4"], "only a .pdf has paper"),
        (["--to", "no/such/x.pdf"], "there is no folder"),
        ([], "--to"),
        (["--to", "x.pdf", "--for", "press"], "press"),
    ],
)
def test_what_cannot_be_written_is_refused_in_one_line(
    cw: Run, bike: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, args: list[str], why: str
) -> None:
    monkeypatch.chdir(tmp_path)
    done = cw("report", bike, *args)
    assert done.exit_code == 2
    assert why in done.output
    assert len(done.output.strip().splitlines()) == 1


def test_a_file_is_written_over_only_when_told(cw: Run, bike: Path, tmp_path: Path) -> None:
    target = tmp_path / "report.csv"
    target.write_text("mine", encoding="utf-8")
    done = cw("report", bike, "--to", target)
    assert done.exit_code == 2
    assert "--force" in done.output
    assert target.read_text("utf-8") == "mine"
    assert cw("report", bike, "--to", target, "--force").exit_code == 0
    assert target.read_text("utf-8") != "mine"
    done = cw("report", bike, "--to", bike, "--force")
    assert done.exit_code == 2
    assert "the card itself" in done.output


def test_a_card_that_cannot_be_read_is_named(cw: Run, tmp_path: Path) -> None:
    done = cw("report", tmp_path / "none.json", "--to", tmp_path / "x.pdf")
    assert done.exit_code == 2
    assert "none.json" in done.output
    assert not (tmp_path / "x.pdf").exists()
