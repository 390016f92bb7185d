"""What an estimated bitterness says of itself."""

import pytest

from service.market.brewing.base_methods import BASE_METHODS
from service.market.brewing.bitterness_words import assumptions_of, brew_cautions, own_words, sources_of
from service.market.brewing.brews import Kettle
from service.market.brewing.calibrations import OwnUtilization
from service.reference.cautions import get_caution
from service.science.uncertainty import Estimate
from tests.market.brewing.brew_cases import a_brew, an_addition, an_alpha

STAND = an_addition(at="whirlpool", minutes=20.0, temperature_c=85.0)


def said(*additions: object, model: str = "tinseth", **told: object) -> str:
    brew = a_brew(*additions, **told)  # type: ignore[arg-type]
    return "\n".join(assumptions_of(brew, method=BASE_METHODS[model]))


@pytest.mark.parametrize(
    ("volume_of", "words"), [("finished_beer", "finished beer"), ("cold_wort", "cold wort")]
)
def test_tinseth_names_the_volume_it_takes(volume_of: str, words: str) -> None:
    assert f"the volume is taken as it stands: 20 L of {words}" in said(volume_of=volume_of)


def test_the_whirlpool_is_named_a_derived_convention() -> None:
    assert "a derived convention, not a published one" in said(STAND)
    assert "convention" not in said().replace("common practice", "")


def test_first_wort_states_its_factor() -> None:
    factor = "first wort hops count 1.00 times as much as hops in the boil for the whole time, 0.90 to 1.10"

    assert factor in said(an_addition(at="first_wort"))
    assert factor not in said()


def test_kinetics_state_the_boiling_point_and_what_follows_the_boil() -> None:
    assert "at sea level, for no elevation was given" in said(model="kinetic")
    assert "at 1524 m" in said(model="kinetic", elevation_m=1524.0)
    assert "cooled at once when the boil ends" in said(model="kinetic")
    assert "keeps the temperature of the whirlpool" in said(STAND, model="kinetic")
    read = said(STAND, model="kinetic", kettle=Kettle(at_minutes=(0.0, 20.0), temperatures_c=(98.0, 80.0)))
    assert "at once" not in read


def test_each_assumption_stands_once() -> None:
    alpha = an_alpha(assumptions=("one thing", "another"))
    brew = a_brew(an_addition(alpha=alpha), an_addition(alpha=alpha))

    words = assumptions_of(brew, method=BASE_METHODS["tinseth"])

    assert len(words) == len(set(words))
    assert words[-2:] == ("one thing", "another")


def test_cautions_come_with_what_calls_for_them() -> None:
    brew = a_brew()
    harsh = Estimate(120.0, 90.0, 150.0)

    gentle = brew_cautions(brew, total=None, alpha_mg_per_l=10.0)
    all_of_them = brew_cautions(brew, total=harsh, alpha_mg_per_l=250.0)

    assert gentle == (get_caution("estimate").words, get_caution("ibu_is_not_iso").words)
    assert all_of_them[2:] == (get_caution("alpha_solubility").words, get_caution("ibu_over_100").words)


def test_nothing_is_unused_where_everything_counted() -> None:
    brew = a_brew(an_addition(gravity_sg=1.04), STAND)

    assert tuple(BASE_METHODS["tinseth"].inputs_not_used(brew)) == ()


def test_sources_of_the_alpha_are_sources_of_the_brew() -> None:
    brew = a_brew(
        an_addition(alpha=an_alpha(sources=("A book",))), an_addition(alpha=an_alpha(sources=("A book",)))
    )

    assert sources_of(brew, method=BASE_METHODS["tinseth"])[1:] == ("A book",)


@pytest.mark.parametrize(
    ("brews", "is_used", "words"),
    [
        (0, False, "0 measured brews are kept; from 3 on method brewhouse reckons with them"),
        (4, False, "4 measured brews are kept: method brewhouse reckons with them"),
        (4, True, "follows from 4 measured brews"),
    ],
)
def test_a_brewery_reads_what_its_brews_do_for_it(brews: int, is_used: bool, words: str) -> None:
    assert words in own_words(OwnUtilization(brewery_code="FINCH", brews=brews, is_used=is_used))


def test_a_mountain_kettle_states_its_boiling_point() -> None:
    assert "the kettle boils at 95.1 °C, at 1524 m" in said(elevation_m=1524.0)
    assert "the kettle boils" not in said()
