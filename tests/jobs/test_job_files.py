"""Cards as files: a card on disk is whole, whatever happens to the program that writes it."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from jobs.kill_savers import BULK
from jobs.killing import kill_savers

from chargewright.errors import InputError, StoreError
from chargewright.jobs.card import JobCard
from chargewright.jobs.codec import card_from_dict
from chargewright.jobs.files import load_card, save_card

KILLS = 80


def a_card(**fields: object) -> JobCard:
    return card_from_dict(
        {
            "card_version": 1,
            "id": "job-1",
            "created": "2026-08-01T10:00:00Z",
            "machine": {"class": "atv", "label": "green, Ω 12"},
            **fields,
        }
    )


def test_saved_and_loaded_card_is_the_same(tmp_path: Path) -> None:
    path = tmp_path / "job.json"
    save_card(a_card(), path)
    assert load_card(path) == a_card()
    assert [entry.name for entry in tmp_path.iterdir()] == ["job.json"]


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "job.json"
    save_card(a_card(), path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert load_card(path) == a_card()


def test_mode_and_link_of_an_existing_card_are_kept(tmp_path: Path) -> None:
    path, link = tmp_path / "job.json", tmp_path / "today.json"
    save_card(a_card(), path)
    path.chmod(0o640)
    link.symlink_to(path)
    save_card(a_card(title="new"), link)
    assert link.is_symlink()
    assert load_card(path).title == "new"
    assert path.stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (None, "No such file"),
        (b"\xff\xfe", "byte 0 is not UTF-8"),
        (b"{", "line 1"),
        (json.dumps({"card_version": 7}).encode(), "newer program"),
    ],
)
def test_unusable_file_is_named(tmp_path: Path, content: bytes | None, expected: str) -> None:
    path = tmp_path / "job.json"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        load_card(path)
    assert str(path) in str(caught.value)
    assert expected in str(caught.value)


def test_a_card_that_could_not_be_read_back_is_not_written(tmp_path: Path) -> None:
    path = tmp_path / "job.json"
    save_card(a_card(), path)
    broken = a_card().model_copy(update={"ambient_c": float("nan")})
    with pytest.raises(InputError):
        save_card(broken, path)
    assert load_card(path) == a_card()


def test_a_folder_that_is_not_there_is_a_store_error(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="cannot be written"):
        save_card(a_card(), tmp_path / "nowhere" / "job.json")


def test_a_full_disk_leaves_the_old_card_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "job.json"
    save_card(a_card(), path)

    def no_space(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", no_space)
    with pytest.raises(StoreError, match="No space left"):
        save_card(a_card(title="new"), path)
    assert load_card(path) == a_card()
    assert [entry.name for entry in tmp_path.iterdir()] == ["job.json"]


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
def test_a_card_killed_while_saving_is_the_old_or_the_new_one(tmp_path: Path) -> None:
    kills = kill_savers("card", tmp_path, times=KILLS, seed=20260801)
    assert len(kills) == KILLS
    for told, found, bulk in kills:
        assert found in (told, told + 1)  # the last one told, or the one being saved
        assert bulk == BULK
