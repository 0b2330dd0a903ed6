"""The README tells the truth: its Python runs, at full size, on the job it names."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
OPEN_JOB = ROOT / "examples" / "open-job.json"


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
    monkeypatch.setenv("CHARGEWRIGHT_CACHE", "off")
    exec(compile(code.group(1), "README.md", "exec"), {})
    saved = json.loads((tmp_path / "my-job.json").read_text(encoding="utf-8"))
    before = json.loads(OPEN_JOB.read_text(encoding="utf-8"))
    assert len(saved["readings"]) == len(before["readings"]) + 1
