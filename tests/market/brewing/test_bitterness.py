"""The bitterness of a brew: worked examples, sums, intervals, and what is said beside them."""

import csv
import math
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.facts import as_dict
from service.market.brewing.alpha_in_use import alpha_of_lot
from service.market.brewing.base_methods import BASE_METHODS, base_ibus
from service.market.brewing.bitterness import brew_bitterness
from service.market.brewing.brews import Brew, Kettle, Recoveries
from service.science.dry_hop import DryHopBitterness
from service.science.uncertainty import HalfWidths
from tests.factories import ListedLotFactory, SpellFactory
from tests.market.brewing.brew_cases import a_brew, an_addition, an_alpha

G_PER_OZ, L_PER_US_GAL = 28.349523125, 3.785411784
PUBLISHED = Path(__file__).parents[2] / "data/published_bitterness.csv"
EXAMPLES = list(csv.DictReader(PUBLISHED.read_text(encoding="utf-8").splitlines()))


def reckon(brew: Brew, method: str = "tinseth"):  # type: ignore[no-untyped-def]  # Bitterness
    return brew_bitterness(brew, method=BASE_METHODS[method], alpha_basis="estimated")


def published(row: dict[str, str]) -> Brew:
    """One published addition, from ounces and US gallons."""
    addition = an_addition(
        float(row["alpha_percent"]),
        mass_g=float(row["oz"]) * G_PER_OZ,
        minutes=float(row["minutes"]),
    )
    return a_brew(addition, volume_l=float(row["us_gal"]) * L_PER_US_GAL, gravity_sg=float(row["gravity_sg"]))


@pytest.mark.parametrize("row", EXAMPLES, ids=lambda row: row["id"])
def test_published_worked_examples(row: dict[str, str]) -> None:
    found = reckon(published(row))

    assert found.ibu.estimate == pytest.approx(float(row["ibu"]), abs=float(row["tolerance"]))


def test_the_published_recipe_adds_up_to_31() -> None:
    # J. Palmer, How to Brew, ch. 5: 25 and 6 IBU give 31.
    brews = [published(row) for row in EXAMPLES if row["id"] in ("IBU-9", "IBU-10")]
    both = a_brew(*(b.additions[0] for b in brews), volume_l=brews[0].wort.volume_l, gravity_sg=1.080)

    found = reckon(both)

    assert found.ibu.estimate == pytest.approx(31, abs=0.5)
    assert found.ibu.estimate == pytest.approx(sum(r.ibu.estimate for r in found.additions))


def test_ten_per_cent_alpha_in_twenty_litres() -> None:
    # 30 g of 10 % alpha, 20 L, 60 minutes at 1.050: 34.60 by the Tinseth equation, derived.
    assert reckon(a_brew()).ibu.estimate == pytest.approx(34.60, abs=0.01)


def test_the_whole_is_the_sum_of_what_is_not_null() -> None:
    found = reckon(a_brew(an_addition(), an_addition(at="mash"), an_addition(at="dry_hop")))

    assert [r.ibu is None for r in found.additions] == [False, True, True]
    assert as_dict(found.ibu) == pytest.approx(as_dict(found.additions[0].ibu))


def test_a_brew_of_dry_hops_alone_has_no_ibu_rather_than_none_at_all() -> None:
    found = reckon(a_brew(an_addition(at="dry_hop")))

    assert found.ibu is None
    assert found.additions[0].reason


def test_dry_hops_give_a_range_by_taste_in_its_own_field_and_a_caution() -> None:
    # 4 g/L: 0.66 x 0.90 x 40 mg/L per % at 0.2 and 0.5 % humulinones (Hahn et al. 2018; derived).
    result = reckon(a_brew(an_addition(at="dry_hop", mass_g=80.0))).additions[0]

    range_ = result.humulinone_bitterness
    assert isinstance(range_, DryHopBitterness)
    assert (range_.low_iso_mg_per_l, range_.high_iso_mg_per_l) == pytest.approx((4.752, 11.88))
    assert any("Packages can burst" in caution for caution in result.cautions)


def test_a_dry_hop_dose_beyond_practice_gives_no_range() -> None:
    result = reckon(a_brew(an_addition(at="dry_hop", mass_g=500.0))).additions[0]

    assert result.humulinone_bitterness is None
    assert any("more than practice knows" in caution for caution in result.cautions)


def test_wet_hops_bring_water() -> None:
    # A kilogram at 78 % moisture holds 0.78 kg of water; without a figure 80 % is assumed.
    told, assumed = reckon(
        a_brew(
            an_addition(form="wet_hop", mass_g=1000.0, moisture_percent=78.0),
            an_addition(form="wet_hop", mass_g=1000.0),
        )
    ).additions

    assert (told.water_l, assumed.water_l) == pytest.approx((0.78, 0.80))
    assert reckon(a_brew()).additions[0].water_l is None


