"""A brew is let in only with what its method needs."""

import pytest

from service.errors import InvalidRequest, OutOfRange
from service.market.brewing.base_methods import BASE_METHODS
from service.market.brewing.brews import Kettle, accept_brew
from tests.market.brewing.brew_cases import a_brew, an_addition


@pytest.mark.parametrize("at", ["first_wort", "boil", "whirlpool"])
def test_hot_hops_need_their_minutes(at: str) -> None:
    brew = a_brew(an_addition(at=at, minutes=None, temperature_c=90.0, pointer="#/additions/0"))

    with pytest.raises(InvalidRequest) as refused:
        accept_brew(brew, reach=BASE_METHODS["tinseth"].reach)

    assert [error["pointer"] for error in refused.value.facts["errors"]] == ["#/additions/0/minutes"]


@pytest.mark.parametrize("at", ["mash", "dry_hop"])
def test_cold_hops_need_no_minutes(at: str) -> None:
    brew = a_brew(an_addition(at=at, minutes=None))

    assert accept_brew(brew, reach=BASE_METHODS["tinseth"].reach) is brew


def test_whirlpool_hops_need_a_temperature_unless_it_was_read() -> None:
    whirlpool = an_addition(at="whirlpool", minutes=10.0, pointer="#/additions/0")
    read = Kettle(at_minutes=(0.0, 20.0), temperatures_c=(98.0, 80.0))

    with pytest.raises(InvalidRequest) as refused:
        accept_brew(a_brew(whirlpool), reach=BASE_METHODS["kinetic"].reach)

    assert refused.value.facts["errors"][0]["pointer"] == "#/additions/0/temperature_c"
    assert accept_brew(a_brew(whirlpool, kettle=read), reach=BASE_METHODS["kinetic"].reach).kettle is read
    with pytest.raises(InvalidRequest):
        accept_brew(a_brew(whirlpool, kettle=read), reach=BASE_METHODS["tinseth"].reach)


@pytest.mark.parametrize(
    ("model", "at", "told", "name", "reach"),
    [
        ("tinseth", "boil", {"minutes": 241.0}, "minutes", (0, 240)),
        ("kinetic", "boil", {"minutes": 1441.0}, "minutes", (0, 1440)),
        ("tinseth", "whirlpool", {"minutes": 5.0, "temperature_c": 59.0}, "temperature_c", (60, 130)),
        ("kinetic", "whirlpool", {"minutes": 5.0, "temperature_c": 131.0}, "temperature_c", (0, 130)),
    ],
)
def test_what_a_method_does_not_reach_is_refused_by_name(
    model: str, at: str, told: dict[str, float], name: str, reach: tuple[float, float]
) -> None:
    with pytest.raises(OutOfRange) as refused:
        accept_brew(
            a_brew(an_addition(at=at, pointer="#/additions/0", **told)), reach=BASE_METHODS[model].reach
        )

    facts = refused.value.facts
    assert (facts["name"], facts["low"], facts["high"]) == (name, *reach)
    assert facts["pointer"] == f"#/additions/0/{name}"


def test_hops_cannot_boil_longer_than_the_kettle() -> None:
    with pytest.raises(InvalidRequest, match="the hops boil 60 min, the kettle only 45 min"):
        accept_brew(a_brew(kettle=Kettle(boil_minutes=45.0)), reach=BASE_METHODS["kinetic"].reach)


@pytest.mark.parametrize(
    ("kettle", "said"),
    [
        (Kettle(at_minutes=(0.0, 5.0), temperatures_c=(99.0,)), "each reading has its minute"),
        (Kettle(at_minutes=(0.0,), temperatures_c=(99.0,)), "at least two readings"),
        (Kettle(at_minutes=(0.0, 5.0, 5.0), temperatures_c=(99.0, 95.0, 94.0)), "rise"),
        (
            Kettle(at_minutes=(0.0, 5.0), temperatures_c=(99.0, 95.0)),
            "the readings after the boil last 5 min",
        ),
    ],
)
def test_readings_that_do_not_fit_are_refused(kettle: Kettle, said: str) -> None:
    whirlpool = an_addition(at="whirlpool", minutes=10.0)

    with pytest.raises(InvalidRequest, match=said):
        accept_brew(a_brew(whirlpool, kettle=kettle), reach=BASE_METHODS["kinetic"].reach)


def test_hops_of_one_minute_cannot_lie_at_two_temperatures() -> None:
    hot = an_addition(at="whirlpool", minutes=20.0, temperature_c=90.0)
    cool = an_addition(at="whirlpool", minutes=20.0, temperature_c=80.0, pointer="#/additions/1")

    with pytest.raises(InvalidRequest, match="here of 90 and 80 °C"):
        accept_brew(a_brew(hot, cool), reach=BASE_METHODS["kinetic"].reach)

    assert accept_brew(a_brew(hot, cool), reach=BASE_METHODS["tinseth"].reach).additions == (hot, cool)
    assert accept_brew(a_brew(hot, hot), reach=BASE_METHODS["kinetic"].reach).additions == (hot, hot)
