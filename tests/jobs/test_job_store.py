"""The store: nothing lost between threads, processes, kills, versions and other programs' files."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from hypothesis import given, settings
from jobs.card_strategies import cards
from jobs.kill_savers import BULK
from jobs.killing import kill_savers
from sqlalchemy import create_engine

import chargewright.jobs.database as database
from chargewright.errors import InputError, StoreError
from chargewright.jobs.card import JobCard
from chargewright.jobs.codec import canonical_json, card_dict, card_from_dict
from chargewright.jobs.store import JobStore
from chargewright.jobs.tables import APPLICATION_ID, SCHEMA_HEAD, metadata

Raw = dict[str, Any]
KILLS = 60
THREADS, UPDATES = 8, 15
MIGRATIONS = Path(database.__file__).with_name("migrations")


def rest_volts(reading_id: str, value: float, **fields: object) -> Raw:
    return {
        "id": reading_id,
        "check": "rest_volts",
        "function": "dc_v",
        "plus": "battery_pos",
        "minus": "battery_neg",
        "shown": {"value": value, "unit": "V"},
        **fields,
    }


def a_card(job_id: str = "job-1", **fields: object) -> JobCard:
    return card_from_dict(
        {
            "card_version": 1,
            "id": job_id,
            "created": "2026-08-01T10:00:00Z",
            "machine": {"class": "atv", "label": "Green 12"},
            **fields,
        }
    )


@pytest.fixture
def store(tmp_path: Path) -> Iterator[JobStore]:
    with JobStore(tmp_path / "jobs.db") as opened:
        yield opened


def test_saved_jobs_are_listed_and_loaded(tmp_path: Path) -> None:
    times = iter([datetime(2026, 8, 1, 10, tzinfo=UTC), datetime(2026, 8, 2, tzinfo=UTC)])
    with JobStore(tmp_path / "jobs.db", clock=lambda: next(times)) as store:
        assert store.list() == ()
        store.save(a_card("early", title="first"))
        store.save(a_card("late", confirmed_cause={"cause": "stator_phase_open"}))
        late, early = store.list()
        assert (late.id, late.confirmed_cause) == ("late", "stator_phase_open")
        assert (early.id, early.title, early.machine) == ("early", "first", "Green 12")
    with JobStore(tmp_path / "jobs.db") as again:
        assert again.load("early") == a_card("early", title="first")


def test_an_unknown_job_names_the_nearest(store: JobStore) -> None:
    store.save(a_card("job-17"))
    with pytest.raises(StoreError, match="no job 'job-71'; did you mean 'job-17'"):
        store.load("job-71")


def test_revisions_count_and_guard_against_overwriting(store: JobStore) -> None:
    assert store.save(a_card(), expected_revision=0) == 1
    card, revision = store.load_with_revision("job-1")
    assert store.save(card.changed(title="mine"), expected_revision=revision) == 2
    with pytest.raises(StoreError, match="at revision 2, expected 1"):
        store.save(card.changed(title="theirs"), expected_revision=revision)
    assert store.load("job-1").title == "mine"


def test_removed_job_leaves_nothing_behind(store: JobStore) -> None:
    store.save(a_card(readings=[rest_volts("r1", 12.6)]))
    store.remove("job-1")
    with closing(sqlite3.connect(store.path)) as connection:
        for table in ("jobs", "readings", "machines"):
            assert connection.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,)
    with pytest.raises(StoreError, match="the store is empty"):
        store.remove("job-1")


def test_history_follows_one_check_of_one_machine_in_time(store: JobStore) -> None:
    spring = [
        rest_volts("b", 12.5, at="2026-03-01T10:00:00.5Z"),
        rest_volts("a", 12.6, at="2026-03-01T10:00:00Z"),
        rest_volts("slipped", 1.2, excluded="probe slipped"),
        rest_volts("lights", 12.1, state={"lights_on": True}),
    ]
    store.save(a_card("autumn", readings=[rest_volts("c", 12.2, state={"rest_h": 12})]))
    store.save(a_card("spring", readings=spring))
    other = {"class": "atv", "label": "Blue 7"}
    store.save(a_card("other", machine=other, readings=[rest_volts("x", 9.9)]))
    tracks = store.history("  green  12 ")
    values = [[reading.value for reading in track.readings] for track in tracks]
    assert sorted(values, key=len) == [[12.1], [12.6, 12.5, 12.2]]
    longest = max(tracks, key=lambda track: len(track.readings))
    assert (longest.check, longest.unit) == ("rest_volts", "V")
    assert [reading.job_id for reading in longest.readings] == ["spring", "spring", "autumn"]
    assert store.history("unknown") == ()


def test_saving_again_replaces_the_readings_in_the_history(store: JobStore) -> None:
    store.save(a_card(readings=[rest_volts("a", 12.6), rest_volts("b", 12.5)]))
    store.save(a_card(readings=[rest_volts("b", 12.4)]))
    (track,) = store.history("Green 12")
    assert [reading.value for reading in track.readings] == [12.4]


@pytest.fixture(scope="module")
def lasting_store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[JobStore]:
    """One store for all generated cards: opening one for each would take most of the time."""
    with JobStore(tmp_path_factory.mktemp("lasting") / "jobs.db") as opened:
        yield opened


@settings(max_examples=60, deadline=None)
@given(raw=cards)
def test_a_job_goes_in_and_out_of_the_store_byte_for_byte(
    lasting_store: JobStore, raw: Raw
) -> None:
    sent = card_from_dict(raw)
    lasting_store.import_job(raw, on_conflict="replace")
    exported = lasting_store.export_job(sent.id)
    assert canonical_json(card_from_dict(exported)) == canonical_json(sent)
    assert exported == card_dict(sent)


def test_import_of_the_same_card_twice_changes_nothing(store: JobStore) -> None:
    raw = card_dict(a_card(readings=[rest_volts("a", 12.6)]))
    store.import_job(raw)
    store.import_job(raw)
    assert store.load_with_revision("job-1")[1] == 1


def test_import_of_a_differing_card_is_refused_replaced_or_merged(store: JobStore) -> None:
    ours = a_card(title="flat battery", readings=[rest_volts("a", 12.6)])
    theirs = card_dict(a_card(notes="seen", readings=[rest_volts("b", 12.5)]))
    store.save(ours)
    with pytest.raises(StoreError, match="'job-1' is here already and differs"):
        store.import_job(theirs)
    assert store.load("job-1") == ours
    merged = store.import_job(theirs, on_conflict="merge")
    assert store.load("job-1") == merged
    assert [reading.id for reading in merged.readings] == ["a", "b"]
    assert (merged.title, merged.notes) == ("flat battery", "seen")
    store.import_job(theirs, on_conflict="replace")
    assert card_dict(store.load("job-1")) == theirs


def test_an_invalid_import_is_refused_and_stores_nothing(store: JobStore) -> None:
    with pytest.raises(InputError, match="imported card: titel: unknown field"):
        store.import_job({**card_dict(a_card()), "titel": "x"})
    assert store.list() == ()


def test_backup_holds_everything_and_overwrites_nothing(store: JobStore, tmp_path: Path) -> None:
    store.save(a_card())
    store.backup(tmp_path / "copy.db")
    store.save(a_card("job-2"))
    with JobStore(tmp_path / "copy.db") as copy:
        assert [line.id for line in copy.list()] == ["job-1"]
    with pytest.raises(StoreError, match="exists already"):
        store.backup(tmp_path / "copy.db")
    with pytest.raises(StoreError, match="cannot be written"):
        store.backup(tmp_path / "nowhere" / "copy.db")


def test_no_update_is_lost_between_threads(store: JobStore) -> None:
    store.save(a_card())

    def add(thread: int) -> None:
        for number in range(UPDATES):
            note = {"act": f"t{thread}-{number}"}
            store.update("job-1", partial(add_act, act=note))

    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(add, range(THREADS)))
    done = {act.act for act in store.load("job-1").done}
    assert len(done) == THREADS * UPDATES
    assert store.load_with_revision("job-1")[1] == THREADS * UPDATES + 1


def add_act(card: JobCard, *, act: Raw) -> JobCard:
    raw = card_dict(card)
    return card_from_dict({**raw, "done": [*raw["done"], act]})


def test_an_update_may_not_change_the_id(store: JobStore) -> None:
    store.save(a_card())
    with pytest.raises(StoreError, match="must keep the id"):
        store.update("job-1", lambda card: card.changed(id="job-2"))
    assert [line.id for line in store.list()] == ["job-1"]


def test_processes_that_create_the_store_together_all_succeed(tmp_path: Path) -> None:
    program = (
        "import sys; from chargewright.jobs.store import JobStore; "
        "store = JobStore(sys.argv[1]); assert store.list() == ()"
    )
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    arguments = [sys.executable, "-c", program, str(tmp_path / "jobs.db")]
    starts = [
        subprocess.Popen(arguments, env=environment, stderr=subprocess.PIPE, text=True)
        for _ in range(4)
    ]
    assert [(start.communicate()[1], start.returncode) for start in starts] == [("", 0)] * 4


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
def test_a_store_killed_while_saving_keeps_all_that_was_acknowledged(tmp_path: Path) -> None:
    kills = kill_savers("store", tmp_path, times=KILLS, seed=20260802)
    assert len(kills) == KILLS
    for told, found, bulk in kills:
        assert found in (told, told + 1)
        assert bulk == BULK


def test_tables_and_migrations_agree(store: JobStore) -> None:
    script = ScriptDirectory(str(MIGRATIONS))
    assert script.get_current_head() == SCHEMA_HEAD
    engine = create_engine(f"sqlite:///{store.path}")
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []
    engine.dispose()


def test_the_database_behaves_as_promised(store: JobStore) -> None:
    store.save(a_card())
    with store._engine.connect() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "foreign_keys", "busy_timeout", "application_id")
        }
    assert found == {
        "journal_mode": "wal",
        "foreign_keys": 1,
        "busy_timeout": 15_000,
        "application_id": APPLICATION_ID,
    }


def refused(path: Path) -> str:
    with pytest.raises(StoreError) as caught:
        JobStore(path)
    message = str(caught.value)
    assert str(path) in message
    assert "\n" not in message
    return message


def test_other_files_are_refused_and_left_alone(tmp_path: Path) -> None:
    text, damaged, foreign = tmp_path / "a.txt", tmp_path / "b.db", tmp_path / "c.db"
    text.write_bytes(b"dear customer")
    damaged.write_bytes(b"SQLite format 3\x00" + b"?" * 5000)
    with closing(sqlite3.connect(foreign)) as connection:
        connection.execute("CREATE TABLE songs (title TEXT)")
        connection.commit()
    before = [path.read_bytes() for path in (text, damaged)]
    assert "no database: it starts with b'dear customer'" in refused(text)
    assert "not a database" in refused(damaged)
    assert "another program" in refused(foreign)
    assert "is a folder" in refused(tmp_path)
    assert "does not exist" in refused(tmp_path / "nowhere" / "jobs.db")
    assert [path.read_bytes() for path in (text, damaged)] == before
    with closing(sqlite3.connect(foreign)) as connection:
        names = connection.execute("SELECT name FROM sqlite_master").fetchall()
    assert names == [("songs",)]


def test_a_newer_schema_is_refused(store: JobStore) -> None:
    store.close()
    with closing(sqlite3.connect(store.path)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0999'")
        connection.commit()
    assert "schema 0999" in refused(store.path)


def test_a_damaged_card_in_the_store_is_named(store: JobStore) -> None:
    store.save(a_card())
    with closing(sqlite3.connect(store.path)) as connection:
        connection.execute("UPDATE jobs SET card = '{}'")
        connection.commit()
    with pytest.raises(StoreError, match="stored card cannot be used: job job-1: card_version"):
        store.load("job-1")


@contextmanager
def as_nobody() -> Iterator[None]:
    """Root may write anywhere; step down to see what others see."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.skipif(os.name != "posix", reason="folder permissions of POSIX")
def test_a_read_only_folder_is_refused() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with JobStore(folder / "old.db") as store:
            store.save(a_card())
        (folder / "old.db").chmod(0o444)
        folder.chmod(0o555)
        try:
            with as_nobody():
                assert f"its folder {name}?" in refused(folder / "new.db")
                assert f"its folder {name}?" in refused(folder / "old.db")
        finally:
            folder.chmod(0o755)
