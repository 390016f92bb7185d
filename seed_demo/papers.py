"""The other papers of the trade: labels, the offer for a request, the plan of the newest allocation."""

from functools import partial

from seed_demo.saying import Tour
from service.market.matching.offers import LOTS_ON_AN_OFFER
from service.market.people.access import Caller
from service.records.session import Session
from service.sheets.delivery_note import render_delivery_note
from service.sheets.label import render_labels
from service.sheets.offer import render_offer
from service.sheets.plan import render_plan
from service.sheets.slip import render_slip
from service.usecases.goods.submissions import slip_facts, submit_sample
from service.usecases.matching.matching import offer_for_request
from service.usecases.planning.allocations import list_allocations, show_allocation
from service.usecases.sheet.sheets import label_facts
from service.usecases.trade.delivery_notes import delivery_note

SPECIALIST = Caller("specialist")


def print_papers(tour: Tour, *, lot_code: str, request_code: str) -> None:
    """One of each as files beside the spec sheets."""
    at = f"{tour.address}/v1"
    labels = tour.records.read(
        lambda s: label_facts(
            s,
            lot_code,
            caller=SPECIALIST,
            first=1,
            last=None,
            now=tour.now,
            address=f"{at}/lots/{lot_code}",
        )
    )
    _keep(tour, f"{lot_code}-labels.pdf", render_labels(labels))
    offer = tour.records.read(
        lambda s: offer_for_request(
            s,
            request_code,
            caller=SPECIALIST,
            now=tour.now,
            limit=LOTS_ON_AN_OFFER,
            address=f"{at}/requests/{request_code}/matches",
        )
    )
    _keep(tour, f"{request_code}-offer.pdf", render_offer(offer))
    for known, _ in tour.records.read(lambda s: list_allocations(s, caller=SPECIALIST, after=None, limit=1)):
        code = known.code
        done = tour.records.read(partial(show_allocation, code=code, caller=SPECIALIST))
        _keep(tour, "plan.pdf", render_plan(done, url=f"{at}/allocations/{code}"))


def keep_note(tour: Tour, session: Session, reservation_code: str) -> None:
    """The delivery note of a confirmed promise, as a file."""
    facts = delivery_note(
        session,
        caller=SPECIALIST,
        parcels=[{"reservation_code": reservation_code, "package_numbers": "1"}],
        handover="collection",
        is_cold=True,
        now=tour.now,
        address=f"{tour.address}/v1/reservations/{reservation_code}",
    )
    _keep(tour, "delivery-note.pdf", render_delivery_note(facts))


def keep_slip(tour: Tour, session: Session, lot_code: str) -> None:
    """A sample that goes to a laboratory, and its slip as a file."""
    asked = {
        "mass_g": 150,
        "sent_on": tour.now.date(),
        "laboratory": "Quarry Lane Laboratory",
        "tests": ("moisture", "alpha_beta", "oil"),
        "note": None,
    }
    sent = submit_sample(session, lot_code, caller=SPECIALIST, asked=asked, now=tour.now)
    address = f"{tour.address}/v1/lots/{lot_code}"
    facts = slip_facts(session, lot_code, sent.code, caller=SPECIALIST, address=address, now=tour.now)
    _keep(tour, f"{lot_code}-{sent.code}-slip.pdf", render_slip(facts))


def _keep(tour: Tour, name: str, file: bytes) -> None:
    path = tour.folder / name
    path.write_bytes(file)
    tour.say(f"{path.name}  ({path.stat().st_size // 1024} KiB)")
