"""Parts: what must be played, as text.

Revision ID: 0006
Revises: 0005
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table of parts; there are none yet."""
    op.create_table(
        "parts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=True),
        sa.Column("title", sa.String(200), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("added_at", sa.DateTime(), nullable=False),
        sa.Column("changed_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("version > 0", name="ck_parts_version"),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name="fk_parts_player_id_players"),
        sa.PrimaryKeyConstraint("id", name="pk_parts"),
    )
    op.create_index("ix_parts_player_id", "parts", ["player_id"])


def downgrade() -> None:
    """Steps only go forward."""
    raise NotImplementedError("a studio is not taken back to an older version")
