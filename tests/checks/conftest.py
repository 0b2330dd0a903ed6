"""The shipped book and one catalogue, for every test of the checks room."""

from __future__ import annotations

import pytest

from chargewright.checks.catalogue import Catalogue
from chargewright.checks.load import Book, load_book
from chargewright.machine.layout import Layout
from chargewright.machine.speeds import Speeds

SPEEDS = Speeds(1200.0, 3000.0, 5000.0)


@pytest.fixture(scope="session")
def book() -> Book:
    return load_book()


@pytest.fixture(scope="session")
def three_phase(book: Book) -> Catalogue:
    return book.catalogue(Layout(), SPEEDS)
