"""The correction of a lead value: offered with its interval, refused with words, never applied."""

import pytest

from service.market.goods.lab_reports import Figures, standing_figures
from service.market.storage.lead_values import lead_correction
from tests.factories import LabReportFactory

LEAD = {"alpha_beta": "ebc_7_5", "hop_storage_index": "asbc_hops_12"}


def figures(**told: object) -> Figures:
    return standing_figures([LabReportFactory(code="R1", **{"methods": LEAD, **told})])


def test_a_lead_value_of_ebc_7_5_is_offered_a_lower_alpha_with_its_interval() -> None:
    given = figures(alpha_percent=9.0, hop_storage_index=0.30)
    offer = lead_correction(given, form="pellet")

    assert offer is not None
    assert offer.alpha_percent is not None
    # 12.5 % over HPLC in fresh hops, the middle of 10 to 15 % (Kvasny Prumysl 63 (2017) 241-247).
    assert offer.alpha_percent.estimate == pytest.approx(8.0)
    assert offer.alpha_percent.low < 8.0 < offer.alpha_percent.high < 9.0
    assert "This is an offer" in offer.words
    assert given.alpha_percent is not None
    assert given.alpha_percent.value == 9.0


@pytest.mark.parametrize("method", ["ebc_7_4", "ebc_7_7", "asbc_hops_6", "asbc_hops_14"])
def test_no_other_method_is_offered_any(method: str) -> None:
    assert lead_correction(figures(methods={**LEAD, "alpha_beta": method}), form="pellet") is None
    assert lead_correction(figures(alpha_percent=None), form="pellet") is None


@pytest.mark.parametrize(("index", "why"), [(None, "was not measured"), (0.9, "0.2 to 0.7")])
def test_without_an_index_that_was_compared_it_is_refused_in_words(index: float | None, why: str) -> None:
    offer = lead_correction(figures(hop_storage_index=index), form="pellet")

    assert offer is not None
    assert offer.alpha_percent is None
    assert why in offer.words


def test_the_index_of_another_sample_does_not_serve() -> None:
    both = standing_figures(
        [
            LabReportFactory(code="R1", methods=LEAD, hop_storage_index=None),
            LabReportFactory(code="R2", methods=LEAD, alpha_percent=None, beta_percent=None),
        ]
    )
    offer = lead_correction(both, form="pellet")

    assert offer is not None
    assert offer.alpha_percent is None
