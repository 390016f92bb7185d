"""How similar the oil of each lot is to a wished profile: the part `profile` of the score.

Shares of many lots are grouped by their basis and the parts that were measured, so that each group is
compared at once; the words for a lot that is shown come from `compare_oil_profiles`. Published shares are
compared as shares of the peak area, a house assumption: publishers never say area or mass. Lots measured by
mass are not compared with them. The part weighs 0.2 for aroma, else 0.1, and only where it is wished for.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from service.errors import OutOfRange, UnlikeProfiles
from service.facts import Fact, replace
from service.market.goods.cultivars import RegionalCultivar
from service.market.goods.lab_reports import Figures
from service.reference.assumptions import get_assumption
from service.reference.cultivars import Cultivar
from service.science.arrays import Numbers, Places
from service.science.oil_profile import (
    DETECTION_PERCENT,
    FEWEST_COMMON_PARTS,
    LARGEST_SUM_PERCENT,
    LEAST_SHARE_PERCENT,
    ZERO_SHARE_OF_LIMIT,
    OilProfile,
    compare_oil_profiles,
)

OF_OIL = "_percent_of_oil"
MYRCENE = "myrcene"
# On which of the laboratories' bases published shares are taken to stand; assumption, no source.
PUBLISHED_ON = "peak_area"
PUBLISHERS = {"us": "US", "european": "European"}
SAME_OIL_IS_NOT_SAME_AROMA = "a similar oil profile does not mean the same aroma"
ASSUMPTION = (
    "profile is 1/(1 + d), d being Aitchison's distance over the parts of the oil that are known of both (the scale is a"
    " convention of this service, no source): at most so alike, since a part that was not measured can only set the"
    f" two apart; {SAME_OIL_IS_NOT_SAME_AROMA}"
)


class OilShares(Fact, frozen=True, kw_only=True):
    """The shares of one lot's oil as its standing report has them, on a basis of the laboratory."""

    basis: str
    percent: Mapping[str, float]


class OilWish(Fact, frozen=True, kw_only=True):
    """The profile that is wished for, and what it is of; without one, `missing` says why."""

    of: str
    profile: OilProfile | None = None
    missing: str = ""
    # Whose figures were published; None of a profile that was measured of a lot.
    published_basis: str | None = None


class OilGroup(Fact, frozen=True, kw_only=True):
    """Lots whose reports name the same parts on the same basis: one row each."""

    basis: str
    parts: tuple[str, ...]
    places: Places
    percent: Numbers


class OilTable(Fact, frozen=True, kw_only=True):
    """The oil shares of many lots, lot by lot and in groups."""

    shares: Sequence[OilShares | None]
    groups: tuple[OilGroup, ...]


class OilAlike(Fact, frozen=True, kw_only=True):
    """How like each lot's oil is to the wish; NaN where that cannot be told."""

    wish: OilWish
    table: OilTable
    similarity: Numbers

    def words(self, place: int) -> str:
        """What is said of one lot: how alike, over which parts, or why nobody can tell."""
        if self.wish.profile is None:
            return self.wish.missing
        own = self.table.shares[place]
        if own is None:
            return "no shares of its oil were measured"
        try:
            measured = OilProfile(basis=own.basis, shares_percent=own.percent)
            found = compare_oil_profiles(first=self.wish.profile, second=measured)
        except (UnlikeProfiles, OutOfRange) as unlike:
            return unlike.detail
        said = f"at most {found.similarity:.2f} like {self.wish.of}, by {', '.join(found.parts)}"
        if self.wish.published_basis is not None and MYRCENE in found.parts:
            low, high = _across_traditions(self.wish.profile, measured)
            said += f" ({low:.2f} to {high:.2f} if their myrcene does not compare)"
        return f"{said}; {SAME_OIL_IS_NOT_SAME_AROMA}"


def published_wish(cultivar: Cultivar | RegionalCultivar) -> OilWish:
    """Wish for the oil of a cultivar as it is published, each range by its middle."""
    name = cultivar.denomination
    shares = {f.quantity.removesuffix(OF_OIL): f for f in cultivar.figures if f.quantity.endswith(OF_OIL)}
    if not shares:
        return OilWish(of=name, missing=f"no oil shares of {name} are published here")
    bases = {figure.basis for figure in shares.values()}
    basis = bases.pop()
    if bases or basis is None:
        return OilWish(of=name, missing=f"the published oil shares of {name} stand on no named basis")
    middles = {part: figure.middle for part, figure in shares.items()}
    of = f"{name} as published ({PUBLISHERS[basis]} figures, ranges by their middle)"
    return _wish(of, PUBLISHED_ON, middles, published_basis=basis)


