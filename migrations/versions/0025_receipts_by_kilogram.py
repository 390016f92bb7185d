"""receipts by kilogram accepted and refused

Revision ID: 0025
Revises: 0024
Create Date: 2026-12-01 14:10:00.000000+00:00

"""
from typing import Sequence, Union

from alembic import op
import sqlalchemy as sa


# revision identifiers, used by Alembic.
revision: str = '0025'
down_revision: Union[str, Sequence[str], None] = '0024'
branch_labels: Union[str, Sequence[str], None] = None
depends_on: Union[str, Sequence[str], None] = None

KILOGRAMS = sa.Numeric(12, 3).with_variant(sa.BigInteger(), 'sqlite')


def upgrade() -> None:
    """Upgrade schema. A receipt was of all that arrived: it was accepted, or it was refused."""
    with op.batch_alter_table('receipt', schema=None) as batch_op:
        batch_op.add_column(sa.Column('accepted_kg', KILOGRAMS, server_default='0', nullable=False))
        batch_op.add_column(sa.Column('refused_kg', KILOGRAMS, server_default='0', nullable=False))
    op.execute("UPDATE receipt SET refused_kg = net_kg WHERE verdict = 'refused'")
    op.execute("UPDATE receipt SET accepted_kg = net_kg WHERE verdict <> 'refused'")
    with op.batch_alter_table('receipt', schema=None) as batch_op:
        batch_op.drop_constraint(op.f('ck_receipt_verdict_known'), type_='check')
        batch_op.drop_constraint(op.f('ck_receipt_weighs_something'), type_='check')
        batch_op.drop_column('verdict')
        batch_op.drop_column('net_kg')
        batch_op.alter_column('accepted_kg', server_default=None)
        batch_op.alter_column('refused_kg', server_default=None)
        batch_op.create_check_constraint(
            op.f('ck_receipt_weighs_something'),
            'accepted_kg >= 0 AND refused_kg >= 0 AND accepted_kg + refused_kg > 0',
        )


def downgrade() -> None:
    """Downgrade schema. Of a receipt that accepted a part the refused kilograms are lost."""
    with op.batch_alter_table('receipt', schema=None) as batch_op:
        batch_op.add_column(sa.Column('net_kg', KILOGRAMS, server_default='0', nullable=False))
        batch_op.add_column(sa.Column('verdict', sa.Text(), server_default='accepted', nullable=False))
    op.execute("UPDATE receipt SET net_kg = accepted_kg + refused_kg")
    op.execute("UPDATE receipt SET verdict = 'accepted_at_agreed_price' WHERE agreed_price_per_kg IS NOT NULL")
    op.execute("UPDATE receipt SET verdict = 'refused' WHERE accepted_kg = 0")
    with op.batch_alter_table('receipt', schema=None) as batch_op:
        batch_op.drop_constraint(op.f('ck_receipt_weighs_something'), type_='check')
        batch_op.drop_column('accepted_kg')
        batch_op.drop_column('refused_kg')
        batch_op.alter_column('net_kg', server_default=None)
        batch_op.alter_column('verdict', server_default=None)
        batch_op.create_check_constraint(op.f('ck_receipt_weighs_something'), 'net_kg > 0')
        batch_op.create_check_constraint(
            op.f('ck_receipt_verdict_known'), "verdict IN ('accepted', 'accepted_at_agreed_price', 'refused')"
        )
