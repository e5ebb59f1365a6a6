"""What a fit needs to be gone on from after a round.

Revision ID: 0005
Revises: 0004
"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the mark of the rounds and how many were added; fits begin empty, and are made again."""
    op.execute("DELETE FROM reach_fits")
    with op.batch_alter_table("reach_fits") as fits:
        fits.add_column(sa.Column("rounds_mark", sa.String(64), nullable=False))
        fits.add_column(sa.Column("rounds_added", sa.Integer(), nullable=False))


def downgrade() -> None:
    """Steps only go forward."""
    raise NotImplementedError("a studio is not taken back to an older version")
