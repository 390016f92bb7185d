"""certifications, origins and keeping wished for

Revision ID: 0021
Revises: 0020
Create Date: 2026-11-26 16:12:00.000000+00:00

"""
from typing import Sequence, Union

from alembic import op
import sqlalchemy as sa


# revision identifiers, used by Alembic.
revision: str = '0021'
down_revision: Union[str, Sequence[str], None] = '0020'
branch_labels: Union[str, Sequence[str], None] = None
depends_on: Union[str, Sequence[str], None] = None


def upgrade() -> None:
    """Upgrade schema."""
    with op.batch_alter_table('request', schema=None) as batch_op:
        batch_op.add_column(sa.Column('certifications', sa.JSON(), server_default=sa.text("'[]'"), nullable=False))
        batch_op.add_column(sa.Column('origins', sa.JSON(), server_default=sa.text("'[]'"), nullable=False))
        batch_op.add_column(sa.Column('kept_from', sa.Date(), nullable=True))
        batch_op.add_column(sa.Column('kept_at_c', sa.Double(), nullable=True))
        batch_op.add_column(sa.Column('kept_packing', sa.Text(), nullable=True))
    # Requests of before wish for none of it.
    with op.batch_alter_table('request', schema=None) as batch_op:
        batch_op.alter_column('certifications', server_default=None)
        batch_op.alter_column('origins', server_default=None)
    with op.batch_alter_table('lot', schema=None) as batch_op:
        batch_op.add_column(sa.Column('search_base_rate_per_day', sa.Double(), nullable=True))
        batch_op.add_column(sa.Column('search_learnt_rate_per_day', sa.Double(), nullable=True))
        batch_op.add_column(sa.Column('search_learnt_packings', sa.Text(), nullable=True))


def downgrade() -> None:
    """Downgrade schema."""
    with op.batch_alter_table('lot', schema=None) as batch_op:
        batch_op.drop_column('search_learnt_packings')
        batch_op.drop_column('search_learnt_rate_per_day')
        batch_op.drop_column('search_base_rate_per_day')
    with op.batch_alter_table('request', schema=None) as batch_op:
        batch_op.drop_column('kept_packing')
        batch_op.drop_column('kept_at_c')
        batch_op.drop_column('kept_from')
        batch_op.drop_column('origins')
        batch_op.drop_column('certifications')
