"""The printed offer: lots side by side on one page, in words a brewer uses."""

from datetime import date
from decimal import Decimal

import pytest

from service.market.brewing.bitterness_targets import BitternessTarget
from service.market.matching.limit_facts import Failure
from service.market.matching.matching import Cost, Match, NearMiss
from service.market.matching.offers import OfferFacts
from service.market.matching.requests import Delivery, Request
from service.science.uncertainty import Estimate
from service.sheets.offer import offer_lines, render_offer
from tests.factories import TODAY, PartyFactory
from tests.sheets.made import LONG_NAME, bare, printed_text, read

REASON = "freshness 0.90: alpha keeps 95 % of what was analysed until the last day needed, packed in vacuum"


def match(n: int, **told: object) -> Match:
    """One match; every third without price and without acids."""
    bare_one = n % 3 == 0
    given = {
        "lot_code": f"ALDERBROOKIN-2026-00000{n}",
        "grower_code": "ALDERBROOKIN",
        "cultivar": "Hallertauer Mittelfrüher",
        "form": "pellet_enriched",
        "score": 0.834,
        "parts": {"price": 0.93, "distance": 0.7, "oil": None, "freshness": 0.4, "cultivar": 1.0},
        "reasons": (REASON,) * 6,
        "alpha_percent_when_needed": None if bare_one else Estimate(4.91, 4.62, 5.13),
        "hop_storage_index_when_needed": None if bare_one else Estimate(0.31, 0.29, 0.34),
        "alpha_method": None if bare_one else "asbc_hops_14",
        "chance_all_limits_met": 0.94,
        "distance_km": 84,
        "free_kg": Decimal("120.5"),
        "parcel_kg": Decimal(60),
        "cost": None if bare_one else Cost(amount=Decimal(1440), currency="CAD", per_kg_alpha=488.8),
    }
    return Match(**{**given, **told})


def facts(count: int, **told: object) -> OfferFacts:
    """An offer of so many lots."""
    given = {
        "request": Request(
            code="FINCH-REQ-01",
            role="bittering",
            deliveries=(
                Delivery(needed_on=date(2027, 2, 1), mass_kg=Decimal(60)),
                Delivery(needed_on=date(2027, 4, 1), mass_kg=Decimal(30)),
            ),
        ),
        "brewery": PartyFactory(kind="brewery", code="FINCH", name=LONG_NAME),
        "matches": [match(n) for n in range(1, count + 1)],
        "has_more": False,
        "near_misses": [
            NearMiss(
                lot_code="ROWAN-2026-01",
                cultivar="Nugget",
                fails=(
                    Failure(limit="alpha_percent_min", wanted=9.0, found=8.6, change="alpha_percent_min 8.6"),
                ),
                off=0.1,
            )
        ],
        "assumptions": ["distances are great-circle distances, not roads"],
        "cautions": [],
        "printed_on": TODAY,
        "public_url": "https://hops.example.org/v1/requests/FINCH-REQ-01/matches",
    }
    return OfferFacts(**{**given, **told})


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("count", [0, 1, 6])
def test_an_offer_takes_one_page_and_says_every_word(count: int, paper: str) -> None:
    file = render_offer(facts(count), paper=paper)
    text = printed_text(file)
    lines = offer_lines(facts(count))

    assert len(read(file).pages) == 1
    said = [text for part in lines.parts for row in part.rows for text in row]
    said += [text for part in lines.parts for text in part.texts if len(text) < 300]
    if count < 6:
        assert [words for words in said if bare(words) not in text] == []
    assert "None" not in text


def test_a_lot_without_acids_or_price_says_so() -> None:
    text = printed_text(render_offer(facts(3)))

    assert "notmeasured" in text
    assert "byagreement" in text
    assert bare("60 kg (132.3 lb) by 1 Feb 2027 and 1 more deliveries") in text


def test_a_wish_for_bitterness_is_told_as_such() -> None:
    wish = Delivery(
        needed_on=date(2027, 2, 1), bitterness=BitternessTarget(ibu=35.0, volume_l=20000.0, gravity_sg=1.056)
    )
    request = Request(code="FINCH-REQ-02", role="bittering", deliveries=(wish,))

    assert "35IBUin20000L" in printed_text(render_offer(facts(1, request=request)))


def test_each_lot_has_one_short_line_without_scores_codes_or_field_names() -> None:
    lines = offer_lines(facts(2))
    (why,) = (part for part in lines.parts if part.heading == "Why these")
    (near,) = (part for part in lines.parts if part.heading == "Nearly")
    text = printed_text(render_offer(facts(2)))

    assert why.texts[0] == (
        "ALDERBROOKIN-2026-000001: cheap for its alpha, wanted by name; but oil not measured, aged."
    )
    assert near.texts == ("ROWAN-2026-01 (Nugget): it would take alpha from 8.6.",)
    assert [
        word for word in ("weight", "asbc_hops", "_percent", "_max", "_min", "0.93") if word in text
    ] == []


def test_lots_that_one_change_lets_in_stand_in_one_sentence() -> None:
    def miss(code: str, limit: str, found: float | None, change: str) -> NearMiss:
        failure = Failure(limit=limit, wanted=9.0, found=found, change=change)
        return NearMiss(lot_code=code, cultivar="Nugget", fails=(failure,), off=0.1)

    misses = [
        miss("A-1", "price_per_kg_max", 30.5, "price_per_kg_max 30.5"),
        miss("A-2", "price_per_kg_max", 30.5, "price_per_kg_max 30.5"),
        miss("A-3", "oil_ml_per_100g_min", None, "a laboratory figure"),
        miss("A-4", "currency", None, "a price in CAD, or one by agreement"),
    ]

    (near,) = (p for p in offer_lines(facts(1, near_misses=misses)).parts if p.heading == "Nearly")

    assert near.texts == (
        "A-1 (Nugget) and A-2 (Nugget): it would take a price per kg up to 30.5.",
        "A-3 (Nugget): it would take a laboratory figure for oil.",
        "A-4 (Nugget): it would take a price in CAD, or one by agreement.",
    )
