"""Rounds of the stand: whether they count, their key; workouts.

Revision ID: 0002
Revises: 0001
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add what the stand needs; rounds that are there count."""
    with op.batch_alter_table("rounds") as rounds:
        rounds.add_column(
            sa.Column("standing", sa.String(12), nullable=False, server_default="counts")
        )
        rounds.add_column(sa.Column("why_void", sa.String(200), nullable=True))
        rounds.add_column(sa.Column("live_key", sa.String(40), nullable=True))
        rounds.create_unique_constraint("uq_rounds_live_key", ["live_key"])
        rounds.create_check_constraint(
            "ck_rounds_standing", "standing in ('counts', 'warm-up', 'void')"
        )
    op.create_table(
        "workouts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(40), nullable=False),
        sa.Column("plan", sa.JSON(), nullable=False),
        sa.Column("progress", sa.JSON(), nullable=False),
        sa.Column("began_at", sa.DateTime(), nullable=False),
        sa.Column("ended_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name="fk_workouts_player_id_players"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_workouts"),
        sa.UniqueConstraint("key", name="uq_workouts_key"),
    )


def downgrade() -> None:
    """Steps only go forward."""
    raise NotImplementedError("a studio is not taken back to an older version")
