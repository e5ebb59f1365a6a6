"""Takes of a part: which part a take was of, and what it asked then.

Revision ID: 0007
Revises: 0006
"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the part of a take; none that is there was of one."""
    with op.batch_alter_table("takes") as takes:
        takes.add_column(sa.Column("part_id", sa.Integer(), nullable=True))
        takes.add_column(sa.Column("part_version", sa.Integer(), nullable=True))
        takes.add_column(sa.Column("part_asked", sa.JSON(none_as_null=True), nullable=True))
        takes.create_foreign_key(
            "fk_takes_part_id_parts", "parts", ["part_id"], ["id"], ondelete="SET NULL"
        )
        takes.create_index("ix_takes_part_id", ["part_id"])


def downgrade() -> None:
    """Steps only go forward."""
    raise NotImplementedError("a studio is not taken back to an older version")
