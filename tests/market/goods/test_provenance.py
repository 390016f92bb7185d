"""Where a lot grew, and what is certified of it."""

from datetime import date

import pytest

from service.errors import InvalidRequest
from service.facts import replace
from service.market.goods.lots import accept_lot
from service.market.goods.provenance import (
    Certification,
    block_key,
    certification_faults,
    origin_faults,
    shown_on,
)
from tests.factories import TODAY, LotFactory

ORGANIC = Certification(
    kind="organic",
    scheme="Valley Organic",
    certifier="Heron Certification",
    number="VO-17",
    valid_until=date(2026, 12, 31),
)


def test_a_certification_holds_on_its_last_day_and_has_lapsed_the_day_after() -> None:
    last, after = shown_on([ORGANIC], date(2026, 12, 31)), shown_on([ORGANIC], date(2027, 1, 1))

    assert (last[0].lapsed, after[0].lapsed) == (False, True)
    assert (after[0].scheme, after[0].number) == ("Valley Organic", "VO-17")


@pytest.mark.parametrize("other", ["NORTH field", " North  Field ", "north-field"])
def test_one_block_has_one_key_however_it_is_typed(other: str) -> None:
    assert block_key(other) == block_key("North Field")


def test_a_block_named_by_signs_alone_has_a_key_of_its_own() -> None:
    assert block_key("#") != block_key("##")
    assert block_key(" # ") == "#"


@pytest.mark.parametrize(
    ("country", "subdivision", "pointer"),
    [
        ("CA", None, None),
        ("CA", "CA-NS", None),
        (None, None, None),
        (None, "CA-NS", "origin_country"),
        ("US", "CA-NS", "origin_subdivision"),
        ("UK", None, "origin_country"),
        ("XX", "XX-1", "origin_country"),
    ],
)
def test_a_subdivision_lies_in_its_country(
    country: str | None, subdivision: str | None, pointer: str | None
) -> None:
    assert [name for name, _ in origin_faults(country, subdivision)] == ([pointer] if pointer else [])


def test_a_certification_given_twice_is_named() -> None:
    twice = [ORGANIC, replace(ORGANIC, scheme="VALLEY organic"), replace(ORGANIC, number="VO-18")]

    assert [place for place, _ in certification_faults(twice)] == ["certifications/1"]
    assert [place for place, _ in certification_faults([replace(ORGANIC, scheme="?")])] == [
        "certifications/0/scheme"
    ]


def test_a_lot_with_faults_in_its_origin_is_not_let_in() -> None:
    lot = LotFactory(origin_country="US", origin_subdivision="CA-NS", certifications=(ORGANIC, ORGANIC))

    with pytest.raises(InvalidRequest) as refused:
        accept_lot(lot, today=TODAY)

    pointers = [fault["pointer"] for fault in refused.value.facts["errors"]]  # type: ignore[attr-defined]
    assert pointers == ["#/origin_subdivision", "#/certifications/1"]