def test_the_form_factor_multiplies_the_bitterness_and_not_the_utilization() -> None:
    plain, factored = reckon(a_brew(an_addition(), an_addition(form_factor=1.15))).additions

    assert factored.utilization_percent == plain.utilization_percent
    assert factored.ibu.estimate == pytest.approx(1.15 * plain.ibu.estimate)


def test_additions_of_one_lot_err_together() -> None:
    lot = an_alpha(lot_code="ALDER-2026-01", scatter={"measurement": HalfWidths(0.3, 0.3)})
    other = an_alpha(lot_code="ROWAN-2026-01", scatter={"measurement": HalfWidths(0.3, 0.3)})

    same = reckon(a_brew(an_addition(alpha=lot), an_addition(alpha=lot)))
    apart = reckon(a_brew(an_addition(alpha=lot), an_addition(alpha=other)))
    one = reckon(a_brew(an_addition(alpha=lot, mass_g=60.0)))

    assert same.ibu.estimate == apart.ibu.estimate
    assert same.ibu.low < apart.ibu.low < apart.ibu.high < same.ibu.high
    # Splitting one addition of a lot in two changes neither the figure nor the interval.
    assert (same.ibu.low, same.ibu.high) == pytest.approx((one.ibu.low, one.ibu.high))


def test_a_surer_alpha_narrows_the_interval() -> None:
    sure = reckon(a_brew(an_addition(alpha=an_alpha(scatter={"measurement": HalfWidths(0.01, 0.01)}))))
    unsure = reckon(a_brew(an_addition(alpha=an_alpha(scatter={"measurement": HalfWidths(0.5, 0.5)}))))

    assert unsure.ibu.low < sure.ibu.low < sure.ibu.estimate < sure.ibu.high < unsure.ibu.high


@given(st.floats(0.1, 25), st.floats(0.1, 10_000), st.floats(0, 240), st.floats(1.0, 1.15), st.floats(1, 1e5))
def test_estimates_lie_inside_their_intervals_and_grow_with_the_mass(
    alpha: float, mass_g: float, minutes: float, gravity: float, volume_l: float
) -> None:
    def of(mass: float):  # type: ignore[no-untyped-def]  # Estimate
        addition = an_addition(alpha, mass_g=mass, minutes=minutes)
        return reckon(a_brew(addition, volume_l=volume_l, gravity_sg=gravity)).ibu

    once, twice = of(mass_g), of(2 * mass_g)

    assert once.low <= once.estimate <= once.high
    assert twice.estimate == pytest.approx(2 * once.estimate)


def test_warnings_of_solubility_and_over_100_ibu() -> None:
    gentle, harsh = reckon(a_brew()), reckon(a_brew(an_addition(mass_g=100.0)))

    assert len(gentle.cautions) == 2
    assert any("exceeds what is likely to dissolve" in caution for caution in harsh.cautions)
    assert any("over 100 IBU are unlikely" in caution for caution in harsh.cautions)


def test_unlike_alpha_methods_are_cautioned() -> None:
    hplc, lead = an_alpha(method="asbc_hops_14"), an_alpha(method="ebc_7_5")

    found = reckon(a_brew(an_addition(alpha=hplc), an_addition(alpha=lead)))

    assert any("not one scale" in caution for caution in found.cautions)


def test_kinetic_counts_in_cold_wort() -> None:
    lost = Recoveries(wort_lost_percent=5.0)

    beer = reckon(a_brew(volume_l=950.0, recoveries=lost), "kinetic")
    wort = reckon(a_brew(volume_l=1000.0, volume_of="cold_wort"), "kinetic")

    assert beer.volume_used_l == pytest.approx(1000.0)
    assert beer.ibu.estimate == pytest.approx(wort.ibu.estimate)


def test_kinetic_shows_its_recoveries_and_says_that_they_are_defaults() -> None:
    found = reckon(a_brew(), "kinetic")
    told = reckon(
        a_brew(recoveries=Recoveries(kettle_to_wort_percent=80.0, wort_to_beer_percent=90.0)), "kinetic"
    )

    assert {name: used.is_default for name, used in found.recoveries.items()} == {
        "kettle_to_wort_percent": True,
        "wort_to_beer_percent": True,
    }
    assert sum("a default because none was given" in words for words in found.assumptions) == 2
    assert not any("a default because none was given" in words for words in told.assumptions)
    assert told.ibu.high - told.ibu.low < found.ibu.high - found.ibu.low


@pytest.mark.parametrize("method", list(BASE_METHODS))
def test_what_is_left_for_a_brewery_that_knows_its_utilization_is_alpha_alone(method: str) -> None:
    # Alpha 0.1 either way as a logarithm; what differs from brewery to brewery is in the whole interval only.
    found = reckon(a_brew(), method)

    assert found.alpha_alone_ibu.estimate == found.ibu.estimate
    assert found.alpha_alone_ibu.high / found.ibu.estimate == pytest.approx(math.exp(0.1))
    assert found.alpha_alone_ibu.low / found.ibu.estimate == pytest.approx(math.exp(-0.1))
    assert found.ibu.low < found.alpha_alone_ibu.low < found.alpha_alone_ibu.high < found.ibu.high
    assert found.additions[0].alpha_alone_ibu == found.alpha_alone_ibu


