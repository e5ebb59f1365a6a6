"""What a round was for: one of training, a test, a warm-up.

Revision ID: 0004
Revises: 0003
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the purpose; nothing that is there was a test, warm-ups are known."""
    with op.batch_alter_table("rounds") as rounds:
        rounds.add_column(
            sa.Column("purpose", sa.String(12), nullable=False, server_default="round")
        )
        rounds.create_check_constraint(
            "ck_rounds_purpose", "purpose in ('round', 'test', 'warm-up')"
        )
    op.execute("UPDATE rounds SET purpose = 'warm-up' WHERE standing = 'warm-up'")


def downgrade() -> None:
    """Steps only go forward."""
    raise NotImplementedError("a studio is not taken back to an older version")
