"""The offer for a request: the matching lots side by side, with reasons and cost."""

from service.market.matching.limit_facts import Failure
from service.market.matching.matching import Match
from service.market.matching.offers import NEAR_MISSES_ON_AN_OFFER, OfferFacts
from service.market.matching.requests import Delivery
from service.science.uncertainty import Estimate
from service.sheets.pages import Column, PagesLines, PartLines, render_pages
from service.sheets.words import ENGLISH, Words


def render_offer(facts: OfferFacts, *, paper: str = "a4", words: Words = ENGLISH) -> bytes:
    """Print an offer.

    Raises:
        OutOfRange: there is no paper of that name.

    """
    return render_pages(offer_lines(facts, words=words), paper=paper, words=words)


def offer_lines(facts: OfferFacts, *, words: Words = ENGLISH) -> PagesLines:
    """Put an offer into words."""
    say, code, brewery = words.say, facts.request.code, facts.brewery.name
    return PagesLines(
        kind=say("offer_kind"),
        title=say("offer_title", code=code),
        subject=say("offer_subject", code=code, brewery=brewery),
        author=brewery,
        language=words.language,
        status="",
        headline=say("offer_headline", brewery=brewery),
        under_headline=f"{_wanted(facts, words)}. {say('offer_status', day=words.day(facts.printed_on))}.",
        parts=(
            _side_by_side(facts, words),
            *_why(facts, words),
            *_near(facts, words),
            PartLines(heading=say("offer_terms"), texts=(*facts.cautions, *facts.assumptions)),
        ),
        foot=(say("offer_foot"),),
        code=code,
        url=facts.public_url,
        scan=code,
    )


def _wanted(facts: OfferFacts, words: Words) -> str:
    first, *others = sorted(facts.request.deliveries, key=lambda delivery: delivery.needed_on)
    said = words.say(
        "offer_request", code=facts.request.code, mass=_need(first, words), day=words.day(first.needed_on)
    )
    return words.say("offer_several", first=said, count=len(others)) if others else said


def _need(delivery: Delivery, words: Words) -> str:
    if delivery.mass_kg is not None:
        return words.kg_lb(delivery.mass_kg)
    if delivery.bitterness is not None:
        wish = delivery.bitterness
        return words.say("offer_bitterness", ibu=words.number(wish.ibu), volume=words.number(wish.volume_l))
    return words.say("offer_alpha", alpha=words.number(delivery.alpha_kg_needed or 0.0))


def _side_by_side(facts: OfferFacts, words: Words) -> PartLines:
    """A row for each property, a column for each lot."""
    say, matches = words.say, facts.matches
    if not matches:
        return PartLines(heading=say("offer_lots"), texts=(say("offer_none"),))
    day = words.day(facts.request.last_needed_on)
    rows = (
        (say("offer_hops"), *(f"{m.cultivar}, {say(f'form_{m.form}')}" for m in matches)),
        (say("offer_grower"), *(m.grower_code for m in matches)),
        (say("offer_alpha_then", day=day), *(_found(m.alpha_percent_when_needed, 1, words) for m in matches)),
        (
            say("offer_index_then", day=day),
            *(_found(m.hop_storage_index_when_needed, 2, words) for m in matches),
        ),
        (say("offer_chance"), *(_percent(m.chance_all_limits_met, words) for m in matches)),
        (say("offer_away"), *(say("offer_km", km=m.distance_km) for m in matches)),
        (say("offer_parcel"), *(f"{words.mass(m.parcel_kg)} / {words.mass(m.free_kg)}" for m in matches)),
        (say("offer_cost"), *(_cost(m, words) for m in matches)),
    )
    return PartLines(
        heading=say("offer_lots"),
        texts=(say("offer_more_exist"),) if facts.has_more else (),
        columns=(Column("", 1.1), *(Column(m.lot_code, 1.0) for m in matches)),
        rows=rows,
    )


def _found(found: Estimate | None, places: int, words: Words) -> str:
    return words.say("offer_not_known") if found is None else words.estimate(found, places=places)


def _percent(share: float, words: Words) -> str:
    return words.say("offer_percent", value=words.fixed(100 * share, places=0))


def _cost(match: Match, words: Words) -> str:
    cost = match.cost
    if cost is None:
        return words.say("offer_by_agreement")
    amount = words.fixed(float(cost.amount), places=2)
    if cost.per_kg_alpha is None:
        return words.say("offer_money", amount=amount, currency=cost.currency)
    per = words.fixed(cost.per_kg_alpha, places=2)
    return words.say("offer_per_alpha", amount=amount, currency=cost.currency, per=per)


# From here on a part of the score speaks for a lot, and down from there against it: house figures.
SPEAKS_FOR = 0.8
SPEAKS_AGAINST = 0.5


def _why(facts: OfferFacts, words: Words) -> tuple[PartLines, ...]:
    """One short line for each lot: what speaks for it, and what against it."""
    if not facts.matches:
        return ()
    texts = tuple(
        words.say("offer_why_line", lot=match.lot_code, reasons=_reasons(match, words))
        for match in facts.matches
    )
    return (PartLines(heading=words.say("offer_why"), texts=texts),)


def _reasons(match: Match, words: Words) -> str:
    good, bad = [], []
    for name, value in match.parts.items():
        if value is None:
            bad.append(words.say(f"offer_unknown_{name}"))
        elif value >= SPEAKS_FOR:
            good.append(words.say(f"offer_good_{name}"))
        elif value <= SPEAKS_AGAINST:
            bad.append(words.say(f"offer_bad_{name}"))
    if good and bad:
        return words.say("offer_but", good=", ".join(good), bad=", ".join(bad))
    return ", ".join(good or bad) or words.say("offer_nothing_said")


def _near(facts: OfferFacts, words: Words) -> tuple[PartLines, ...]:
    """Near misses as sentences: lots that the same change would let in stand together."""
    lots_by_change: dict[str, list[str]] = {}
    for miss in facts.near_misses[:NEAR_MISSES_ON_AN_OFFER]:
        change = " and ".join(_change(failure, words) for failure in miss.fails)
        lot = words.say("offer_lot", lot=miss.lot_code, cultivar=miss.cultivar)
        lots_by_change.setdefault(change, []).append(lot)
    if not lots_by_change:
        return ()
    texts = tuple(
        words.say("offer_near_line", lots=" and ".join(lots), fails=change)
        for change, lots in lots_by_change.items()
    )
    return (PartLines(heading=words.say("offer_near"), texts=texts),)


def _change(failure: Failure, words: Words) -> str:
    """A change in words: that of a figure names its limit, any other is written in words already."""
    figure = f"offer_figure_{failure.limit.removesuffix('_min').removesuffix('_max')}"
    if failure.found is None and figure in words.texts:
        return words.say("offer_figure", what=words.say(figure))
    prefix, name = f"{failure.limit} ", f"offer_limit_{failure.limit}"
    if failure.change.startswith(prefix) and name in words.texts:
        return f"{words.say(name)} {failure.change.removeprefix(prefix)}"
    return failure.change