def measured_wish(lot_code: str, figures: Figures | None) -> OilWish:
    """Wish for the oil of a lot as it was measured; without figures that lot cannot be seen any more."""
    of = f"lot {lot_code}"
    if figures is None:
        return OilWish(of=of, missing=f"{of}, whose oil is wished for, cannot be seen at present")
    if not figures.oil_shares_percent or figures.oil_shares_basis is None:
        return OilWish(of=of, missing=f"no oil shares of {of} were measured")
    return _wish(of, figures.oil_shares_basis, figures.oil_shares_percent, published_basis=None)


def wish_assumptions(*, published: bool) -> tuple[str, ...]:
    """What a reader of the part must know; of a published profile, that its basis was taken as given."""
    if not published:
        return (ASSUMPTION,)
    ratio = get_assumption("published_myrcene_ratio")
    return (
        ASSUMPTION,
        f"published oil shares are taken as shares of the {PUBLISHED_ON.replace('_', ' ')} (assumption, no source);"
        f" {ratio.words} ({ratio.mark})",
    )


def oil_table(shares: Sequence[OilShares | None]) -> OilTable:
    """Group lots by the parts that were measured of their oil."""
    found: dict[tuple[str, tuple[str, ...]], list[int]] = {}
    for place, one in enumerate(shares):
        if one is not None:
            found.setdefault((one.basis, tuple(sorted(one.percent))), []).append(place)
    groups = [
        OilGroup(
            basis=basis,
            parts=parts,
            places=np.array(places, dtype=np.int64),
            percent=np.array([_row(shares[place], parts) for place in places], dtype=np.float64),
        )
        for (basis, parts), places in found.items()
    ]
    return OilTable(shares=shares, groups=tuple(groups))


def liken(wish: OilWish, table: OilTable) -> OilAlike:
    """Compare every lot with the wish, as `compare_oil_profiles` would one by one."""
    similarity = np.full(len(table.shares), np.nan)
    if wish.profile is not None:
        for group in table.groups:
            if group.basis == wish.profile.basis:
                similarity[group.places] = _similarity_in(group, wish.profile.shares_percent)
    return OilAlike(wish=wish, table=table, similarity=similarity)


def _wish(of: str, basis: str, shares: Mapping[str, float], *, published_basis: str | None) -> OilWish:
    try:
        profile = OilProfile(basis=basis, shares_percent=dict(shares))
    except OutOfRange as refusal:
        return OilWish(of=of, missing=f"the oil shares of {of} cannot be: {refusal.detail}")
    return OilWish(of=of, profile=profile, published_basis=published_basis)


def _row(own: OilShares | None, parts: tuple[str, ...]) -> list[float]:
    return [own.percent[part] for part in parts] if own else []


def _similarity_in(group: OilGroup, wished: Mapping[str, float | None]) -> Numbers:
    common = [nth for nth, part in enumerate(group.parts) if wished.get(part) is not None]
    if len(common) < FEWEST_COMMON_PARTS:
        return np.full(len(group.places), np.nan)
    wanted = [wished[group.parts[nth]] for nth in common]
    # The wish stands in the first row and goes the same way as the lots.
    rows = np.vstack([np.array(wanted, dtype=np.float64), group.percent[:, common]])
    with np.errstate(divide="ignore", invalid="ignore"):
        closed = 100 * rows / rows.sum(axis=1, keepdims=True)
        zeros = closed == 0
        least = ZERO_SHARE_OF_LIMIT * DETECTION_PERCENT
        filled = np.where(zeros, least, closed * (1 - zeros.sum(axis=1, keepdims=True) * least / 100))
        logs = np.log(filled)
        ratios = logs - logs.mean(axis=1, keepdims=True)
        similarity = 1 / (1 + np.sqrt(((ratios[1:] - ratios[0]) ** 2).sum(axis=1)))
    compares = filled.min(axis=1) >= LEAST_SHARE_PERCENT
    compares[1:] &= group.percent.sum(axis=1) <= LARGEST_SUM_PERCENT
    return np.where(compares[1:] & compares[0], similarity, np.nan)


def _across_traditions(wish: OilProfile, measured: OilProfile) -> tuple[float, float]:
    """The least and the most alike, if whoever published the wish finds half or twice the lot's laboratory's myrcene."""
    ratio = get_assumption("published_myrcene_ratio")
    found = [
        compare_oil_profiles(first=_with_myrcene(wish, by), second=measured).similarity
        for by in (ratio.low, ratio.value, ratio.high)
    ]
    return min(found), max(found)


def _with_myrcene(wish: OilProfile, by: float) -> OilProfile:
    # Only ratios count: more myrcene is less of all others.
    scaled = {
        part: share if share is None else share * (min(by, 1.0) if part == MYRCENE else min(1 / by, 1.0))
        for part, share in wish.shares_percent.items()
    }
    return replace(wish, shares_percent=scaled)
