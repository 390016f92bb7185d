"""What a brewery may want, and when a request is filled."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import IllegalStep, InvalidRequest
from service.facts import replace
from service.market.brewing.bitterness_targets import BitternessTarget
from service.market.goods.cultivars import NamedCultivar
from service.market.matching.requests import (
    PARTS,
    Delivery,
    OilLike,
    Request,
    accept_request,
    decide_change,
    is_filled,
    rename_cultivars,
    require_open,
)
from service.science.bitterness import ibu, tinseth_utilization_percent
from service.science.isomerization import relative_isomerization_rate
from tests.factories import TODAY

LATER = date(2027, 2, 1)


def a_request(**told: object) -> Request:
    plain = {"role": "aroma", "deliveries": (Delivery(needed_on=LATER, mass_kg=Decimal(60)),)}
    return Request(**{**plain, **told})


def faults(request: Request, *, before: Request | None = None) -> dict[str, str]:
    with pytest.raises(InvalidRequest) as refused:
        accept_request(request, today=TODAY, before=before)
    return {fault["pointer"]: fault["detail"] for fault in refused.value.facts["errors"]}


def test_accept_request_takes_a_plain_one() -> None:
    request = a_request()

    assert accept_request(request, today=TODAY) is request


def test_accept_request_names_every_fault_at_once() -> None:
    request = a_request(
        deliveries=(
            Delivery(needed_on=TODAY - timedelta(days=1), mass_kg=Decimal(1)),
            Delivery(needed_on=LATER, mass_kg=Decimal(1), alpha_kg=Decimal(1)),
            Delivery(needed_on=date(2040, 1, 1)),
        ),
        alpha_percent_min=9.0,
        alpha_percent_max=8.0,
        price_per_kg_max=Decimal(30),
        accept_others=False,
        weights={"colour": 1.0},
    )

    assert faults(request) == {
        "#/deliveries/0/needed_on": "2026-11-24 has passed",
        "#/deliveries/1": "a delivery has exactly one of mass_kg, alpha_kg, bitterness",
        "#/deliveries/2/needed_on": "2040-01-01 is more than ten years ahead",
        "#/deliveries/2": "a delivery has exactly one of mass_kg, alpha_kg, bitterness",
        "#/alpha_percent_min": "the lower limit 9 is over the upper one 8",
        "#/currency": "a price limit names its currency; prices are never compared across currencies",
        "#/cultivars": "where others are not accepted, name the cultivars that are",
        "#/weights/colour": f"a weight belongs to one of {', '.join(PARTS)}",
    }


@pytest.mark.parametrize("count", [0, 25])
def test_accept_request_wants_one_to_24_deliveries(count: int) -> None:
    deliveries = (Delivery(needed_on=LATER, mass_kg=Decimal(1)),) * count

    assert faults(a_request(deliveries=deliveries)) == {"#/deliveries": "a request has 1 to 24 deliveries"}


def test_accept_request_refuses_a_parcel_over_the_whole_need() -> None:
    assert list(faults(a_request(parcel_kg_min=Decimal(61)))) == ["#/parcel_kg_min"]


def test_accept_request_refuses_weights_that_are_all_0() -> None:
    none = {name: 0.0 for name in PARTS if name != "profile"}

    refused = {"#/weights": "at least one weight of a part that can count is over 0"}
    assert faults(a_request(weights=none)) == refused
    assert faults(a_request(weights=none | {"cultivar": 1.0})) == refused
    by_name = a_request(weights=none | {"cultivar": 1.0}, cultivars=("Nugget",))
    assert accept_request(by_name, today=TODAY) == by_name
    del none["oil"]
    assert faults(a_request(weights=none, role="bittering")) == refused
    of_oil = a_request(weights=none, role="aroma")
    assert accept_request(of_oil, today=TODAY) == of_oil


def test_accept_request_refuses_an_oil_profile_of_two_of_none_and_its_weight_without_one() -> None:
    both = OilLike(cultivar="Cascade", lot_code="ALDER-2026-01")
    refused = {
        "#/oil_like": "an oil profile is like that of a cultivar or of a lot: name one, and null for the other"
    }

    assert faults(a_request(oil_like=both)) == refused
    assert faults(a_request(oil_like=OilLike())) == refused
    assert faults(a_request(weights={"profile": 1.0})) == {
        "#/weights/profile": "a weight of the oil profile needs oil_like, which says whose it is to be"
    }
    wished = a_request(oil_like=OilLike(cultivar="Cascade"), weights={"profile": 1.0})
    assert accept_request(wished, today=TODAY) == wished


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"at": "dry_hop"}, "at"),
        ({"at": "mash"}, "at"),
        ({"at": "whirlpool"}, "temperature_c"),
        ({"temperature_c": 90.0}, "temperature_c"),
        ({"minutes": 0.0}, "minutes"),
        ({"gravity_sg": 1.3}, "gravity_sg"),
        ({"ibu": 1000.0, "volume_l": 1e7, "minutes": 1e-6}, "ibu"),
    ],
    ids=str,
)
def test_accept_request_refuses_a_bitterness_that_nobody_can_estimate(
    told: dict[str, object], field: str
) -> None:
    target = BitternessTarget(**{"ibu": 35.0, "volume_l": 20000.0, "gravity_sg": 1.056, **told})

    request = a_request(deliveries=(Delivery(needed_on=LATER, bitterness=target),))

    assert list(faults(request)) == [f"#/deliveries/0/bitterness/{field}"]


def test_accept_request_lets_a_passed_delivery_stand_that_was_there_before() -> None:
    passed = Delivery(needed_on=TODAY - timedelta(days=30), mass_kg=Decimal(20))
    before = a_request(deliveries=(passed, Delivery(needed_on=LATER, mass_kg=Decimal(40))))

    assert accept_request(replace(before, note="x"), today=TODAY, before=before).note == "x"
    lapsed = replace(before, deliveries=(passed,))
    assert faults(lapsed, before=lapsed) == {"#/deliveries": "the last day needed has passed"}


@given(st.floats(1, 100), st.floats(1, 1e6), st.floats(1.0, 1.12), st.floats(1, 120))
def test_the_alpha_for_a_bitterness_gives_that_bitterness_back(
    wanted_ibu: float, volume_l: float, gravity_sg: float, minutes: float
) -> None:
    target = BitternessTarget(ibu=wanted_ibu, volume_l=volume_l, gravity_sg=gravity_sg, minutes=minutes)
    used = tinseth_utilization_percent(gravity_sg=gravity_sg, minutes=minutes)

    again = ibu(utilization_percent=used, alpha_percent=100, mass_g=target.alpha_kg * 1000, volume_l=volume_l)

    assert again == pytest.approx(wanted_ibu)


def test_a_cool_whirlpool_takes_more_alpha_than_a_boil_by_the_rate() -> None:
    boil = BitternessTarget(ibu=35.0, volume_l=1000.0, gravity_sg=1.05, minutes=20.0)

    whirlpool = replace(boil, at="whirlpool", temperature_c=85.0)

    # Malowicki & Shellhammer 2005; this wort boils at 100.18 °C at sea level.
    slower = relative_isomerization_rate(temperature_c=85.0) / relative_isomerization_rate(
        temperature_c=100.18
    )
    assert whirlpool.alpha_kg == pytest.approx(boil.alpha_kg / slower, rel=1e-3)
    assert replace(boil, at="first_wort").alpha_kg == boil.alpha_kg


def test_a_request_lapses_the_day_after_its_last_delivery() -> None:
    request = a_request()

    assert request.shown_state(LATER) == "open"
    assert request.shown_state(LATER + timedelta(days=1)) == "lapsed"
    assert replace(request, state="filled").shown_state(LATER + timedelta(days=1)) == "filled"


def test_require_open_refuses_what_takes_no_more() -> None:
    require_open(a_request(), today=TODAY)
    for request, day, state in (
        (a_request(state="filled"), TODAY, "filled"),
        (a_request(state="withdrawn"), TODAY, "withdrawn"),
        (a_request(), date(2027, 3, 1), "lapsed"),
    ):
        with pytest.raises(IllegalStep) as refused:
            require_open(request, today=day)
        assert refused.value.facts == {"state": state}


def test_decide_change_refuses_what_was_withdrawn() -> None:
    decide_change(a_request(state="filled"))
    with pytest.raises(IllegalStep, match="was withdrawn"):
        decide_change(a_request(state="withdrawn"))


def test_a_request_by_mass_is_filled_from_98_percent_on() -> None:
    request = a_request()

    assert not is_filled(request, mass_kg=Decimal(0), alpha_kg=0.0)
    assert not is_filled(request, mass_kg=Decimal("58.7"), alpha_kg=9.0)
    assert is_filled(request, mass_kg=Decimal("58.8"), alpha_kg=0.0)


def test_a_request_by_alpha_is_filled_by_the_alpha_that_the_masses_leave_over() -> None:
    request = a_request(
        deliveries=(
            Delivery(needed_on=LATER, mass_kg=Decimal(50)),
            Delivery(needed_on=LATER, alpha_kg=Decimal(5)),
        )
    )

    assert not is_filled(request, mass_kg=Decimal(100), alpha_kg=9.0)
    assert is_filled(request, mass_kg=Decimal(100), alpha_kg=10.0)
    assert (request.mass_kg, request.alpha_kg, request.wants_alpha) == (Decimal(50), 5.0, True)


def test_cultivars_are_written_by_their_denomination_each_once() -> None:
    named = [NamedCultivar("Mt. Hood", "MT-HOOD", "MT-HOOD", "aroma")] * 2

    assert rename_cultivars(("mount hood", "Mt Hood"), named) == ("Mt. Hood",)
    assert rename_cultivars((), []) == ()


KEPT = {"kept_from": TODAY + timedelta(days=5), "kept_at_c": 2.0, "kept_packing": "open"}


@pytest.mark.parametrize("missing", list(KEPT))
def test_accept_request_wants_the_whole_of_how_hops_will_be_kept(missing: str) -> None:
    assert accept_request(a_request(**KEPT), today=TODAY).kept_at_c == 2.0
    assert list(faults(a_request(**{**KEPT, missing: None}))) == ["#/kept_from"]


@pytest.mark.parametrize("on", [TODAY - timedelta(days=1), LATER + timedelta(days=1)])
def test_accept_request_refuses_keeping_from_a_day_that_cannot_be(on: date) -> None:
    kept = a_request(**{**KEPT, "kept_from": on})

    assert list(faults(kept)) == ["#/kept_from"]


def test_accept_request_lets_a_day_stand_that_passed_since() -> None:
    kept = a_request(**{**KEPT, "kept_from": TODAY - timedelta(days=1)})

    assert accept_request(replace(kept, note="x"), today=TODAY, before=kept).note == "x"


def test_accept_request_refuses_places_and_schemes_that_are_none() -> None:
    wrong = a_request(certifications=("organic", "--"), origins=("CA", "XX", "CA-NS"))

    assert list(faults(wrong)) == ["#/certifications/1", "#/origins/1"]


def test_the_key_of_a_wish_is_another_when_anything_of_it_changes() -> None:
    request = a_request(weights={"price": 1.0, "oil": 2.0})

    same = (replace(request, weights={"oil": 2.0, "price": 1.0}), replace(request, note="x", state="filled"))
    other = (
        replace(request, parcel_kg_min=Decimal(5)),
        replace(request, weights={"oil": 2.0}),
        replace(request, origins=("CA",)),
    )

    assert {one.wish_key for one in same} == {request.wish_key}
    assert request.wish_key not in {one.wish_key for one in other}
