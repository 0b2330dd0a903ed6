"""Opens the store's SQLite file: whose it is, which schema it has, how connections behave."""

from __future__ import annotations

import sqlite3
import threading
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import SQLAlchemyError

from chargewright.errors import StoreError
from chargewright.jobs.tables import APPLICATION_ID, SCHEMA_HEAD

BUSY_TIMEOUT_MS = 15_000  # assumed: longer than any save takes, shorter than patience
_MAGIC = b"SQLite format 3\x00"
_migrating = threading.Lock()  # Alembic keeps its running migration in module globals


def open_database(path: Path) -> Engine:
    """Return an engine on the store at ``path``, created or migrated to the present schema.

    Raises StoreError when the file is no store of ours, is newer than this program, or cannot
    be opened for writing.
    """
    _refuse_other_files(path)
    engine = create_engine(f"sqlite+pysqlite:///{path}", connect_args={"timeout": 15})
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    try:
        with engine.begin() as connection:
            _bring_up_to_date(connection, path)
    except SQLAlchemyError as error:
        engine.dispose()
        raise store_error(path, error) from error
    except StoreError:
        engine.dispose()
        raise
    return engine


def store_error(path: Path, error: SQLAlchemyError) -> StoreError:
    """Return the database's complaint as one line that names the file."""
    cause = str(getattr(error, "orig", None) or error)
    if "unable to open" in cause or "readonly" in cause:
        cause += f"; may you write to it, and to its folder {path.parent}?"
    return StoreError(f"{path}: the job store cannot be read or written: {cause}")


def _refuse_other_files(path: Path) -> None:
    try:
        if path.is_dir():
            raise StoreError(f"{path} is a folder, expected the file of a job store")
        if path.exists():
            with path.open("rb") as file:
                start = file.read(len(_MAGIC))
            if start and start != _MAGIC:
                raise StoreError(f"{path} is no database: it starts with {start!r}")
        elif not path.parent.is_dir():
            raise StoreError(f"{path}: folder {path.parent} does not exist; create it first")
    except OSError as error:
        raise StoreError(f"{path}: cannot be opened: {error.strerror or error}") from error


def _set_up(connection: sqlite3.Connection, _record: object) -> None:
    # The driver's own transactions would begin at the first write, and two threads that read
    # before they write would lose updates: leave BEGIN to _begin.
    connection.isolation_level = None
    for pragma in (
        f"busy_timeout={BUSY_TIMEOUT_MS}",
        "journal_mode=WAL",
        "foreign_keys=ON",
        "synchronous=FULL",  # a save that was acknowledged survives a power cut
    ):
        connection.execute(f"PRAGMA {pragma}")


def _begin(connection: Connection) -> None:
    read_only = connection.get_execution_options().get("read_only", False)
    connection.exec_driver_sql("BEGIN" if read_only else "BEGIN IMMEDIATE")


def _bring_up_to_date(connection: Connection, path: Path) -> None:
    owner = connection.exec_driver_sql("PRAGMA application_id").scalar_one()
    tables = connection.execute(text("SELECT count(*) FROM sqlite_master")).scalar_one()
    if tables and owner != APPLICATION_ID:
        raise StoreError(f"{path} is the database of another program, expected a job store")
    if tables:
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        if found == SCHEMA_HEAD:
            return
        _refuse_newer(found, path)
    connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
    _migrate(connection)


def _refuse_newer(found: str | None, path: Path) -> None:
    if found is None or found > SCHEMA_HEAD:
        raise StoreError(
            f"{path} has schema {found}, this program knows up to {SCHEMA_HEAD}; "
            "open it with the newer program that wrote it"
        )


def _migrate(connection: Connection) -> None:
    # Imported here: opening a store that is up to date should not pay for it.
    from alembic import command
    from alembic.config import Config

    config = Config()
    folder = Path(__file__).with_name("migrations")
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    config.attributes["connection"] = connection
    with _migrating:
        command.upgrade(config, "head")
