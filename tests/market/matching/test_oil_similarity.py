"""How like the oil of lots is to a wish: the same as comparing them one by one, and said with its limits."""

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRange, UnlikeProfiles
from service.market.goods.cultivars import RegionalCultivar
from service.market.goods.lab_reports import NO_FIGURES, standing_figures
from service.market.matching.oil_similarity import (
    ASSUMPTION,
    OilShares,
    OilWish,
    liken,
    measured_wish,
    oil_table,
    published_wish,
    wish_assumptions,
)
from service.reference.cultivars import Figure, all_cultivars, find_cultivar
from service.science.oil_profile import OilProfile, compare_oil_profiles
from tests.factories import LabReportFactory

PARTS = ("myrcene", "humulene", "caryophyllene", "farnesene", "linalool", "geraniol")
CASCADE = {"myrcene": 52.5, "humulene": 10.5, "caryophyllene": 4.5, "farnesene": 5.0}

shares = st.dictionaries(
    st.sampled_from(PARTS),
    st.just(0.0) | st.floats(0.01, 16.5) | st.floats(0, 1e-6),
    min_size=1,
)
lots = st.lists(
    st.none() | st.builds(OilShares, basis=st.sampled_from(["peak_area", "mass"]), percent=shares),
    max_size=12,
)


def a_wish(percent: Mapping[str, float] = CASCADE, basis: str = "peak_area") -> OilWish:
    return OilWish(of="lot X", profile=OilProfile(basis=basis, shares_percent=percent))


def alone(wish: OilWish, own: OilShares | None) -> float:
    """The similarity by the published comparison of two; NaN where it refuses."""
    if own is None or wish.profile is None:
        return float("nan")
    try:
        return compare_oil_profiles(
            first=wish.profile, second=OilProfile(basis=own.basis, shares_percent=own.percent)
        ).similarity
    except (UnlikeProfiles, OutOfRange):
        return float("nan")


@given(shares, lots)
def test_liken_gives_what_comparing_one_by_one_gives(
    wished: dict[str, float], measured: list[OilShares | None]
) -> None:
    wish = a_wish(wished)

    found = liken(wish, oil_table(measured))

    np.testing.assert_allclose(
        found.similarity, np.array([alone(wish, own) for own in measured], dtype=float), rtol=1e-9
    )
    known = found.similarity[~np.isnan(found.similarity)]
    assert ((known > 0) & (known <= 1)).all()
    for place, similarity in enumerate(found.similarity.tolist()):
        assert found.words(place).startswith("at most ") != np.isnan(similarity)


@given(lots, st.randoms(use_true_random=False))
def test_the_order_of_lots_does_not_matter(
    measured: list[OilShares | None], random: np.random.Generator
) -> None:
    order = random.sample(range(len(measured)), len(measured))

    one = liken(a_wish(), oil_table(measured)).similarity
    other = liken(a_wish(), oil_table([measured[place] for place in order])).similarity

    np.testing.assert_allclose(one[order], other, rtol=1e-9)


@given(st.dictionaries(st.sampled_from(PARTS), st.floats(0.01, 16), min_size=4), st.data())
def test_leaving_a_part_out_never_makes_two_oils_less_alike(
    own: dict[str, float], data: st.DataObject
) -> None:
    wish = a_wish(dict.fromkeys(PARTS, 10.0))
    left = dict(own)
    del left[data.draw(st.sampled_from(sorted(own)))]

    found = liken(
        wish,
        oil_table([OilShares(basis="peak_area", percent=own), OilShares(basis="peak_area", percent=left)]),
    )

    assert found.similarity[1] >= found.similarity[0] - 1e-12


def test_shares_that_cannot_be_are_not_compared() -> None:
    over = OilShares(basis="peak_area", percent={"myrcene": 60.0, "humulene": 30.0, "caryophyllene": 11.0})

    found = liken(a_wish(), oil_table([over]))

    assert np.isnan(found.similarity[0])
    assert found.words(0) == "sum of the shares must be 0 to 100.5 %, not 101"


@pytest.mark.parametrize(
    ("own", "words"),
    [
        (None, "no shares of its oil were measured"),
        (
            OilShares(basis="mass", percent=CASCADE),
            "the shares stand on different bases, peak_area and mass",
        ),
        (
            OilShares(basis="peak_area", percent={"myrcene": 50.0, "humulene": 12.0}),
            "2 parts of the oil are known of both, 3 are needed",
        ),
        (
            OilShares(basis="peak_area", percent={"myrcene": 0.0, "humulene": 0.0, "farnesene": 0.0}),
            "no share of the oil is known of one of the two",
        ),
    ],
    ids=["nothing", "basis", "few", "zeros"],
)
def test_what_cannot_be_compared_says_why(own: OilShares | None, words: str) -> None:
    found = liken(a_wish(), oil_table([own]))

    assert np.isnan(found.similarity[0])
    assert found.words(0) == words


