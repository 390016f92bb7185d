"""breweries keep measured brews one at a time

Revision ID: 0023
Revises: 0022
Create Date: 2026-12-01 13:00:00.000000+00:00

"""
import json
from typing import Any, Iterator, Sequence, Union

from alembic import op
import sqlalchemy as sa


# revision identifiers, used by Alembic.
revision: str = '0023'
down_revision: Union[str, Sequence[str], None] = '0022'
branch_labels: Union[str, Sequence[str], None] = None
depends_on: Union[str, Sequence[str], None] = None


def upgrade() -> None:
    """Upgrade schema."""
    op.create_table('measured_brew',
    sa.Column('id', sa.BigInteger().with_variant(sa.Integer(), 'sqlite'), nullable=False),
    sa.Column('brewery_id', sa.BigInteger().with_variant(sa.Integer(), 'sqlite'), nullable=False),
    sa.Column('code', sa.Text(), nullable=False),
    sa.Column('brewed_on', sa.Date(), nullable=False),
    sa.Column('measured_bu', sa.Double(), nullable=False),
    sa.Column('told', sa.JSON(), nullable=False),
    sa.Column('hops', sa.JSON(), nullable=False),
    sa.Column('note', sa.Text(), nullable=True),
    sa.Column('filed_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('filed_by', sa.Text(), nullable=False),
    sa.CheckConstraint('measured_bu > 0', name=op.f('ck_measured_brew_measured_bu_positive')),
    sa.ForeignKeyConstraint(['brewery_id'], ['party.id'], name=op.f('fk_measured_brew_brewery_id_party'), ondelete='RESTRICT'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_measured_brew')),
    sa.UniqueConstraint('brewery_id', 'code', name=op.f('uq_measured_brew_brewery_id_code'))
    )
    _move_brews()
    op.drop_table('utilization_fit')


def _move_brews() -> None:
    """Move each brew of a fit once. A brew that names lots must be filed again: its alpha was not kept."""
    connection = op.get_bind()
    rows = connection.execute(sa.text(
        'SELECT f.brewery_id, f.brews, f.note, f.made_at, f.made_by, p.code FROM utilization_fit f '
        'JOIN party p ON p.id = f.brewery_id ORDER BY f.id'
    )).all()
    seen: set[tuple[int, str]] = set()
    for brewery_id, brews, note, made_at, made_by, code in rows:
        for brew in json.loads(brews) if isinstance(brews, str) else brews:
            if (brewery_id, json.dumps(brew['told'], sort_keys=True)) in seen or not all(_hops(brew)):
                continue
            seen.add((brewery_id, json.dumps(brew['told'], sort_keys=True)))
            connection.execute(
                sa.text('UPDATE party SET things_made = things_made + 1 WHERE id = :id'), {'id': brewery_id}
            )
            number = connection.scalar(
                sa.text('SELECT things_made FROM party WHERE id = :id'), {'id': brewery_id}
            )
            connection.execute(
                sa.text(
                    'INSERT INTO measured_brew (brewery_id, code, brewed_on, measured_bu, told, hops, note, '
                    'filed_at, filed_by) VALUES (:brewery_id, :code, :brewed_on, :measured_bu, :told, :hops, '
                    ':note, :filed_at, :filed_by)'
                ).bindparams(sa.bindparam('told', type_=sa.JSON()), sa.bindparam('hops', type_=sa.JSON())),
                {
                    'brewery_id': brewery_id,
                    'code': f'{code}-BREW-{number:02d}',
                    'brewed_on': brew['brewed_on'],
                    'measured_bu': brew['measured_bu'],
                    'told': brew['told'],
                    'hops': list(_hops(brew)),
                    'note': note,
                    'filed_at': made_at,
                    'filed_by': made_by,
                },
            )


def _hops(brew: dict[str, Any]) -> Iterator[dict[str, Any] | None]:
    for addition in brew['told']['additions']:
        alpha = addition.get('alpha_percent')
        known = {'form': addition.get('form'), 'estimated': alpha, 'as_analysed': alpha}
        yield None if alpha is None else known


def downgrade() -> None:
    """Downgrade schema."""
    op.create_table('utilization_fit',
    sa.Column('id', sa.BigInteger().with_variant(sa.Integer(), 'sqlite'), nullable=False),
    sa.Column('brewery_id', sa.BigInteger().with_variant(sa.Integer(), 'sqlite'), nullable=False),
    sa.Column('code', sa.Text(), nullable=False),
    sa.Column('base_model', sa.Text(), nullable=False),
    sa.Column('alpha_basis', sa.Text(), nullable=False),
    sa.Column('factor', sa.Double(), nullable=False),
    sa.Column('whirlpool_factor', sa.Double(), nullable=False),
    sa.Column('has_own_whirlpool_factor', sa.Boolean(), nullable=False),
    sa.Column('left_out_error_fraction', sa.Double(), nullable=False),
    sa.Column('brews', sa.JSON(), nullable=False),
    sa.Column('note', sa.Text(), nullable=True),
    sa.Column('made_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('made_by', sa.Text(), nullable=False),
    sa.CheckConstraint("alpha_basis IN ('estimated', 'as_analysed')", name=op.f('ck_utilization_fit_alpha_basis_known')),
    sa.CheckConstraint("base_model IN ('tinseth', 'kinetic')", name=op.f('ck_utilization_fit_base_model_known')),
    sa.CheckConstraint('factor > 0 AND whirlpool_factor > 0', name=op.f('ck_utilization_fit_factors_positive')),
    sa.ForeignKeyConstraint(['brewery_id'], ['party.id'], name=op.f('fk_utilization_fit_brewery_id_party'), ondelete='RESTRICT'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_utilization_fit')),
    sa.UniqueConstraint('brewery_id', 'code', name=op.f('uq_utilization_fit_brewery_id_code'))
    )
    op.drop_table('measured_brew')
