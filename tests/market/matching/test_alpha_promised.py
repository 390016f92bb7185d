"""Alpha in a promise, on the day it is needed."""

from datetime import date
from decimal import Decimal

import pytest

from service.market.matching.alpha_promised import alpha_promised_kg
from service.market.matching.requests import Delivery, Request
from tests.factories import TODAY, ListedLotFactory, SpellFactory


def test_a_promise_brings_less_alpha_the_later_it_is_needed() -> None:
    lot = ListedLotFactory(spells=(SpellFactory(packing="open", stored_at_c=20.0),))
    later = Request(role="aroma", deliveries=(Delivery(needed_on=date(2027, 3, 1), mass_kg=Decimal(9)),))

    now = alpha_promised_kg(lot, None, Decimal(100), today=TODAY)
    then = alpha_promised_kg(lot, later, Decimal(100), today=TODAY)

    assert now is not None
    assert then is not None
    assert 0 < then < now < 5.4


def test_it_is_proportional_to_the_mass() -> None:
    lot = ListedLotFactory()

    one, ten = (alpha_promised_kg(lot, None, Decimal(mass), today=TODAY) for mass in (1, 10))

    assert one is not None
    assert ten == pytest.approx(10 * one)


def test_without_an_analysis_there_is_no_alpha_and_not_zero() -> None:
    assert alpha_promised_kg(ListedLotFactory(reports=()), None, Decimal(10), today=TODAY) is None
