"""A second phone sees a reading at once; a page that was away is told what it missed."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
from web.service import begun, rest, serving

from chargewright.jobs.codec import card_dict
from chargewright.jobs.store import JobStore

Event = tuple[str, dict[str, Any], str | None]


def events(lines: Iterator[str]) -> Iterator[Event]:
    """Yield name, data and id of the events of a stream (WHATWG HTML, server-sent events)."""
    name, data, number = "", "", None
    for line in lines:
        if line.startswith("event: "):
            name = line[7:]
        elif line.startswith("data: "):
            data = line[6:]
        elif line.startswith("id: "):
            number = line[4:]
        elif not line and name:
            yield name, json.loads(data), number
            name, data, number = "", "", None


@contextmanager
def listening(
    client: httpx.Client, path: str, *, last: str | None = None
) -> Iterator[Iterator[Event]]:
    headers = {} if last is None else {"Last-Event-ID": last}
    with client.stream("GET", path, headers=headers) as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        yield events(answer.iter_lines())


def until(stream: Iterator[Event], name: str, **fields: object) -> Event:
    """Return the first event of a name with these fields."""
    for one in stream:
        if one[0] == name and fields.items() <= one[1].items():
            return one
    raise AssertionError(f"the stream ended without {name} {fields}")


def test_a_second_phone_sees_the_reading_and_its_assessment(client: httpx.Client) -> None:
    job = begun(client)
    with listening(client, f"/jobs/{job}/events") as stream:
        assert next(stream)[:2] == (
            "job",
            {"job": job, "revision": 1, "change": "now", "what": "", "at": ""},
        )
        client.post(f"/jobs/{job}/readings", json=rest("p-1", "11.4"))
        _, told, number = until(stream, "job", change="reading")
        assert (told["what"], told["revision"]) == ("p-1", 2)
        assert number is not None
        assert until(stream, "assessment", revision=2)[1]["assessment"]["readings"]


def test_what_was_missed_comes_after_the_last_number(client: httpx.Client) -> None:
    job = begun(client)
    with listening(client, f"/jobs/{job}/events") as stream:
        next(stream)
        client.post(f"/jobs/{job}/readings", json=rest("p-1"))
        _, _, last = until(stream, "job", what="p-1")
    client.post(f"/jobs/{job}/readings", json=rest("p-2"))
    client.delete(f"/jobs/{job}/readings/p-1")
    with listening(client, f"/jobs/{job}/events", last=last) as stream:
        missed = []
        for name, data, _ in stream:
            if name == "job" and data["change"] != "now":
                missed.append((data["change"], data["what"]))
            if len(missed) == 2:
                break
    assert missed == [("reading", "p-2"), ("reading_gone", "p-1")]


def test_the_list_hears_of_jobs_that_come_and_go(client: httpx.Client) -> None:
    with listening(client, "/events") as stream:
        time.sleep(0.3)  # the stream has nothing to say before something happens
        job = begun(client)
        until(stream, "job", job=job, change="begun")
        revision = client.get(f"/jobs/{job}").json()["revision"]
        client.delete(f"/jobs/{job}", params={"revision": revision})
        until(stream, "removed", job=job)


def test_a_silent_stream_shows_that_it_lives_and_ends_with_the_service(tmp_path: Path) -> None:
    with serving(tmp_path / "jobs.sqlite", heartbeat_s=0.05) as (client, _):
        job = begun(client)
        with client.stream("GET", f"/jobs/{job}/events") as answer:
            assert any(line == ": still here" for line in answer.iter_lines())


def test_a_change_by_another_program_is_seen(tmp_path: Path) -> None:
    path = tmp_path / "jobs.sqlite"
    with serving(path) as (client, _):
        job = begun(client)
        with listening(client, f"/jobs/{job}/events") as stream:
            next(stream)
            with JobStore(path) as other:
                raw = card_dict(other.load(job)) | {"notes": "from the command line"}
                other.import_job(raw, on_conflict="replace")
            assert until(stream, "job", change="head")[1]["what"] == "notes"
