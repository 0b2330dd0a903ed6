"""One service for a file of tests; each test begins jobs of its own."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest
from cli.small import SMALL
from web.service import serving


@pytest.fixture(scope="module", autouse=True)
def _small() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        for module, name, value in SMALL:
            patch.setattr(module, name, value)
        patch.setenv("CHARGEWRIGHT_CACHE", "off")
        yield


@pytest.fixture(scope="module")
def client(_small: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    with serving(tmp_path_factory.mktemp("service") / "jobs.sqlite") as (opened, _):
        yield opened
