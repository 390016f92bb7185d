"""The plan of an allocation: who takes what from whom, stop by stop, then what each brewery gets."""

from datetime import date
from decimal import Decimal

from service.market.goods.lots import Package
from service.market.planning.allocations import (
    Allocation,
    AllocationPlan,
    GrowerInPlan,
    LotInPlan,
    Parcel,
    Proof,
)
from service.market.planning.rules import RULE_WORDS
from service.sheets.pages import Column, PagesLines, PartLines, render_pages
from service.sheets.words import ENGLISH, Words


def render_plan(allocation: Allocation, *, url: str, paper: str = "a4", words: Words = ENGLISH) -> bytes:
    """Print the plan of an allocation.

    Raises:
        OutOfRange: there is no paper of that name.

    """
    return render_pages(plan_lines(allocation, url=url, words=words), paper=paper, words=words)


def plan_lines(allocation: Allocation, *, url: str, words: Words = ENGLISH) -> PagesLines:
    """Put a plan into words."""
    say, code, plan = words.say, allocation.code, allocation.plan
    accepted = allocation.accepted_at
    names = {request.brewery_code: request.brewery_name for request in plan.requests}
    needed = {request.request_code: request.needed_on for request in plan.requests}
    stops = [_stop(n, one, names, needed, words) for n, one in enumerate(plan.by_grower(), start=1)]
    nothing = PartLines(heading=say("plan_headline"), texts=(say("plan_nothing"),))
    day = words.day(plan.planned_on)
    return PagesLines(
        kind=say("plan_kind"),
        title=say("plan_title", code=code),
        subject=say("plan_subject", code=code),
        author=allocation.asked_by,
        language=words.language,
        status=say("plan_accepted", day=words.day(accepted.date())) if accepted else say("plan_open"),
        headline=say("plan_headline"),
        under_headline=say("plan_under", code=code, day=day, rule=RULE_WORDS[plan.rule]),
        parts=(*(stops or [nothing]), _breweries(plan, words), _figures(plan, words)),
        foot=(say("plan_foot"),),
        code=code,
        url=url,
        scan=code,
    )


def _stop(
    number: int, grower: GrowerInPlan, names: dict[str, str], needed: dict[str, date], words: Words
) -> PartLines:
    say = words.say
    return PartLines(
        heading=say(
            "plan_stop",
            number=number,
            grower=grower.grower_name,
            code=grower.grower_code,
            mass=words.kg_lb(grower.taken_kg),
        ),
        columns=(
            Column(say("plan_lot"), 1.3),
            Column(say("plan_hops"), 1.5),
            Column(say("plan_goes_to"), 1.6),
            Column(say("plan_request"), 1.2),
            Column(say("plan_needed"), 0.9),
            Column(say("plan_away"), 0.6, "right"),
            Column(say("plan_mass"), 1.2, "right"),
        ),
        rows=tuple(
            _parcel(lot, parcel, names, needed, words) for lot in grower.lots for parcel in lot.parcels
        ),
    )


def _parcel(
    lot: LotInPlan, parcel: Parcel, names: dict[str, str], needed: dict[str, date], words: Words
) -> tuple[str, ...]:
    say = words.say
    name = names.get(parcel.brewery_code, parcel.brewery_code)
    return (
        lot.lot_code,
        ", ".join(
            [lot.cultivar, say(f"form_{lot.form}"), *(_package(one, words) for one in parcel.packages)]
        ),
        say("grower_code", name=name, code=parcel.brewery_code),
        parcel.request_code,
        words.day(needed[parcel.request_code]),
        say("offer_km", km=parcel.distance_km),
        words.kg_lb(parcel.mass_kg),
    )


def _package(package: Package, words: Words) -> str:
    kind = words.say(f"kind_{package.kind}")
    return words.say("package_line", count=package.count, kind=kind, mass=_kg(package.net_kg, words))


def _breweries(plan: AllocationPlan, words: Words) -> PartLines:
    say = words.say
    return PartLines(
        heading=say("plan_breweries"),
        columns=(
            Column(say("plan_brewery"), 1.8),
            Column(say("plan_request"), 1.3),
            Column(say("plan_needed"), 0.9),
            Column(say("plan_wanted"), 0.9, "right"),
            Column(say("plan_served"), 0.9, "right"),
            Column(say("plan_open_kg"), 0.9, "right"),
            Column(say("plan_lacks"), 2.4),
        ),
        rows=tuple(
            (
                say("grower_code", name=request.brewery_name, code=request.brewery_code),
                request.request_code,
                words.day(request.needed_on),
                _kg(request.wanted_kg, words),
                _kg(request.served_kg, words),
                _kg(request.lacks_kg, words),
                "; ".join(request.lacks),
            )
            for request in plan.requests
        ),
    )


def _kg(mass_kg: Decimal, words: Words) -> str:
    return words.say("plan_kg", kg=words.mass(mass_kg))


def _figures(plan: AllocationPlan, words: Words) -> PartLines:
    mass = words.say("plan_tally", mass=words.kg_lb(plan.tally.mass_kg), parcels=plan.tally.parcels)
    return PartLines(
        heading=words.say("plan_figures"),
        texts=(
            mass,
            *plan.summary,
            *(_proof(p, words) for p in plan.proofs),
            *plan.cautions,
            *plan.assumptions,
        ),
    )


def _proof(proof: Proof, words: Words) -> str:
    return words.say(
        "plan_proof",
        of=proof.of,
        value=words.number(proof.value, digits=7),
        bound=words.number(proof.bound, digits=7),
        name=proof.bound_name,
        gap=words.number(proof.gap_percent),
    )
