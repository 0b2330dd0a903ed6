"""How the program ends: one line for every error, and an exit status a script can use.

0 done; 1 whoever read the output went away; 2 the input cannot be used; 3 the reading asked for
is unsafe; 4 the job store or a file cannot be written; 70 a defect of the program itself;
130 interrupted.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator, Sequence
from typing import Any, NoReturn

import click

from chargewright.errors import ChargewrightError, InputError, StoreError, UnsafeCheckError

CLOSED_PIPE, BAD_INPUT, UNSAFE, STORE, DEFECT, INTERRUPTED = 1, 2, 3, 4, 70, 130
STATUS: tuple[tuple[type[ChargewrightError], int], ...] = (
    (UnsafeCheckError, UNSAFE),
    (StoreError, STORE),
    (ChargewrightError, BAD_INPUT),
)
DEBUG_VARIABLE = "CHARGEWRIGHT_DEBUG"


class Program(click.Group):
    """The group of all commands, which turns every error into one line and a status."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order in which a job needs them."""
        return list(self.commands)

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,  # noqa: ANN401 - handed on to click as it came
    ) -> Any:  # noqa: ANN401
        """Run a command line; never lets a traceback out."""
        if not standalone_mode:
            return super().main(args, prog_name, complete_var, standalone_mode=False, **extra)
        _never_fail_on_a_letter()
        try:
            super().main(args, prog_name, complete_var, standalone_mode=False, **extra)
            sys.stdout.flush()
        except BaseException as error:  # the one place where everything ends
            _end(error)
        sys.exit(0)


def _end(error: BaseException) -> NoReturn:
    """Leave the program because of ``error``."""
    if isinstance(error, SystemExit):
        raise error
    if isinstance(error, click.exceptions.Exit):
        sys.exit(error.exit_code)
    if isinstance(error, BrokenPipeError):
        _hush()
        sys.exit(CLOSED_PIPE)
    if isinstance(error, click.Abort):  # Ctrl-C, or the end of what was typed
        sys.exit(INTERRUPTED)
    line, status = told(error)
    if status == DEFECT and os.environ.get(DEBUG_VARIABLE) == "1":
        import traceback

        traceback.print_exception(error)
    with contextlib.suppress(OSError):
        click.echo(line, err=True)
    sys.exit(status)


def told(error: BaseException) -> tuple[str, int]:
    """Return the line that tells of ``error``, and the exit status."""
    if isinstance(error, ChargewrightError):
        status = next(code for kind, code in STATUS if isinstance(error, kind))
        return f"chargewright: {one_line(str(error))}", status
    if isinstance(error, click.ClickException):
        where = ""
        if isinstance(error, click.UsageError) and error.ctx is not None:
            where = f"; see '{error.ctx.command_path} --help'"
        return f"chargewright: {one_line(error.format_message()).rstrip('.')}{where}", BAD_INPUT
    if isinstance(error, MemoryError):
        return "chargewright: not enough memory", DEFECT
    return (
        f"chargewright: unexpected {type(error).__name__}: {one_line(str(error))[:200]}; please "
        f"report this ({DEBUG_VARIABLE}=1 shows where it happened)"
    ), DEFECT


def one_line(text: str) -> str:
    """Return ``text`` on one line, without signs that could steer a terminal."""
    return "".join(c if c.isprintable() else " " for c in " ".join(text.split()))


@contextlib.contextmanager
def checked_fields(where: str) -> Iterator[None]:
    """Turn the card's own refusal of a value into an ``InputError`` that names ``where``."""
    from pydantic import ValidationError

    from chargewright.jobs.card import JobCard
    from chargewright.jobs.refusal import refusal

    try:
        yield
    except ValidationError as error:
        raise refusal(error, JobCard, source=where) from None
    except OSError as error:
        raise InputError(f"{where}: {error.strerror or error}") from error


def _never_fail_on_a_letter() -> None:
    """Show what the terminal cannot write as ``?`` instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]


def _hush() -> None:
    """Send the rest of the output nowhere, so that leaving does not fail on the pipe again."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
