"""The app as shipped: nothing from elsewhere, licences beside what is built in, little weight."""

from __future__ import annotations

import gzip
import json
import re
import struct
from importlib.resources import files
from pathlib import Path

from chargewright.texts.catalogue import languages, phone_file

APP = Path(str(files("chargewright.web") / "app"))
ALL = sorted(path for path in APP.rglob("*") if path.is_file())
TEXT = [p for p in ALL if p.suffix in {".js", ".css", ".html", ".json", ".webmanifest", ".svg"}]
IMPORT = re.compile(r"""(?:import|from)\s*"(\.{1,2}/[^"]+)\"""")
MOST_BYTES = 300_000


def test_the_whole_app_weighs_less_than_300_kb_compressed() -> None:
    texts = [json.dumps(phone_file(code), ensure_ascii=False).encode() for code in languages()]
    sent = [path.read_bytes() for path in ALL] + texts
    weight = sum(len(gzip.compress(data, 6)) for data in sent)
    assert weight < MOST_BYTES


def test_nothing_is_fetched_from_another_host() -> None:
    """Names of XML vocabularies are no addresses; the bundle may only name those."""
    for path in TEXT:
        hosts = set(re.findall(r"https?://([\w.-]+)", path.read_text(encoding="utf-8")))
        assert hosts <= {"www.w3.org"}, path


def test_nothing_needs_a_looser_policy_than_own_files_only() -> None:
    page = (APP / "index.html").read_text(encoding="utf-8")
    assert not re.search(r"<script(?![^>]*\bsrc=)", page)
    assert "<style" not in page
    assert not re.search(r"\son\w+=", page)
    assert ' style="' not in page
    for path in TEXT:
        if path.suffix == ".js" and path.parent.name != "vendor":
            code = path.read_text(encoding="utf-8")
            assert not re.search(r"\beval\(|new Function\(|innerHTML", code), path


def test_every_import_leads_to_a_file() -> None:
    for path in TEXT:
        if path.suffix == ".js" and path.parent.name != "vendor":
            for target in IMPORT.findall(path.read_text(encoding="utf-8")):
                assert (path.parent / target).resolve().is_file(), f"{path.name}: {target}"


def test_licences_of_what_is_built_in_lie_beside_it() -> None:
    text = (APP / "vendor" / "LICENSES.txt").read_text(encoding="utf-8")
    for name in ("preact", "@preact/signals", "htm"):
        assert f"==== {name}\n" in text
    assert "The MIT License" in text
    assert "Apache License" in text


def test_the_manifest_names_icons_of_the_size_they_have() -> None:
    manifest = json.loads((APP / "manifest.webmanifest").read_text(encoding="utf-8"))
    pictures = [one for one in manifest["icons"] if one["src"].endswith(".png")]
    assert {one["sizes"] for one in pictures} == {"192x192", "512x512"}
    for one in pictures:
        head = (APP / one["src"].removeprefix("/app/")).read_bytes()[:24]
        assert head[1:4] == b"PNG"
        width, height = struct.unpack(">II", head[16:24])
        assert f"{width}x{height}" == one["sizes"]


def test_no_file_of_ours_is_longer_than_a_reader_can_hold() -> None:
    for path in TEXT:
        if path.suffix in {".js", ".css"} and path.parent.name != "vendor":
            assert len(path.read_text(encoding="utf-8").splitlines()) <= 250, path


def test_an_installed_app_keeps_every_file_it_needs() -> None:
    """One file left out of the list, and the app does not open without network."""
    code = (APP / "sw.js").read_text(encoding="utf-8")
    kept = set(re.findall(r'"(/app/[^"]+)"', code.split("];")[0]))
    needed = {
        f"/app/{path.relative_to(APP).as_posix()}"
        for path in TEXT
        if path.suffix != ".html" and path.name not in {"sw.js", "entry.js"}
    }
    assert kept == needed


def test_the_page_asks_for_every_module_at_once() -> None:
    """One left out is found only when another has been read, which costs a round trip more."""
    page = (APP / "index.html").read_text(encoding="utf-8")
    asked = set(re.findall(r'rel="modulepreload" href="/app/([^"]+)"', page))
    own = {path.relative_to(APP).as_posix() for path in APP.rglob("*.js")}
    assert asked == own - {"sw.js", "main.js", "core/early.js", "vendor/entry.js"}
