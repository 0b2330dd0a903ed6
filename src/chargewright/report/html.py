"""A report as one HTML file: no script, nothing fetched, readable on a phone and on paper."""

from __future__ import annotations

from functools import cache
from html import escape
from importlib.resources import files

from chargewright.pictures.ink import theme_css
from chargewright.report.document import (
    Block,
    Box,
    Bullets,
    Cell,
    Document,
    Facts,
    Paragraph,
    Pictures,
    Section,
    Table,
    Tone,
)
from chargewright.report.safe import readable

ROOM_REM = 6.5  # least width of a column: narrower screens scroll the table
MARKS = {Tone.GOOD: "✓", Tone.BAD: "!", Tone.OPEN: "?", Tone.PLAIN: ""}
# The page may show its own style and its own pictures, and nothing else.
POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"


def html_text(document: Document) -> str:
    """Return a report as a whole HTML page."""
    title = document.title if not document.subtitle else f"{document.title}: {document.subtitle}"
    notice = f'<p class="notice">{_safe(document.notice)}</p>' if document.notice else ""
    sub = f'<p class="sub">{_safe(document.subtitle)}</p>' if document.subtitle else ""
    return "\n".join(
        [
            "<!doctype html>",
            f'<html lang="{_safe(document.language)}">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="color-scheme" content="light dark">',
            f"<title>{_plain(title)}</title>",
            f"<style>{_style()}</style>",
            "</head>",
            f'<body class="{"dense" if document.dense else "plain"}">',
            "<main>",
            f"<header><h1>{_safe(document.title)}</h1>{sub}{notice}</header>",
            *_sections(document.blocks),
            f"<footer>{_safe(document.foot)}</footer>",
            "</main>",
            "</body>",
            "</html>",
            "",
        ]
    )


def _plain(text: str) -> str:
    return escape(readable(text).replace("\n", " "), quote=True)


def _safe(text: str) -> str:
    """Return text for the page; each stands alone, so that its direction cannot turn the next."""
    return f"<bdi>{escape(readable(text), quote=True)}</bdi>" if _turns(text) else _plain(text)


def _turns(text: str) -> bool:
    return not text.isascii() or "\n" in text


def _sections(blocks: tuple[Block, ...]) -> list[str]:
    parts, open_section = [], False
    for block in blocks:
        if isinstance(block, Section):
            parts.append("</section>" if open_section else "")
            parts.append(f"<section>\n<h2>{_safe(block.title)}</h2>")
            open_section = True
        else:
            parts.append(_block(block))
    return [*parts, "</section>" if open_section else ""]


def _block(block: Block) -> str:
    if isinstance(block, Facts):
        pairs = "".join(f"<dt>{_safe(a)}</dt><dd>{_safe(b)}</dd>" for a, b in block.pairs)
        return f"<dl>{pairs}</dl>"
    if isinstance(block, Box):
        texts = "".join(f"<p>{_safe(text)}</p>" for text in block.texts if text)
        mark = f'<span aria-hidden="true">{MARKS[block.tone]}</span> '
        head = f'<p class="headline">{mark}{_safe(block.headline)}</p>'
        return f'<div class="box {block.tone.value}">{head}{texts}</div>'
    if isinstance(block, Paragraph):
        small = ' class="small"' if block.small else ""
        return f"<p{small}>{_safe(block.text)}</p>"
    if isinstance(block, Bullets):
        return "<ul>" + "".join(f"<li>{_safe(text)}</li>" for text in block.texts) + "</ul>"
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Pictures):
        figures = "".join(
            f"<figure>{one.css}<figcaption>{_safe(one.caption)}</figcaption></figure>"
            for one in block.pictures
        )
        return f'<div class="pictures">{figures}</div>'
    raise TypeError(block)


def _table(table: Table) -> str:
    whole = sum(table.widths)
    columns = "".join(f'<col style="width:{100 * width / whole:.1f}%">' for width in table.widths)
    head = "".join(f'<th scope="col">{_safe(text)}</th>' for text in table.head)
    rows = "".join("<tr>" + "".join(_cell(cell) for cell in row) + "</tr>\n" for row in table.rows)
    name = _plain(", ".join(text for text in table.head if text))
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{name}">'
        f'<table style="min-width:{ROOM_REM * len(table.head)}rem">\n'
        f"<colgroup>{columns}</colgroup>\n"
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}</tbody></table></div>"
    )


def _cell(cell: Cell) -> str:
    names = [cell.tone.value] if cell.tone is not Tone.PLAIN else []
    names += ["bold"] if cell.bold else []
    marked = f' class="{" ".join(names)}"' if names else ""
    return f"<td{marked}>{_safe(cell.text)}</td>"


@cache
def _style() -> str:
    sheet = files("chargewright.report").joinpath("data", "report.css").read_text("utf-8")
    return (
        sheet.replace("/*LIGHT*/", theme_css("light"))
        .replace("/*DARK*/", theme_css("dark"))
        .replace("/*PRINT*/", theme_css("print"))
    )
