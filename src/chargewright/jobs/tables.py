"""The store's tables. A change here needs a numbered migration beside it."""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
)

SCHEMA_HEAD = "0003"  # the newest migration; a test keeps it true
APPLICATION_ID = 0x43575254  # "CWRT" in the database header: how the program knows its own files

# Names for all constraints, so that later migrations can reach them.
metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
    }
)

machines = Table(
    "machines",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("key", String, nullable=False, unique=True),  # the label without case and spare blanks
    Column("label", String, nullable=False),
)

# The card itself is the truth; every other column is read out of it for searching.
jobs = Table(
    "jobs",
    metadata,
    Column("id", String, primary_key=True),
    Column("machine_id", Integer, ForeignKey("machines.id")),
    Column("title", String, nullable=False),
    Column("class_id", String, nullable=False),
    Column("confirmed_cause", String),
    Column("created", String, nullable=False),  # UTC, ISO 8601
    Column("updated", String, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("card_version", Integer, nullable=False),
    Column("card", Text, nullable=False),
    Column("decision", String),  # what was advised, in words
    Column("reading_count", Integer, nullable=False, server_default="0"),
    CheckConstraint("revision >= 1", name="revision"),
    Index(None, "machine_id"),
    Index(None, "updated"),
)

readings = Table(
    "readings",
    metadata,
    Column("job_id", String, ForeignKey("jobs.id", ondelete="CASCADE"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("reading_id", String, nullable=False),
    Column("check_id", String),
    Column("function", String, nullable=False),
    Column("plus", String),
    Column("minus", String),
    Column("state_hash", String, nullable=False),
    Column("qualifier", String),
    Column("value", Float),
    Column("value_max", Float),
    Column("unit", String),
    Column("sign", Boolean),
    Column("at", String),
    Column("stage", String, nullable=False),
    Column("excluded", Boolean, nullable=False),
    Index(None, "check_id"),
)

# What other workshops' closed jobs teach. The store's own are read from its cards.
lessons = Table(
    "lessons",
    metadata,
    Column("job", String, primary_key=True),  # a hash: nothing about customer or machine
    Column("class_id", String, nullable=False),
    Column("causes", String, nullable=False),  # ids joined by a plus
    Column("by", String, nullable=False),
)

taken_out = Table(
    "taken_out",
    metadata,
    Column("job", String, primary_key=True),  # hash of a job that shall not teach
)

# What happened to which job, in order: what another screen missed, and what was taken back.
changes = Table(
    "changes",
    metadata,
    Column("seq", Integer, primary_key=True),
    Column("job_id", String, nullable=False),  # stays when the job is removed
    Column("revision", Integer, nullable=False),
    Column("kind", String, nullable=False),
    Column("what", String, nullable=False),
    Column("at", String, nullable=False),
    Index(None, "job_id"),
    sqlite_autoincrement=True,  # a number is never given twice
)

# Pictures lie in the store itself: one file to back up, and no name ever becomes a path.
photos = Table(
    "photos",
    metadata,
    Column("job_id", String, ForeignKey("jobs.id", ondelete="CASCADE"), primary_key=True),
    Column("id", String, primary_key=True),
    Column("mime", String, nullable=False),
    Column("size", Integer, nullable=False),
    Column("digest", String, nullable=False),
    Column("reading_id", String),
    Column("note", String, nullable=False),
    Column("at", String, nullable=False),
    Column("data", LargeBinary, nullable=False),
)

# What a workshop has made its own: meters, spec sheets, lists of loads, prices. JSON.
papers = Table(
    "papers",
    metadata,
    Column("kind", String, primary_key=True),
    Column("name", String, primary_key=True),
    Column("revision", Integer, nullable=False),
    Column("updated", String, nullable=False),
    Column("body", Text, nullable=False),
)
