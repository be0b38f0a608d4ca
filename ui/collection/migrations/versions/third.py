"""Torsion springs have no rate in newton a millimetre."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Let a spring have none."""
    with op.batch_alter_table("spring") as table:
        table.alter_column("rate_newton_mm", existing_type=sa.Float(), nullable=True)


def downgrade() -> None:
    """Drop the springs without one: the former program cannot read them."""
    gone = "SELECT id FROM spring WHERE rate_newton_mm IS NULL"
    for name in ("picture", "change"):
        op.execute(sa.text(f"DELETE FROM {name} WHERE spring_id IN ({gone})"))
    op.execute(sa.text("DELETE FROM spring WHERE rate_newton_mm IS NULL"))
    with op.batch_alter_table("spring") as table:
        table.alter_column("rate_newton_mm", existing_type=sa.Float(), nullable=False)
