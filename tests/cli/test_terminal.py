"""A real terminal: widths, colour only where it belongs, Ctrl-C, and going on afterwards."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path

import pytest
from cli.conftest import own_process

from chargewright.jobs.files import load_card

SMALL = Path(__file__).with_name("small.py")
ESCAPE = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
PATIENCE_S = 120.0
ASLEEP = 4  # looks in a row, a twentieth of a second apart


def at_the_terminal() -> None:
    """Make the terminal the process' own, with Ctrl-C as a shell at it leaves it.

    A job begun in the background hands down that Ctrl-C is ignored.
    """
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


class Terminal:
    """The command on a terminal of its own, ``columns`` wide."""

    def __init__(self, *args: object, columns: int) -> None:
        self.screen, inside = pty.openpty()
        fcntl.ioctl(inside, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
        self.process = subprocess.Popen(
            [sys.executable, str(SMALL), *map(str, args)],
            stdin=inside,
            stdout=inside,
            stderr=inside,
            env=own_process(TERM="xterm", PYTHONUTF8="1"),
            start_new_session=True,
            preexec_fn=at_the_terminal,
        )
        os.close(inside)
        self.text = ""

    def until(self, words: str) -> str:
        """Read on until ``words`` stand on the screen; return what came since the last call."""
        found, end = "", time.monotonic() + PATIENCE_S
        while words not in found:
            assert time.monotonic() < end, f"no {words!r} in {found!r}"
            found += self._read()
        self.text += found
        return found

    def _read(self) -> str:
        ready, _, _ = select.select([self.screen], [], [], 1.0)
        if not ready:
            return ""
        try:
            return os.read(self.screen, 65536).decode("utf-8", "replace")
        except OSError:  # the other end is closed
            return ""

    def type(self, text: str) -> None:
        os.write(self.screen, text.encode())

    def interrupt(self) -> None:
        """Press Ctrl-C once the command waits for the keyboard.

        Python loses one that arrives after a prompt is out and before it waits for the line.
        """
        asleep, end = 0, time.monotonic() + PATIENCE_S
        while asleep < ASLEEP:
            assert time.monotonic() < end, "the command never waits"
            time.sleep(0.05)
            asleep = asleep + 1 if self._sleeps() else 0
        self.type("\x03")

    def _sleeps(self) -> bool:
        """Tell whether the process sleeps (Linux; taken for granted elsewhere)."""
        status = Path(f"/proc/{self.process.pid}/stat")
        return not status.exists() or status.read_text().rpartition(")")[2].split()[0] == "S"

    def end(self) -> int:
        """Read to the end and return the exit status."""
        end = time.monotonic() + PATIENCE_S
        while self.process.poll() is None and time.monotonic() < end:
            self.text += self._read()
        self.text += self._read()
        status = self.process.wait(10)
        os.close(self.screen)
        return status


def lines_of(text: str) -> list[str]:
    plain = ESCAPE.sub("", text).replace("\r\n", "\n")
    # A line that is written over with \r shows only its last state.
    return [line.rsplit("\r", 1)[-1] for line in plain.split("\n")]


@pytest.mark.parametrize("columns", [36, 50, 80])
def test_pages_fit_the_terminal_and_have_colour(bike: Path, columns: int) -> None:
    terminal = Terminal("assess", bike, "--no-save", columns=columns)
    assert terminal.end() == 0
    assert "\x1b[1m" in terminal.text
    assert "DO NOW" in terminal.text
    wide = [line for line in lines_of(terminal.text) if len(line) > columns]
    assert wide == []


def test_a_guided_job_on_a_narrow_terminal_stops_at_ctrl_c_and_goes_on(bare: Path) -> None:
    terminal = Terminal("guide", bare, columns=50)
    terminal.until("Reads > ")
    terminal.type("s rest_v\n")
    terminal.until("Reads > ")
    terminal.type("12,31\n")
    page = terminal.until(" > ")
    while "CHECK 2" not in page:
        page += terminal.until(" > ")
    terminal.interrupt()
    assert terminal.end() == 0
    assert "Saved in" in terminal.text
    assert "Traceback" not in terminal.text
    assert [len(line) for line in lines_of(terminal.text) if len(line) > 50] == []
    (reading,) = load_card(bare).readings
    assert reading.shown is not None
    assert reading.shown.value == 12.31

    again = Terminal("guide", bare, columns=80)
    assert "12.31 V" in again.until(" > ")
    again.type("q\n")
    assert again.end() == 0


def test_no_colour_in_a_pipe(bike: Path) -> None:
    command = [sys.executable, str(SMALL), "assess", str(bike), "--no-save"]
    done = subprocess.run(
        command, env=own_process(), capture_output=True, text=True, timeout=200, check=True
    )
    assert "\x1b" not in done.stdout + done.stderr
