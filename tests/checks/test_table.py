"""The page of documentation is what the data files say now."""

from __future__ import annotations

from pathlib import Path

from chargewright.checks.load import Book
from chargewright.checks.table import page, write

DOCS = Path(__file__).resolve().parents[2] / "docs" / "checks.md"


def test_docs_are_up_to_date() -> None:
    assert DOCS.read_text(encoding="utf-8") == page()


def test_every_check_has_one_row(book: Book, tmp_path: Path) -> None:
    write(tmp_path / "page.md")
    lines = (tmp_path / "page.md").read_text(encoding="utf-8").splitlines()
    for check in book.checks:
        assert sum(line.startswith(f"| `{check.id}` |") for line in lines) == 1
    assert all(line.count("|") == 7 for line in lines if line.startswith("| `rest"))
