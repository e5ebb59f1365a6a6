"""The first tables: players, days, rounds, takes, readings, corrections."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "players",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("added_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_players")),
        sa.UniqueConstraint("name", name=op.f("uq_players_name")),
    )
    op.create_table(
        "days",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name=op.f("fk_days_player_id_players")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_days")),
        sa.UniqueConstraint("player_id", "date", name=op.f("uq_days_player_id")),
    )
    op.create_table(
        "rounds",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("day_id", sa.Integer(), nullable=False),
        sa.Column("order_in_day", sa.Integer(), nullable=False),
        sa.Column("hand", sa.String(length=12), nullable=False),
        sa.Column("technique", sa.String(length=60), nullable=True),
        sa.Column("surface", sa.String(length=60), nullable=True),
        sa.Column("loudness", sa.String(length=12), nullable=True),
        sa.Column("tempo_bpm", sa.Double(), nullable=False),
        sa.Column("places_per_count", sa.Integer(), nullable=False),
        sa.Column("round_s", sa.Double(), nullable=False),
        sa.Column("feel", sa.String(length=12), nullable=True),
        sa.Column("count_written", sa.Integer(), nullable=True),
        sa.Column("ended_written", sa.String(length=24), nullable=True),
        sa.Column("extra", sa.JSON(), nullable=False),
        sa.Column("filed_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("hand in ('left', 'right', 'alternating')", name=op.f("ck_rounds_hand")),
        sa.CheckConstraint("count_written >= 0", name=op.f("ck_rounds_count_written")),
        sa.CheckConstraint("places_per_count > 0", name=op.f("ck_rounds_places_per_count")),
        sa.CheckConstraint("round_s > 0", name=op.f("ck_rounds_round_s")),
        sa.CheckConstraint("tempo_bpm > 0", name=op.f("ck_rounds_tempo_bpm")),
        sa.ForeignKeyConstraint(["day_id"], ["days.id"], name=op.f("fk_rounds_day_id_days")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rounds")),
        sa.UniqueConstraint("day_id", "order_in_day", name=op.f("uq_rounds_day_id")),
    )
    op.create_table(
        "corrections",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("round_id", sa.Integer(), nullable=False),
        sa.Column("count_before", sa.Integer(), nullable=True),
        sa.Column("count_held", sa.Integer(), nullable=False),
        sa.Column("ended", sa.String(length=24), nullable=True),
        sa.Column("why", sa.String(length=400), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("count_held >= 0", name=op.f("ck_corrections_count_held")),
        sa.ForeignKeyConstraint(
            ["round_id"], ["rounds.id"], name=op.f("fk_corrections_round_id_rounds")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_corrections")),
    )
    op.create_index(op.f("ix_corrections_round_id"), "corrections", ["round_id"], unique=False)
    op.create_table(
        "takes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("round_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("content_sha256", sa.String(length=64), nullable=False),
        sa.Column("told", sa.JSON(), nullable=False),
        sa.Column("filed_at", sa.DateTime(), nullable=False),
        sa.Column("sound_deleted_at", sa.DateTime(), nullable=True),
        sa.CheckConstraint("kind in ('sound', 'midi')", name=op.f("ck_takes_kind")),
        sa.ForeignKeyConstraint(["round_id"], ["rounds.id"], name=op.f("fk_takes_round_id_rounds")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_takes")),
        sa.UniqueConstraint("round_id", name=op.f("uq_takes_round_id")),
    )
    op.create_index(op.f("ix_takes_content_sha256"), "takes", ["content_sha256"], unique=False)
    op.create_table(
        "readings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("take_id", sa.Integer(), nullable=False),
        sa.Column("judge_version", sa.String(length=40), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=False),
        sa.Column("count_held", sa.Integer(), nullable=True),
        sa.Column("ended", sa.String(length=24), nullable=False),
        sa.Column("confidence", sa.Double(), nullable=True),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["take_id"], ["takes.id"], name=op.f("fk_readings_take_id_takes")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_readings")),
    )
    op.create_index(op.f("ix_readings_take_id"), "readings", ["take_id"], unique=False)
