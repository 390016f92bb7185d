"""wish for an oil profile

Revision ID: 0019
Revises: 0018
Create Date: 2026-11-26 15:40:00.000000+00:00

"""
from typing import Sequence, Union

from alembic import op
import sqlalchemy as sa


# revision identifiers, used by Alembic.
revision: str = '0019'
down_revision: Union[str, Sequence[str], None] = '0018'
branch_labels: Union[str, Sequence[str], None] = None
depends_on: Union[str, Sequence[str], None] = None


def upgrade() -> None:
    """Upgrade schema."""
    with op.batch_alter_table('request', schema=None) as batch_op:
        batch_op.add_column(sa.Column('oil_like_cultivar', sa.Text(), nullable=True))
        batch_op.add_column(sa.Column('oil_like_lot_code', sa.Text(), nullable=True))


def downgrade() -> None:
    """Downgrade schema."""
    with op.batch_alter_table('request', schema=None) as batch_op:
        batch_op.drop_column('oil_like_lot_code')
        batch_op.drop_column('oil_like_cultivar')
