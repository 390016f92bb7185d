"""What the specialist sees of the loaded region: what it grows, wants and lacks."""

from seed_demo.saying import Tour, kg, span, tell, title
from service.market.people.access import Caller
from service.market.planning.outlook_supply import Supply
from service.usecases.planning.outlook import show_demand, show_harvest, show_shortfall, show_supply

SPECIALIST = Caller("specialist", None)
ROWS_SHOWN = 5


def show_region(tour: Tour) -> None:
    """Sums of the region: kilograms, alpha acids, open requests, and why some of them go unmet."""
    who, now = SPECIALIST, tour.now
    supply = tour.records.read(lambda s: show_supply(s, caller=who, asked={}, now=now))
    harvest = tour.records.read(lambda s: show_harvest(s, caller=who, asked={}, now=now))
    demand = tour.records.read(lambda s: show_demand(s, caller=who, now=now))
    short = tour.records.read(lambda s: show_shortfall(s, caller=who, requests_max=500, now=now))
    title(tour, "What the region grows, wants and lacks, as its specialist sees it")
    _tell_supply(tour, supply)
    expected = harvest.totals
    tour.say(f"announced, not weighed yet: {kg(expected.mass_kg)} kg of {expected.lots} lot(s)")
    wanted = demand.totals.wanted
    tour.say(
        f"{demand.totals.requests} open requests of {demand.totals.breweries} breweries still want"
        f" {kg(wanted.still_wanted_kg)} kg, and {wanted.still_wanted_alpha_kg:.1f} kg of alpha acids"
    )
    lack = short.totals.short_kg
    tour.say(f"short of it: {lack.at_least:g} kg at least, {lack.at_most:g} kg at most")
    for one in short.unmet:
        words = "; ".join(one.why) or "others take of the same lots"
        tell(tour, f"{one.request_code}, {one.standing.replace('_', ' ')}: {words}")


def _tell_supply(tour: Tour, supply: Supply) -> None:
    stock, alpha = supply.totals.weighed, supply.totals.alpha
    grown_kg = stock.mass_kg if stock.grown_kg is None else stock.grown_kg
    tour.say(f"{kg(grown_kg)} kg grown by {supply.totals.growers} growers; {kg(stock.free_kg)} kg are free")
    tour.say(
        f"alpha acids in {kg(alpha.analysed_kg)} kg of it: {span(alpha.alpha_kg, digits=0)} kg;"
        f" {kg(alpha.not_analysed_kg)} kg were not analysed"
    )
    rows = sorted(supply.rows, key=lambda row: row.weighed.free_kg, reverse=True)
    for row in rows[:ROWS_SHOWN]:
        if row.kind is not None:
            tell(
                tour,
                f"{row.cultivar or 'of several':<16} {row.kind.crop_year} {row.kind.form:<11}"
                f" {kg(row.weighed.free_kg):>7} kg free of {row.growers} growers",
            )