def test_where_nothing_is_estimated_nothing_is_left() -> None:
    found = reckon(a_brew(an_addition(at="dry_hop")))

    assert found.alpha_alone_ibu is None
    assert found.additions[0].alpha_alone_ibu is None


def test_base_ibus_tell_boil_from_whirlpool() -> None:
    stand = an_addition(at="whirlpool", minutes=20.0, temperature_c=90.0)
    brew = a_brew(an_addition(), an_addition(at="first_wort"), stand, an_addition(at="dry_hop"))
    found = reckon(brew)

    boil, whirlpool = base_ibus(brew, base=BASE_METHODS["tinseth"])

    assert boil == pytest.approx(2 * found.additions[0].ibu.estimate)
    assert whirlpool == pytest.approx(found.additions[2].ibu.estimate)


def test_inputs_that_changed_nothing_are_named() -> None:
    additions = (
        an_addition(temperature_c=99.0, gravity_sg=1.040),
        an_addition(at="dry_hop", minutes=4320.0, gravity_sg=1.010),
        an_addition(at="whirlpool", minutes=10.0, temperature_c=90.0),
    )
    told = {
        "kettle": Kettle(boil_minutes=60.0, at_minutes=(0.0, 20.0), temperatures_c=(98.0, 90.0)),
        "recoveries": Recoveries(wort_to_beer_percent=80.0, wort_lost_percent=5.0),
        "elevation_m": 100.0,
    }

    assert reckon(a_brew(*additions, **told)).inputs_not_used == (  # type: ignore[arg-type]
        "kettle/boil_minutes",
        "kettle/readings",
        "recoveries/wort_to_beer_percent",
        "recoveries/wort_lost_percent",
        "additions/0/temperature_c",
        "additions/1/minutes",
        "additions/1/gravity_sg",
    )
    assert reckon(a_brew(*additions, **told), "kinetic").inputs_not_used == (  # type: ignore[arg-type]
        "additions/0/temperature_c",
        "additions/0/gravity_sg",
        "additions/1/minutes",
        "additions/1/gravity_sg",
        "additions/2/temperature_c",
    )
    dry = a_brew(an_addition(at="dry_hop", minutes=None), elevation_m=100.0)
    assert reckon(dry).inputs_not_used == ("elevation_m",)
    wort = a_brew(volume_of="cold_wort", recoveries=Recoveries(wort_lost_percent=5.0))
    assert reckon(wort, "kinetic").inputs_not_used == ("recoveries/wort_lost_percent",)


def test_every_method_names_its_sources() -> None:
    stand = an_addition(at="whirlpool", minutes=10.0, temperature_c=90.0)
    brew = a_brew(an_addition(), stand, an_addition(at="dry_hop"))

    assert [source.split(",")[0].split(":")[0] for source in reckon(brew).sources] == [
        "G. Tinseth",
        "Malowicki & Shellhammer 2005",
        "ISO 2533",
        "Hahn et al. 2018",
    ]
    assert len(reckon(brew, "kinetic").sources) == 5


@pytest.mark.parametrize("lots", [1, 4, 8])
@pytest.mark.parametrize("months", [5, 12])
def test_the_interval_of_lots_that_aged_alike_covers_what_may_be_true(lots: int, months: int) -> None:
    # One draw of the doubt about storage for all lots, one of the formula; each lot's report errs for itself.
    on = date(2026, 9, 3) + timedelta(days=30 * months)
    alphas = [
        alpha_of_lot(
            ListedLotFactory(
                code=f"ALDER-2026-{place:02}", spells=(SpellFactory(packing="open", stored_at_c=10.0),)
            ),
            basis="estimated",
            on=on,
        )
        for place in range(lots)
    ]
    found = reckon(a_brew(*(an_addition(alpha=alpha, mass_g=100.0 / lots) for alpha in alphas)))
    assert found.ibu is not None
    rng = np.random.default_rng(lots)
    draws = 20_000

    def error(widths: HalfWidths) -> np.ndarray:
        z = rng.standard_normal(draws)
        return z / 1.6449 * np.where(z > 0, widths.above_log, widths.below_log)

    aged = error(alphas[0].scatter["storage"])
    model = error(next(iter(found.additions[0].spread.model_by_source.values())))
    true = sum(
        one.spread.ibu * np.exp(aged + model + error(one.spread.alpha_by_source["measurement"]))
        for one in found.additions
    )

    assert 0.85 <= np.mean((found.ibu.low <= true) & (true <= found.ibu.high)) <= 0.95
