"""How much of each lot a request takes."""

from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest

from service.market.brewing.bitterness_targets import BitternessTarget
from service.market.goods.lots import Package
from service.market.matching.candidates import Candidate, LotColumns, columns_of
from service.market.matching.needs import exact_kg, needs_of
from service.market.matching.requests import Delivery, Request
from service.market.matching.search import SearchFigures
from tests.factories import TODAY

SOON, LATER = date(2026, 12, 1), date(2027, 2, 1)
ALPHA_10 = SearchFigures(day=TODAY.toordinal(), log_alpha=float(np.log(10.0)), rate_per_day=0.0)


def lots(*told: dict[str, object]) -> LotColumns:
    plain = {
        "code": "ALDER-2026-01",
        "grower_code": "ALDER",
        "cultivar": "Nugget",
        "cultivar_key": "NUGGET",
        "role": "bittering",
        "form": "pellet",
        "free_kg": Decimal(100),
        "distance_km": 10.0,
        "figures": ALPHA_10,
    }
    return columns_of([Candidate(**{**plain, **one}) for one in told])


def a_request(*deliveries: Delivery, **told: object) -> Request:
    return Request(role="bittering", deliveries=deliveries, **told)


def test_masses_of_all_deliveries_add_up_and_the_parcel_is_what_is_free() -> None:
    request = a_request(
        Delivery(needed_on=SOON, mass_kg=Decimal("30.5")), Delivery(needed_on=LATER, mass_kg=Decimal(40))
    )

    needs = needs_of(request, lots({}, {"free_kg": Decimal(50)}), today=TODAY)

    assert needs.needed_kg.tolist() == [70.5, 70.5]
    assert needs.parcel_kg.tolist() == [70.5, 50.0]
    assert (needs.first_on, needs.last_on, needs.must_give_all) == (SOON, LATER, False)


def test_alpha_is_turned_into_the_mass_of_this_lot_on_the_day() -> None:
    losing = SearchFigures(day=TODAY.toordinal(), log_alpha=float(np.log(10.0)), rate_per_day=0.01)
    request = a_request(Delivery(needed_on=TODAY + timedelta(days=50), alpha_kg=Decimal(3)))

    needs = needs_of(request, lots({}, {"figures": losing}, {"figures": SearchFigures()}), today=TODAY)

    assert needs.needed_kg[:2] == pytest.approx([30.0, 30.0 * np.exp(0.5)], abs=0.001)
    assert needs.is_known.tolist() == [True, True, False]


def test_a_bitterness_is_turned_into_alpha_first() -> None:
    target = BitternessTarget(ibu=35.0, volume_l=20000.0, gravity_sg=1.056)

    needs = needs_of(a_request(Delivery(needed_on=LATER, bitterness=target)), lots({}), today=TODAY)

    assert needs.needed_kg[0] == pytest.approx(10 * target.alpha_kg, abs=0.001)


def test_next_to_no_alpha_keeps_the_need_a_number() -> None:
    none_left = SearchFigures(day=TODAY.toordinal(), log_alpha=-900.0, rate_per_day=0.0)

    needs = needs_of(
        a_request(Delivery(needed_on=LATER, alpha_kg=Decimal(1))), lots({"figures": none_left}), today=TODAY
    )

    assert needs.needed_kg.tolist() == [1e9]


def test_deliveries_that_have_passed_are_needed_no_more() -> None:
    passed = Delivery(needed_on=TODAY - timedelta(days=1), mass_kg=Decimal(10))
    request = a_request(passed, Delivery(needed_on=LATER, mass_kg=Decimal(40)))

    assert needs_of(request, lots({}), today=TODAY).needed_kg.tolist() == [40.0]
    lapsed = needs_of(a_request(passed), lots({}), today=TODAY)
    assert (lapsed.needed_kg.tolist(), lapsed.first_on) == ([10.0], TODAY)


def test_whole_packages_give_the_most_that_is_not_over_the_need() -> None:
    boxes = (Package(kind="box", count=6, net_kg=Decimal(20)),)
    sold = {"packages": boxes, "sold_in": "whole_packages"}
    request = a_request(Delivery(needed_on=LATER, mass_kg=Decimal(50)))

    needs = needs_of(request, lots(sold, {"packages": boxes}), today=TODAY)

    assert needs.parcel_kg.tolist() == [40.0, 50.0]
    assert needs.packed.tolist() == [0]


def test_the_whole_rest_is_taken_though_a_sample_was_drawn_of_its_last_box() -> None:
    sold = {"packages": (Package(kind="box", count=3, net_kg=Decimal(20)),), "sold_in": "whole_packages"}
    request = a_request(Delivery(needed_on=LATER, mass_kg=Decimal(59)))

    needs = needs_of(
        request, lots({**sold, "free_kg": Decimal(59)}, {**sold, "free_kg": Decimal(60)}), today=TODAY
    )

    assert needs.parcel_kg.tolist() == [59.0, 40.0]
    assert needs.packed.tolist() == [1]


def test_exact_kg_never_rounds_up() -> None:
    assert exact_kg(0.1 + 0.2) == Decimal("0.300")
    assert exact_kg(49.9999) == Decimal("49.999")
