"""What stands beside a lot: by default nothing is claimed."""

from service.market.processing.lot_statements import NOTHING_STATED
from service.market.sheet.lot_view import view_lot
from tests.factories import TODAY, LotFactory, PartyFactory


def test_of_a_lot_of_which_nothing_was_told_nothing_is_claimed() -> None:
    view = view_lot(LotFactory(), grower=PartyFactory(), statuses=[], stated=NOTHING_STATED, today=TODAY)

    assert view.spray_record.kept is False
    assert view.planting.licence is None
    assert (view.physical_quality.seed_percent, view.physical_quality.cone_sort) == (None, None)
