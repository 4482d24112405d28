"""The collector's database: PostgreSQL for many boxes, SQLite for a few. Alembic brings it to its newest shape."""

from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    Column,
    Date,
    Engine,
    Index,
    MetaData,
    String,
    Table,
    create_engine,
    event,
)

METADATA = MetaData()

BOXES = Table(
    "boxes",
    METADATA,
    Column("box_id", String(32), primary_key=True),
    Column("online", Boolean, nullable=False),
    Column("boot", String(16), nullable=False),
    Column("state", JSON),
    Column("heard_utc", String(27), nullable=False),
)

DELIVERIES = Table(
    "deliveries",
    METADATA,
    Column("box_id", String(32), primary_key=True),
    Column("epoch", String(16), primary_key=True),
    Column("seq", BigInteger, nullable=False),
    Column("mark", String(16), nullable=False),
    Column("begun_utc", String(27), nullable=False),
    Column("last_utc", String(27), nullable=False),
)
"""How far each box is, epoch by epoch: all up to `seq` is here."""

RECORDS = Table(
    "records",
    METADATA,
    Column("box_id", String(32), primary_key=True),
    Column("epoch", String(16), primary_key=True),
    Column("seq", BigInteger, primary_key=True),
    Column("month", Date, primary_key=True),
    Column("record", String(16), nullable=False),
    Column("mark", String(16), nullable=False),
    Column("kind", String(16), nullable=False),
    Column("at_utc", String(27)),
    Column("received_utc", String(27), nullable=False),
    Column("body", JSON),
    Index("records_by_mark", "box_id", "mark", "month", unique=True),
)
"""Every change as it came, in monthly partitions where the database has them. Nothing here is ever changed."""

CURRENT = Table(
    "current_records",
    METADATA,
    Column("box_id", String(32), primary_key=True),
    Column("record", String(16), primary_key=True),
    Column("kind", String(16), nullable=False),
    Column("at_utc", String(27)),
    Column("body", JSON),
    Index("current_records_by_kind", "kind", "at_utc"),
)
"""Each record as it stands by its newest change; one that was taken back has no body."""


def opened(url: str) -> Engine:
    """Connect, and bring the tables to their newest shape, which the collector alone does. Raises SQLAlchemyError."""
    engine = connected(url)
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    with engine.begin() as link:
        config.attributes["connection"] = link
        command.upgrade(config, "head")
    return engine


def connected(url: str) -> Engine:
    """Connect to a database whose tables stand. `postgresql://` means psycopg 3, whatever a library's default is."""
    if url.startswith("postgresql://"):
        url = "postgresql+psycopg://" + url.removeprefix("postgresql://")
    engine = create_engine(url, pool_pre_ping=True)
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _as_durable_as_the_logbook)
    return engine


def _as_durable_as_the_logbook(link: Any, _record: object) -> None:
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "busy_timeout = 5000"):
        link.execute(f"PRAGMA {pragma}")
