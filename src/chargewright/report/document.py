"""What a report is made of, whatever it is written as: blocks of plain text and pictures.

No text in here is markup. Who writes a form (PDF, HTML) shows every string as it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Tone(StrEnum):
    """What a box or a cell means; never told by colour alone."""

    GOOD = "good"
    BAD = "bad"
    OPEN = "open"  # not decided
    PLAIN = "plain"


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a table."""

    text: str
    tone: Tone = Tone.PLAIN
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """Labels and what stands behind them."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Box:
    """The answer of the report: a headline and what it rests on."""

    tone: Tone
    headline: str
    texts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """A heading; what follows belongs to it."""

    title: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One paragraph, ``small`` for notes."""

    text: str
    small: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """Paragraphs of one list."""

    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table; ``widths`` are parts of the line, one per column."""

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    widths: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture: ``svg`` for paper, ``css`` the same with a page's own colours, words for it."""

    svg: str
    css: str
    alt: str
    caption: str


@dataclass(frozen=True, slots=True)
class Pictures:
    """Pictures side by side, as many as fit."""

    pictures: tuple[Picture, ...]
    across: int = 2


Block = Facts | Box | Section | Paragraph | Bullets | Table | Pictures


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A whole report. ``foot`` stands at the bottom of every page; ``dense`` sets it smaller;
    ``one_page`` makes a PDF's letters as small as one page asks for.
    """

    title: str
    subtitle: str
    notice: str  # such as "invented data"; may be empty
    blocks: tuple[Block, ...]
    foot: str
    language: str = "en"
    dense: bool = False
    one_page: bool = False
