"""Springs, pictures and changes."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the first tables."""
    moment = sa.DateTime(timezone=True)
    op.create_table(
        "spring",
        sa.Column("id", sa.String(32), primary_key=True),
        sa.Column("record", sa.JSON, nullable=False),
        sa.Column("name", sa.String(200), nullable=False, index=True),
        sa.Column("wire_mm", sa.Float, nullable=False),
        sa.Column("outside_mm", sa.Float, nullable=False),
        sa.Column("rate_newton_mm", sa.Float, nullable=False, index=True),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("created", moment, nullable=False),
        sa.Column("changed", moment, nullable=False),
        sa.Column("deleted", moment),
    )
    op.create_table(
        "picture",
        sa.Column("spring_id", sa.String(32), sa.ForeignKey("spring.id"), primary_key=True),
        sa.Column("photo", sa.LargeBinary),
        sa.Column("drawing", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "change",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column(
            "spring_id", sa.String(32), sa.ForeignKey("spring.id"), nullable=False, index=True
        ),
        sa.Column("at", moment, nullable=False),
        sa.Column("what", sa.String(20), nullable=False),
        sa.Column("before", sa.JSON),
    )


def downgrade() -> None:
    """Drop them."""
    for table in ("change", "picture", "spring"):
        op.drop_table(table)
