"""How the program ends: statuses, one line on standard error, and never a traceback."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from cli.conftest import Run, own_process

from chargewright.cli import checks as checks_module
from chargewright.cli.program import told
from chargewright.errors import (
    ImpossibleReadingsError,
    InputError,
    ReadingError,
    StoreError,
    UnsafeCheckError,
)

SMALL = Path(__file__).with_name("small.py")
HEAVY = ("numpy", "numba", "pydantic", "rich", "sqlalchemy", "alembic")


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (InputError("a"), 2),
        (ReadingError("a"), 2),
        (ImpossibleReadingsError("a"), 2),
        (UnsafeCheckError("a"), 3),
        (StoreError("a"), 4),
        (ValueError("a"), 70),
        (MemoryError(), 70),
    ],
)
def test_every_error_has_its_status(error: Exception, status: int) -> None:
    line, found = told(error)
    assert found == status
    assert line.startswith("chargewright: ")


@pytest.mark.parametrize(
    "given",
    [
        ("assess",),
        ("assess", "nowhere.json"),
        ("assess", "."),
        ("guide", "nowhere.json"),
        ("asses", "x"),
        ("assess", "x", "--jsn"),
    ],
)
def test_wrong_commands_and_files_are_one_line(cw: Run, given: tuple[str, ...]) -> None:
    done = cw(*given)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert done.stderr.startswith("chargewright: ")
    assert done.stderr.count("\n") == 1


def test_text_of_a_card_cannot_steer_the_terminal(cw: Run, tmp_path: Path) -> None:
    path = tmp_path / "evil.json"
    path.write_text('{"card_version": 1, "a\\u001b[2Jb": 1}')
    done = cw("assess", path)
    assert done.exit_code == 2
    assert "\x1b" not in done.stderr


def fails(*_: object, **__: object) -> None:
    raise ZeroDivisionError("spilt\ncoffee")


def test_a_defect_is_one_line_that_asks_to_be_reported(
    cw: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checks_module, "_list", fails)
    done = cw("checks")
    assert done.exit_code == 70
    assert done.stderr.count("\n") == 1
    assert "ZeroDivisionError: spilt coffee; please report this" in done.stderr


def test_the_traceback_is_there_for_whoever_asks(cw: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks_module, "_list", fails)
    monkeypatch.setenv("CHARGEWRIGHT_DEBUG", "1")
    done = cw("checks")
    assert done.exit_code == 70
    assert "Traceback" in done.stderr


def test_interrupting_a_command_leaves_quietly(cw: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(checks_module, "_list", interrupted)
    done = cw("checks")
    assert done.exit_code == 130
    assert done.stderr.strip() == ""


def test_a_closed_pipe_is_quiet() -> None:
    process = subprocess.Popen(
        [sys.executable, str(SMALL), "machines", "atv", "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        bufsize=0,
        env=own_process(),
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    assert process.stderr.read() == b""
    assert process.wait(60) == 1
    process.stderr.close()


def test_a_terminal_of_few_letters_gets_what_it_can_show(bike: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(SMALL), "assess", str(bike), "--no-save"],
        env=own_process(PYTHONIOENCODING="ascii", PYTHONUTF8="0"),
        capture_output=True,
        timeout=200,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert b"####" in done.stdout or b"#..." in done.stdout
    assert done.stderr == b""


def test_help_and_version_load_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "from chargewright.cli.main import main\n"
        "for args in (['--version'], ['--help'], ['guide', '--help'], ['jobs', '--help']):\n"
        "    try: main(args, prog_name='chargewright')\n"
        "    except SystemExit as end: assert end.code == 0, end\n"
        f"print('heavy:', sorted(set({HEAVY!r}) & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=own_process(),
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert done.stdout.splitlines()[-1] == "heavy: []"
