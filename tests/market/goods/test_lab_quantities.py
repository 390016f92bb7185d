"""The rows of laboratory quantities, and what must follow them."""

from service.facts import field_names
from service.market.goods.lab_quantities import LAB_NAMES, LAB_QUANTITIES
from service.market.goods.lab_reports import Figures, LabReport
from service.reference.methods import GROUPS


def test_a_report_and_the_standing_figures_have_a_field_for_each_quantity() -> None:
    assert [name for name in field_names(LabReport) if name in LAB_NAMES] == list(LAB_NAMES)
    assert [name for name in field_names(Figures) if name in LAB_NAMES] == list(LAB_NAMES)


def test_each_quantity_belongs_to_a_group_of_methods() -> None:
    assert {quantity.group for quantity in LAB_QUANTITIES} <= set(GROUPS)
