"""The first tables. A migration that was shipped is never edited."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Boxes, deliveries, records and what each record says now."""
    parted = op.get_bind().dialect.name == "postgresql"
    op.create_table(
        "boxes",
        sa.Column("box_id", sa.String(32), primary_key=True),
        sa.Column("online", sa.Boolean, nullable=False),
        sa.Column("boot", sa.String(16), nullable=False),
        sa.Column("state", sa.JSON),
        sa.Column("heard_utc", sa.String(27), nullable=False),
    )
    op.create_table(
        "deliveries",
        sa.Column("box_id", sa.String(32), primary_key=True),
        sa.Column("epoch", sa.String(16), primary_key=True),
        sa.Column("seq", sa.BigInteger, nullable=False),
        sa.Column("mark", sa.String(16), nullable=False),
        sa.Column("begun_utc", sa.String(27), nullable=False),
        sa.Column("last_utc", sa.String(27), nullable=False),
    )
    op.create_table(
        "records",
        sa.Column("box_id", sa.String(32), primary_key=True),
        sa.Column("epoch", sa.String(16), primary_key=True),
        sa.Column("seq", sa.BigInteger, primary_key=True),
        sa.Column("month", sa.Date, primary_key=True),
        sa.Column("record", sa.String(16), nullable=False),
        sa.Column("mark", sa.String(16), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("at_utc", sa.String(27)),
        sa.Column("received_utc", sa.String(27), nullable=False),
        sa.Column("body", sa.JSON),
        postgresql_partition_by="RANGE (month)",  # others pass over it
    )
    op.create_index("records_by_mark", "records", ["box_id", "mark", "month"], unique=True)
    if parted:
        op.execute("CREATE TABLE records_other PARTITION OF records DEFAULT")
    op.create_table(
        "current_records",
        sa.Column("box_id", sa.String(32), primary_key=True),
        sa.Column("record", sa.String(16), primary_key=True),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("at_utc", sa.String(27)),
        sa.Column("body", sa.JSON),
    )
    op.create_index("current_records_by_kind", "current_records", ["kind", "at_utc"])
