"""What a wanted bitterness takes of alpha acids, and which can be wanted."""

import pytest

from service.market.brewing.bitterness_targets import BitternessTarget, target_faults
from service.market.brewing.brews import HOT
from service.science.bitterness import ibu, tinseth_utilization_percent


def a_target(**told: object) -> BitternessTarget:
    return BitternessTarget(**{"ibu": 35.0, "volume_l": 1000.0, "gravity_sg": 1.056, **told})


def test_the_alpha_that_is_told_gives_the_bitterness_that_is_wanted() -> None:
    target = a_target()

    gives = ibu(
        utilization_percent=tinseth_utilization_percent(gravity_sg=1.056, minutes=60),
        alpha_percent=100.0,
        mass_g=1000 * target.alpha_kg,
        volume_l=1000.0,
    )

    assert gives == pytest.approx(35.0)


def test_first_wort_counts_as_boil_and_a_cooler_whirlpool_takes_more() -> None:
    boil, first = a_target().alpha_kg, a_target(at="first_wort").alpha_kg
    hot, cool = (a_target(at="whirlpool", temperature_c=c).alpha_kg for c in (95.0, 80.0))

    assert first == boil
    assert boil < hot < cool


@pytest.mark.parametrize("at", HOT)
def test_what_can_be_estimated_has_no_fault(at: str) -> None:
    told = {"temperature_c": 85.0} if at == "whirlpool" else {}

    assert list(target_faults(a_target(at=at, **told), "here")) == []


@pytest.mark.parametrize(
    ("told", "where"),
    [
        ({"at": "dry_hop"}, "here/at"),
        ({"at": "boil", "temperature_c": 90.0}, "here/temperature_c"),
        ({"minutes": 0.0}, "here/minutes"),
        ({"gravity_sg": 1.3}, "here/gravity_sg"),
        ({"ibu": 1000.0, "volume_l": 1e7, "minutes": 1e-6}, "here/ibu"),
    ],
    ids=str,
)
def test_what_nobody_can_estimate_is_named_where_it_stands(told: dict[str, object], where: str) -> None:
    assert [place for place, _ in target_faults(a_target(**told), "here")] == [where]