def test_a_wish_without_a_profile_compares_nothing_and_says_why() -> None:
    found = liken(
        OilWish(of="lot X", missing="gone"), oil_table([OilShares(basis="peak_area", percent=CASCADE)])
    )

    assert np.isnan(found.similarity[0])
    assert found.words(0) == "gone"


# Hop Growers of America variety data: myrcene 45 to 60, humulene 8 to 13, caryophyllene 3.5 to 5.5, farnesene 3 to 7.
def test_a_published_wish_takes_ranges_by_their_middle_and_tells_both_traditions() -> None:
    cascade = find_cultivar("Cascade")
    assert cascade is not None

    wish = published_wish(cascade)
    found = liken(wish, oil_table([OilShares(basis="peak_area", percent={**CASCADE, "linalool": 0.4})]))

    assert wish.profile == OilProfile(basis="peak_area", shares_percent=CASCADE)
    assert found.similarity[0] == pytest.approx(1.0)
    # ln 2 on one of four parts: clr moves by 3/4 and thrice -1/4 of it, so d = ln 2 sqrt(3)/2 and 1/(1 + d) = 0.62.
    assert found.words(0) == (
        "at most 1.00 like Cascade as published (US figures, ranges by their middle), by caryophyllene, farnesene,"
        " humulene, myrcene (0.62 to 1.00 if their myrcene does not compare); a similar oil profile does not mean the"
        " same aroma"
    )


def test_only_published_shares_are_told_across_traditions() -> None:
    own = OilShares(basis="peak_area", percent={"humulene": 20.0, "caryophyllene": 8.0, "farnesene": 5.0})
    cascade = find_cultivar("Cascade")
    assert cascade is not None

    assert "if their myrcene" not in liken(a_wish(), oil_table([own])).words(0)
    assert "if their myrcene" not in liken(published_wish(cascade), oil_table([own])).words(0)


def test_every_shipped_cultivar_gives_a_profile_or_a_reason() -> None:
    told = {cultivar.denomination: published_wish(cultivar) for cultivar in all_cultivars()}

    assert all((wish.profile is None) == bool(wish.missing) for wish in told.values())
    assert told["Willamette"].missing == "no oil shares of Willamette are published here"
    assert told["Bobek"].missing == "the published oil shares of Bobek stand on no named basis"
    assert "European figures" in told["Saazer"].of


def regional(**percent: float) -> RegionalCultivar:
    return RegionalCultivar(
        code="OWN-1",
        denomination="Own 1",
        synonyms=(),
        role="aroma",
        source="the station's own trials",
        figures=tuple(
            Figure(
                quantity=f"{part}_percent_of_oil",
                low=value,
                high=value,
                unit="% of oil",
                is_single_mean=True,
                basis="european",
                mark="told by the specialist",
                source="the station's own trials",
                note=None,
            )
            for part, value in percent.items()
        ),
    )


def test_a_cultivar_of_the_region_is_wished_for_as_its_books_have_it() -> None:
    wish = published_wish(regional(myrcene=30.0, humulene=20.0, caryophyllene=9.0))

    assert wish.profile == OilProfile(
        basis="peak_area", shares_percent={"myrcene": 30.0, "humulene": 20.0, "caryophyllene": 9.0}
    )
    over = published_wish(regional(myrcene=60.0, humulene=30.0, caryophyllene=20.0))
    assert over.profile is None
    assert "cannot be: sum of the shares must be 0 to 100.5 %, not 110" in over.missing


def test_a_measured_wish_is_what_stands_for_the_lot() -> None:
    figures = standing_figures([LabReportFactory(oil_shares_percent=CASCADE, oil_shares_basis="mass")])

    assert measured_wish("X", figures) == OilWish(
        of="lot X", profile=OilProfile(basis="mass", shares_percent=CASCADE)
    )
    assert measured_wish("X", NO_FIGURES).missing == "no oil shares of lot X were measured"
    assert measured_wish("X", None).missing == "lot X, whose oil is wished for, cannot be seen at present"


def test_the_assumptions_name_what_was_taken_as_given() -> None:
    assert wish_assumptions(published=False) == (ASSUMPTION,)
    assert wish_assumptions(published=True)[1] == (
        "published oil shares are taken as shares of the peak area (assumption, no source); US and European figures of"
        " one cultivar differ about twofold in myrcene; a laboratory may find 0.50 to 2.00 times what was published"
        " (derived)"
    )
