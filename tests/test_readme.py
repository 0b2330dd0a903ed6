"""The README tells the truth: its Python runs, at full size, on the job it names."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from chargewright.cli.main import main

ROOT = Path(__file__).parents[1]
OPEN_JOB = ROOT / "examples" / "open-job.json"


@pytest.fixture(autouse=True, scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep what both examples share out of the user's cache, and work it out once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CHARGEWRIGHT_CACHE", str(tmp_path_factory.mktemp("shelf")))
        yield


def test_the_readme_snippet_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole main job in at most 12 lines of Python, as printed."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    code = re.search(r"```python\n(.*?)```", text, re.DOTALL)
    assert code is not None
    lines = [line for line in code.group(1).splitlines() if line.strip()]
    assert len(lines) <= 12
    (tmp_path / "examples").mkdir()
    (tmp_path / "examples" / "open-job.json").write_bytes(OPEN_JOB.read_bytes())
    monkeypatch.chdir(tmp_path)
    exec(compile(code.group(1), "README.md", "exec"), {})
    saved = json.loads((tmp_path / "my-job.json").read_text(encoding="utf-8"))
    before = json.loads(OPEN_JOB.read_text(encoding="utf-8"))
    assert len(saved["readings"]) == len(before["readings"]) + 1


def test_the_example_prints_what_the_readme_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    """The decision and the likeliest cause of the demo job, as printed in the README."""
    monkeypatch.setenv("COLUMNS", "96")
    done = CliRunner().invoke(main, ["assess", str(ROOT / "examples" / "demo-job.json")])
    assert done.exit_code == 0
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = done.output.splitlines()
    decision = lines[lines.index("DO NOW") + 1]
    likeliest = lines[lines.index("MOST LIKELY") + 1]
    assert decision in readme
    assert likeliest in readme
