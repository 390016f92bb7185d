"""plans are made in one call

Revision ID: 0022
Revises: 0021
Create Date: 2026-12-01 12:50:00.000000+00:00

"""
from typing import Sequence, Union

from alembic import op
import sqlalchemy as sa


# revision identifiers, used by Alembic.
revision: str = '0022'
down_revision: Union[str, Sequence[str], None] = '0021'
branch_labels: Union[str, Sequence[str], None] = None
depends_on: Union[str, Sequence[str], None] = None


def upgrade() -> None:
    """Drop what a worker needed; an allocation without a plan holds nothing that anybody could use."""
    op.execute("DELETE FROM allocation WHERE plan IS NULL")
    with op.batch_alter_table('allocation', schema=None) as batch_op:
        batch_op.drop_index('ix_allocation_one_running')
        batch_op.drop_constraint(op.f('ck_allocation_runs'), type_='check')
        batch_op.drop_constraint(op.f('ck_allocation_state_known'), type_='check')
        batch_op.alter_column('plan', existing_type=sa.JSON(), nullable=False)
        for name in ('state', 'started_at', 'finished_at', 'progress', 'problem', 'runner', 'beat_at', 'starts', 'region'):
            batch_op.drop_column(name)


def downgrade() -> None:
    """Say of every plan that it is done."""
    with op.batch_alter_table('allocation', schema=None) as batch_op:
        batch_op.add_column(sa.Column('state', sa.Text(), nullable=False, server_default='done'))
        batch_op.add_column(sa.Column('started_at', sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column('finished_at', sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column('progress', sa.Text(), nullable=False, server_default=''))
        batch_op.add_column(sa.Column('problem', sa.Text(), nullable=True))
        batch_op.add_column(sa.Column('runner', sa.Text(), nullable=True))
        batch_op.add_column(sa.Column('beat_at', sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column('starts', sa.Integer(), nullable=False, server_default='1'))
        batch_op.add_column(sa.Column('region', sa.JSON(none_as_null=True), nullable=True))
        batch_op.alter_column('plan', existing_type=sa.JSON(), nullable=True)
    with op.batch_alter_table('allocation', schema=None) as batch_op:
        for name in ('state', 'progress', 'starts'):
            batch_op.alter_column(name, server_default=None)
        batch_op.create_check_constraint(op.f('ck_allocation_runs'), "state <> 'running' OR (runner IS NOT NULL AND beat_at IS NOT NULL)")
        batch_op.create_check_constraint(op.f('ck_allocation_state_known'), "state IN ('waiting', 'running', 'done', 'failed')")
        batch_op.create_index('ix_allocation_one_running', ['state'], unique=True, sqlite_where=sa.text("state = 'running'"), postgresql_where=sa.text("state = 'running'"))
