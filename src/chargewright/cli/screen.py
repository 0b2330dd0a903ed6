"""The terminal: width, colour, and the few forms a page is made of.

Text is laid out for the width of the terminal (30 to 120 columns); colour and moving lines
appear on a terminal only, and not when NO_COLOR is set.
"""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from rich.text import Text

NARROWEST, WIDEST = 30, 120
NARROW = 64  # below it, columns stand under each other
Cell = str | tuple[str, str]  # text, or text and its style


def columns() -> int:
    """Return the width to write for."""
    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size((80, 24)).columns))


def in_colour() -> bool:
    """Tell whether colour may be written."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    return not plain and sys.stdout.isatty()


def clean(text: str) -> str:
    """Return text from outside without signs that could steer a terminal."""
    return "".join(c if c.isprintable() else " " for c in text)


@dataclass(frozen=True, slots=True)
class Screen:
    """Writes to standard output. ``width`` in columns; ``colour`` allows styles."""

    width: int
    colour: bool

    @classmethod
    def here(cls) -> Screen:
        """Return the screen the program runs on."""
        return cls(columns(), in_colour())

    @property
    def narrow(self) -> bool:
        """Whether this is as narrow as a phone."""
        return self.width < NARROW

    def line(self, text: str = "", style: str = "", *, indent: int = 0) -> None:
        """Write one paragraph, wrapped."""
        if not text:
            click.echo()
            return
        self.rows([[" " * indent, (text, style)]] if indent else [[(text, style)]], gap=0)

    def heading(self, text: str) -> None:
        """Write a heading after an empty line."""
        click.echo()
        self.line(text.upper(), "bold")

    def bullets(self, texts: Sequence[str], style: str = "") -> None:
        """Write paragraphs, each behind a dash."""
        self.rows([["-", (text, style)] for text in texts], gap=1)

    def pairs(self, pairs: Sequence[tuple[str, Cell]], *, indent: int = 2) -> None:
        """Write labels and their texts; on a narrow screen the label column stays short."""
        pad = " " * (1 if self.narrow else indent)
        self.rows([[(pad + label, "bold"), text] for label, text in pairs], gap=2)

    def rows(self, rows: Sequence[Sequence[Cell]], *, gap: int = 2) -> None:
        """Write rows of cells: all columns as wide as they need, the last one wraps."""
        if not rows:
            return
        click.echo(self._render(rows, gap), nl=False, color=self.colour)

    def _render(self, rows: Sequence[Sequence[Cell]], gap: int) -> str:
        from rich.console import Console
        from rich.table import Table

        table = Table.grid(padding=(0, gap, 0, 0), pad_edge=False)
        count = max(len(row) for row in rows)
        for number in range(count):
            last = number == count - 1
            table.add_column(no_wrap=not last, overflow="fold" if last else "ellipsis")
        for row in rows:
            table.add_row(*[_styled(cell) for cell in row])
        out = io.StringIO()
        console = Console(
            file=out,
            width=self.width,
            force_terminal=self.colour,
            color_system="standard" if self.colour else None,
            highlight=False,
            emoji=False,
            markup=False,
            legacy_windows=False,
        )
        console.print(table)
        lines = out.getvalue().splitlines()
        return "".join(line.rstrip() + "\n" for line in lines)

    def bar(self, share: float, cells: int) -> str:
        """Return a bar of ``cells`` columns, filled by ``share``."""
        full = min(cells, round(share * cells))
        on, off = ("█", "·") if _can_write("█·") else ("#", ".")
        return on * full + off * (cells - full)


def _styled(cell: Cell) -> Text:
    from rich.text import Text

    words, style = (cell, "") if isinstance(cell, str) else cell
    return Text(clean(words), style=style)


def _can_write(signs: str) -> bool:
    try:
        signs.encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except (LookupError, UnicodeEncodeError):
        return False
    return True


@contextlib.contextmanager
def working(what: str) -> Iterator[None]:
    """Say on a terminal that something takes a while, and take the line away afterwards."""
    if not (sys.stderr.isatty() and in_colour()):
        yield
        return
    click.echo(f"{what} ...", nl=False, err=True)
    try:
        yield
    finally:
        click.echo("\r\x1b[K", nl=False, err=True)


def echo_json(data: object) -> None:
    """Write data as JSON that the stream's encoding can carry."""
    import json

    click.echo(json.dumps(data, indent=2, ensure_ascii=not _can_write("Ωµ°"), allow_nan=False))
