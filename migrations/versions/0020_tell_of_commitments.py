"""tell of commitments

Revision ID: 0020
Revises: 0019
Create Date: 2026-11-26 16:30:00.000000+00:00

"""
from typing import Sequence, Union

from alembic import op
import sqlalchemy as sa


# revision identifiers, used by Alembic.
revision: str = '0020'
down_revision: Union[str, Sequence[str], None] = '0019'
branch_labels: Union[str, Sequence[str], None] = None
depends_on: Union[str, Sequence[str], None] = None


def upgrade() -> None:
    """Upgrade schema."""
    with op.batch_alter_table('outbox', schema=None) as batch_op:
        batch_op.add_column(sa.Column('reservation_code', sa.Text(), nullable=True))
        batch_op.add_column(sa.Column('by_side', sa.Text(), nullable=True))


def downgrade() -> None:
    """Downgrade schema."""
    with op.batch_alter_table('outbox', schema=None) as batch_op:
        batch_op.drop_column('by_side')
        batch_op.drop_column('reservation_code')
