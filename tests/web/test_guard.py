"""Who gets in: hosts, foreign pages, paired phones, codes; and what every answer carries."""

from __future__ import annotations

import asyncio
import socket
import stat
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from web.service import ATV, error_of, serving

from chargewright.errors import StoreError
from chargewright.web.guard import is_home
from chargewright.web.pairing import CODE_S, COOKIE, TRIES, Pairing, key_file, load_key
from chargewright.web.problems import Problem
from chargewright.web.serve import listen

KEY = b"k" * 32


def test_a_host_that_is_not_ours_is_refused(client: httpx.Client) -> None:
    """A page elsewhere may point its own name at this machine (DNS rebinding)."""
    error_of(client.get("/jobs", headers={"Host": "evil.example"}), 403, "forbidden")
    error_of(client.get("/jobs", headers={"Host": "localhost.evil.example"}), 403, "forbidden")
    assert client.get("/jobs", headers={"Host": "localhost:9"}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_page_from_elsewhere_changes_nothing(
    client: httpx.Client, headers: dict[str, str]
) -> None:
    error_of(client.post("/jobs", json=ATV, headers=headers), 403, "forbidden")
    origin = f"http://{client.base_url.host}:{client.base_url.port}"
    own = {"Origin": origin, "Sec-Fetch-Site": "same-origin"}
    assert client.post("/jobs", json=ATV, headers=own).status_code == 201


def test_a_form_is_no_json(client: httpx.Client) -> None:
    """What a page elsewhere could send without asking first is not even read."""
    error_of(client.post("/jobs", data={"class": "atv"}), 415, "media_type")
    plain = {"Content-Type": "text/plain"}
    error_of(client.post("/jobs", content=b'{"class": "atv"}', headers=plain), 415, "media_type")


def test_every_answer_carries_its_seals(client: httpx.Client) -> None:
    for answer in (
        client.get("/jobs"),
        client.get("/nothing"),
        client.get("http://" + str(client.base_url.netloc, "ascii") + "/"),
    ):
        assert "default-src 'self'" in answer.headers["content-security-policy"]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["x-frame-options"] == "DENY"
        assert "server" not in answer.headers


def test_the_app_is_served_and_no_other_file(client: httpx.Client) -> None:
    root = f"http://{client.base_url.host}:{client.base_url.port}"
    page = client.get(f"{root}/")
    assert page.status_code == 200
    again = client.get(f"{root}/", headers={"If-None-Match": page.headers["etag"]})
    assert again.status_code == 304
    for path in ("/app/../serve.py", "/app/%2e%2e/serve.py", "/app//etc/passwd", "/serve.py"):
        assert client.get(root + path).status_code == 404


def from_afar(scope_client: tuple[str, int]) -> bool:
    return is_home({"client": scope_client})


def test_only_loopback_is_home() -> None:
    assert from_afar(("127.0.0.1", 1))
    assert from_afar(("::1", 1))
    assert not from_afar(("192.0.2.7", 1))
    assert not from_afar(("testclient", 1))


def test_a_phone_from_the_network_pairs_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chargewright.web.guard.is_home", lambda scope: False)
    pairing = Pairing(KEY)
    with serving(tmp_path / "jobs.sqlite", pairing=pairing) as (client, _):
        assert client.get("/service").json()["paired"] is False
        error_of(client.get("/jobs"), 401, "not_paired")
        error_of(client.get("/openapi.json"), 401, "not_paired")
        error_of(client.get("/pair"), 401, "not_paired")
        error_of(client.post("/pair", json={"code": "AAAA-AAAA"}), 401, "not_paired")
        answer = client.post("/pair", json={"code": pairing.code().lower()})
        assert answer.status_code == 204
        cookie = answer.headers["set-cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=strict" in cookie
        assert client.get("/jobs").status_code == 200
        shown = client.get("/pair").json()
        assert shown["code"] == pairing.code()
        assert shown["qr_svg"].startswith("<svg")
        client.delete("/pair")
        error_of(client.get("/jobs"), 401, "not_paired")


def test_codes_cannot_be_guessed_fast() -> None:
    now = [1000.0]
    pairing = Pairing(KEY, now=lambda: now[0])
    right = pairing.code()
    for _ in range(TRIES):
        with pytest.raises(Problem) as wrong:
            pairing.pair("AAAAAAAA")
        assert wrong.value.status == 401
    with pytest.raises(Problem) as slow:
        pairing.pair(right)
    assert slow.value.status == 429
    now[0] += 61.0
    assert pairing.valid(pairing.pair(right))


def test_a_code_ends_and_a_cookie_is_tied_to_its_key_and_time() -> None:
    now = [1000.0]
    pairing = Pairing(KEY, now=lambda: now[0])
    first = pairing.code()
    now[0] += CODE_S + 1
    assert pairing.code() != first
    cookie = pairing.pair(first)  # the one before still holds for whoever was typing
    now[0] += CODE_S + 1
    pairing.code()
    with pytest.raises(Problem):
        pairing.pair(first)
    assert pairing.valid(cookie)
    assert not Pairing(b"x" * 32, now=lambda: now[0]).valid(cookie)
    name, made, seal = cookie.split(".")
    for bad in (None, "", "a.b.c", f"{name}.{int(made) + 1}.{seal}", f"{name}.{made}.{seal}0"):
        assert not pairing.valid(bad)
    now[0] += 200 * 24 * 3600
    assert not pairing.valid(cookie)


def test_the_key_is_the_owners_alone(tmp_path: Path) -> None:
    store = tmp_path / "jobs.sqlite"
    assert load_key(store) == load_key(store)
    assert stat.S_IMODE(key_file(store).stat().st_mode) == 0o600
    key_file(store).write_bytes(b"short")
    with pytest.raises(StoreError, match="5 bytes"):
        load_key(store)


def test_the_cookie_has_its_name() -> None:
    assert COOKIE == "chargewright_session"


def test_small_answers_are_not_held_back() -> None:
    """With Nagle's rule (RFC 896) on, an answer in two writes waits up to 40 ms for an ACK."""

    async def no_delay() -> bool:
        found: asyncio.Future[bool] = asyncio.get_running_loop().create_future()

        def came(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            taken = writer.get_extra_info("socket")
            found.set_result(bool(taken.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)))
            writer.close()

        sock = listen("127.0.0.1", 0)
        async with await asyncio.start_server(came, sock=sock):
            _, writer = await asyncio.open_connection(*sock.getsockname())
            answer = await found
            writer.close()
        return answer

    # in a thread: a browser's own loop may be running in this one
    with ThreadPoolExecutor(1) as aside:
        assert aside.submit(lambda: asyncio.run(no_delay())).result()
