"""The service does what its description says: checked by a tool that knows only the description.

Streams are left out here (they do not end); ``test_events.py`` has them.
"""

from __future__ import annotations

import re
from pathlib import Path

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import not_a_server_error
from schemathesis.config import SchemathesisConfig
from web.service import ATV, serving

from chargewright.web.app import create_app
from chargewright.web.settings import API, Settings

DOCS = Path(__file__).parents[2] / "docs" / "http-api.md"
DOCUMENT = create_app(Settings(store=Path("unused"), workers=0)).openapi()
# What fits the schema may still name no check of this machine, or must not be measured: 422.
ALLOWED = ["2xx", 401, 403, 404, 409, 422, 429]
CONFIG = SchemathesisConfig.from_dict(
    {"checks": {"positive_data_acceptance": {"expected-statuses": ALLOWED}}}
)
SCHEMA = schemathesis.openapi.from_dict(DOCUMENT, config=CONFIG)
CALL = re.compile(r"\b(?:GET|POST|PUT|PATCH|DELETE) (/[\w/{}.-]+)")
FIXED = {"job": "fixed-1", "check": "rest_v", "reading": "r-1", "cover": "seat", "class_id": "atv"}


def test_the_document_is_openapi_3_1_and_tells_of_errors() -> None:
    assert DOCUMENT["openapi"].startswith("3.1")
    for path, methods in DOCUMENT["paths"].items():
        for method, operation in methods.items():
            where = f"{method} {path}"
            assert operation["summary"], where
            assert operation["description"], where
            for status in ("401", "403", "422", "503"):
                content = operation["responses"][status]["content"]["application/json"]
                assert content["schema"]["$ref"].endswith("/ErrorAnswer"), where
    assert "HTTPValidationError" not in DOCUMENT["components"]["schemas"]


def test_every_path_is_in_the_manual_and_the_manual_names_no_other() -> None:
    text = DOCS.read_text("utf-8")
    told = {re.sub(r"\{\w+\}", "{}", one) for one in CALL.findall(text.replace(API, ""))}
    told |= {"/energy/{}"}
    known = {re.sub(r"\{\w+\}", "{}", path.removeprefix(API)) for path in DOCUMENT["paths"]}
    known |= {"/openapi.json"}
    known = {re.sub(r"^/energy/[\w-]+$", "/energy/{}", path) for path in known}
    assert known == told


@pytest.fixture(scope="module")
def live(_small: None, tmp_path_factory: pytest.TempPathFactory) -> object:
    with serving(tmp_path_factory.mktemp("open") / "jobs.sqlite") as (client, _):
        client.post("/jobs", json={**ATV, "id": FIXED["job"]})
        yield client


@SCHEMA.exclude(path_regex=r"/events$").parametrize()
@settings(
    max_examples=8,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_every_call_answers_as_described(case: schemathesis.Case, live: httpx.Client) -> None:
    """Half of the drawn calls meet a job that is there, so that they get further than 404."""
    for name in case.path_parameters or {}:
        if name in FIXED and len(str(case.path_parameters[name])) % 2:
            case.path_parameters[name] = FIXED[name]
    if case.query and "wait_s" in case.query:
        case.query["wait_s"] = 0.1
    root = f"http://{live.base_url.host}:{live.base_url.port}"
    answer = case.call(base_url=root)
    case.validate_response(answer, additional_checks=[not_a_server_error])
