"""Fits of hands and scored forecasts, kept so that they are made once.

Revision ID: 0003
Revises: 0002
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables of what can be made again from the rounds; they begin empty."""
    op.create_table(
        "reach_fits",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        *_kind(),
        sa.Column("as_of", sa.Date(), nullable=False),
        sa.Column("fingerprint", sa.String(64), nullable=False),
        sa.Column("stamp", sa.String(64), nullable=False),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("fit", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["player_id"],
            ["players.id"],
            name=op.f("fk_reach_fits_player_id_players"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reach_fits")),
    )
    op.create_index(op.f("ix_reach_fits_player_id"), "reach_fits", ["player_id"])
    op.create_table(
        "reach_forecasts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        *_kind(),
        sa.Column("origin", sa.Date(), nullable=False),
        sa.Column("fingerprint", sa.String(64), nullable=False),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("rounds", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["player_id"],
            ["players.id"],
            name=op.f("fk_reach_forecasts_player_id_players"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reach_forecasts")),
    )
    op.create_index(op.f("ix_reach_forecasts_player_id"), "reach_forecasts", ["player_id"])


def downgrade() -> None:
    """Steps only go forward."""
    raise NotImplementedError("a studio is not taken back to an older version")


def _kind() -> tuple[sa.Column[object], ...]:
    """Columns that say whose hand, and how it plays."""
    return (
        sa.Column("hand", sa.String(12), nullable=False),
        sa.Column("technique", sa.String(60), nullable=True),
        sa.Column("surface", sa.String(60), nullable=True),
        sa.Column("loudness", sa.String(12), nullable=True),
        sa.Column("places_per_count", sa.Integer(), nullable=False),
    )
