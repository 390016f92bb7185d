"""How much of a lot for a wanted bitterness, or in place of another hop."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import InvalidRequest, OutOfRange
from service.market.brewing.base_methods import BASE_METHODS
from service.market.brewing.brews import Addition, Brew
from service.market.brewing.doses import NO_SUBSTITUTE, Dose, DoseWish, decide_dose
from tests.factories import LotFactory
from tests.market.brewing.brew_cases import a_brew, an_addition

SHARES = {"myrcene": 50.0, "humulene": 20.0, "caryophyllene": 10.0}


def dose(brew: Brew, method: str = "tinseth", **told: Any) -> Dose:
    wish = DoseWish(**{n: told.pop(n) for n in ("wanted_ibu", "share_percent", "replaces") if n in told})
    defaults = {"lot": None, "shows_price": False}
    base = BASE_METHODS[method]
    return decide_dose(brew, wish=wish, method=base, alpha_basis="estimated", **{**defaults, **told})


def test_the_published_dose_read_backwards() -> None:
    # 30 g of 10 % alpha give 34.6 IBU in 20 L at 1.050 after 60 minutes (Tinseth equation, derived).
    assert dose(a_brew(), wanted_ibu=34.6).mass_g == pytest.approx(30.0, abs=0.01)


@given(st.floats(1, 150), st.floats(0.5, 20), st.floats(0.5, 2.0), st.sampled_from(["tinseth", "kinetic"]))
def test_the_dose_brings_exactly_what_was_wanted(
    wanted: float, alpha: float, form_factor: float, method: str
) -> None:
    stand = an_addition(4.0, mass_g=2.0, at="whirlpool", minutes=10.0, temperature_c=85.0)
    brew = a_brew(stand, an_addition(alpha, form_factor=form_factor))

    found = dose(brew, method, wanted_ibu=wanted)

    assert found.bitterness.ibu is not None
    assert found.bitterness.ibu.estimate == pytest.approx(wanted)
    assert found.bitterness.additions[0].addition is stand


def test_a_share_is_a_share_of_what_is_wanted() -> None:
    brew = a_brew(an_addition(mass_g=5.0), an_addition())

    found = dose(brew, wanted_ibu=40.0, share_percent=50.0)

    assert found.bitterness.additions[1].ibu is not None
    assert found.bitterness.additions[1].ibu.estimate == pytest.approx(20.0)


def test_a_beer_that_is_bitter_enough_takes_no_dose() -> None:
    with pytest.raises(OutOfRange, match=r"34\.5996 IBU already"):
        dose(a_brew(an_addition(), an_addition()), wanted_ibu=30.0)


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"at": "dry_hop"}, "#/dose/at"),
        ({"at": "mash"}, "#/dose/at"),
        ({"minutes": 0.0}, "#/dose/minutes"),
    ],
)
def test_hops_that_give_nothing_have_no_dose(told: dict[str, Any], pointer: str) -> None:
    with pytest.raises(InvalidRequest) as refused:
        dose(a_brew(an_addition(**told)), wanted_ibu=30.0)

    assert refused.value.facts["errors"][0]["pointer"] == pointer


def swapped(old: Addition, new: Addition) -> Dose:
    return dose(a_brew(new), replaces=0, replaced=old)


def test_a_swap_keeps_the_bitterness() -> None:
    # 100 g of 6.3 % alpha are 46.67 g of 13.5 % (balance of alpha acids).
    found = swapped(an_addition(6.3, mass_g=100.0), an_addition(13.5))

    assert found.mass_g == pytest.approx(46.67, abs=0.01)
    assert found.swap is not None
    assert (found.swap.replaced_mass_g, found.swap.mass_g) == (100.0, found.mass_g)
    assert NO_SUBSTITUTE in found.cautions


def test_a_swap_shows_what_becomes_of_the_oil() -> None:
    # 100 g in 20 L are 500 g/hL: at 1.24 mL/100 g that is 6.2 mL/hL; half the mass of 0.6 mL/100 g is 1.5.
    oil = {"oil_shares_percent": SHARES, "oil_shares_basis": "peak_area"}
    found = swapped(
        an_addition(5.0, mass_g=100.0, oil_ml_per_100g=1.24, **oil),
        an_addition(10.0, oil_ml_per_100g=0.6, **oil),
    ).swap

    assert found is not None
    assert (found.oil_before_ml_per_hl, found.oil_after_ml_per_hl) == pytest.approx((6.2, 1.5))
    assert (found.oil_similarity, found.oil_not_compared) == (1.0, None)
    assert found.oil_parts == ("caryophyllene", "humulene", "myrcene")


@pytest.mark.parametrize(
    ("other", "said"),
    [
        ({}, "not known of both"),
        ({"oil_shares_percent": SHARES, "oil_shares_basis": "mass"}, "different bases"),
        ({"oil_shares_percent": {"myrcene": 50.0}, "oil_shares_basis": "peak_area"}, "1 parts"),
    ],
)
def test_profiles_that_cannot_be_compared_say_why(other: dict[str, Any], said: str) -> None:
    old = an_addition(oil_shares_percent=SHARES, oil_shares_basis="peak_area")

    found = swapped(old, an_addition(**other)).swap

    assert found is not None
    assert found.oil_similarity is None
    assert said in str(found.oil_not_compared)


def test_the_cost_is_shown_only_where_the_price_may_be_seen() -> None:
    lot = LotFactory(price_per_kg=Decimal("20"), currency="CAD")
    brew = a_brew(an_addition(), volume_l=1000.0)

    seen = dose(brew, wanted_ibu=20.0, lot=lot, shows_price=True)
    hidden = dose(brew, wanted_ibu=20.0, lot=lot, shows_price=False)
    unpriced = dose(brew, wanted_ibu=20.0, lot=LotFactory(), shows_price=True)

    assert (hidden.cost, unpriced.cost) == (None, None)
    assert seen.cost is not None
    assert seen.cost.currency == "CAD"
    assert float(seen.cost.amount) == pytest.approx(20 * seen.mass_g / 1000, abs=0.005)
    # Ten hectolitres at 20 IBU are twenty times ten IBU in one.
    assert seen.cost.per_10_ibu_hl == pytest.approx(20 * seen.mass_g / 1000 / 20)


def test_a_lot_that_holds_too_little_is_cautioned() -> None:
    lot = LotFactory(mass_kg=Decimal("0.020"))

    assert any("0.020 kg free" in c for c in dose(a_brew(), wanted_ibu=34.6, lot=lot).cautions)
    assert dose(a_brew(), wanted_ibu=10.0, lot=lot).cautions == ()


def test_a_dose_beyond_every_brew_is_refused() -> None:
    brew = a_brew(an_addition(0.1, minutes=1.0), volume_l=10_000_000.0)

    with pytest.raises(InvalidRequest, match="more than any brew holds"):
        dose(brew, wanted_ibu=1000.0)
