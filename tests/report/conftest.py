"""Jobs for reports, with a small diagnosis: these tests are about what is said of an answer."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from cli.small import SMALL


@pytest.fixture(autouse=True, scope="module")
def small() -> Iterator[None]:
    """Make the diagnosis small, and keep it away from the user's cache."""
    with pytest.MonkeyPatch.context() as patch:
        for module, name, value in SMALL:
            patch.setattr(module, name, value)
        patch.setenv("CHARGEWRIGHT_CACHE", "off")
        yield
