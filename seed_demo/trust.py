"""What makes a lot one to trust, told as a story: tried out on the loaded region, and taken back at the end."""

from decimal import Decimal
from typing import Any

from seed_demo.more import tell_more
from seed_demo.papers import keep_note, keep_slip
from seed_demo.saying import Tour, kg, tell, title
from service.market.goods.audit_trail import Signature
from service.market.people.access import Caller
from service.market.trade.notices import Telling
from service.market.trade.reservations import ActingFor, Reservation
from service.records.session import Session
from service.sheets.lot_sheet import render_lot_sheet
from service.usecases.goods.audit_trail import list_changes
from service.usecases.goods.certificates import attach_certificate
from service.usecases.goods.lab_reports import compare_two_reports, file_report
from service.usecases.goods.listing import list_lot, withdraw_lot
from service.usecases.goods.lots import show_lot
from service.usecases.sheet.sheets import preview_facts
from service.usecases.trade.notices import gather_notices, list_notices, save_search
from service.usecases.trade.recalls import acknowledge_recall, open_recall
from service.usecases.trade.receipts import book_return, receive_delivery
from service.usecases.trade.reservations import confirm_reservation, deliver_reservation
from service.usecases.trade.rub_samples import (
    answer_for_sample,
    ask_for_sample,
    dispatch_sample,
    select_lot,
    welcome_sample,
    write_notes,
)

BREWERY, SPECIALIST = Caller("brewery", "FINCH"), Caller("specialist")
NOBODY = {"grower_code": None, "brewery_code": None}


class _TakenBack(Exception):  # noqa: N818 -- the end of the story, not an error
    """The story is told; nothing of it stays."""


def show_trust(tour: Tour, lot_code: str) -> None:
    """Everything is done by the use cases that any caller takes, in one transaction that is taken back."""
    title(tour, f"What stands behind a lot: {lot_code} (tried out, and taken back at the end)")

    def story(session: Session) -> None:
        story = _Story(tour, session, lot_code)
        for chapter in (
            story.is_told_of,
            story.is_rubbed,
            story.is_delivered,
            story.is_analysed_again,
            story.is_recalled,
        ):
            chapter()
        tell_more(tour, session, story.lot)
        raise _TakenBack

    try:
        tour.records.write(story, signed=Signature(by=SPECIALIST.name, at=tour.now))
    except _TakenBack:
        tour.say("taken back: the region stands as it did")


class _Story:
    """One lot's way, chapter by chapter."""

    def __init__(self, tour: Tour, session: Session, lot_code: str) -> None:
        self.tour, self.session, self.code = tour, session, lot_code
        self.now, self.today = tour.now, tour.now.date()
        self.lot = show_lot(session, lot_code, caller=SPECIALIST, now=tour.now).lot
        self.grower = Caller("grower", self.lot.grower_code)
        self.promise: Reservation | None = None

    def _tell(self, text: str) -> None:
        tell(self.tour, text, lead="- ")

    def is_told_of(self) -> None:
        """A saved search, and a notice when the lot is listed anew."""
        saved = save_search(
            self.session,
            caller=BREWERY,
            name="hops like these",
            filters={"cultivar": self.lot.cultivar},
            by_mail=False,
            brewery_code=None,
            now=self.now,
        )
        readiness = self.lot.readiness or "analysed"
        withdraw_lot(self.session, self.code, caller=self.grower, now=self.now)
        list_lot(self.session, self.code, caller=self.grower, readiness=readiness, now=self.now)
        gather_notices(self.session, Telling(now=self.now, public_url=self.tour.address, by_mail=False))
        found = list_notices(self.session, caller=BREWERY, unread=True, after=None, limit=20)
        told = next(n for n in found if (n.source, n.lot_code) == (f"search:{saved.code}", self.code))
        self._tell(f"FINCH saved a search; its feed says: {told.subject}.")

    def is_rubbed(self) -> None:
        """A sample for the rub, and the offer that it leads to."""
        by = {"now": self.now}
        asked = ask_for_sample(
            self.session,
            caller=BREWERY,
            lot_code=self.code,
            mass_g=250,
            words=None,
            brewery_code=None,
            **by,
        )
        answer_for_sample(self.session, asked.code, caller=self.grower, approves=True, answer=None, **by)
        dispatch_sample(self.session, asked.code, caller=self.grower, sent_on=self.today, **by)
        welcome_sample(self.session, asked.code, caller=BREWERY, received_on=self.today, **by)
        write_notes(self.session, asked.code, caller=BREWERY, notes="orange peel", shared=False, **by)
        _, self.promise = select_lot(
            self.session,
            asked.code,
            caller=BREWERY,
            mass_kg=self._a_parcel(),
            request_code=None,
            held_until=None,
            **by,
        )
        self._tell(
            "FINCH asked for 250 g to rub, wrote notes that only FINCH reads, and offers to take"
            f" {kg(self.promise.mass_kg)} kg."
        )

    def _a_parcel(self) -> Decimal:
        packed = self.lot.packages[0].net_kg if self.lot.packages else Decimal(5)
        return max(packed, self.lot.order_kg_min or Decimal(0))

    def is_delivered(self) -> None:
        """Confirmed, delivered, refused at the door, and booked back."""
        if self.promise is None:
            return
        code, mass_kg = self.promise.code, self.promise.mass_kg
        for side in (BREWERY, self.grower):
            confirm_reservation(self.session, code, caller=side, acting_for=ActingFor(), now=self.now)
        keep_note(self.tour, self.session, code)
        deliver_reservation(
            self.session, code, caller=self.grower, delivered_on=self.today, mass_kg=mass_kg, now=self.now
        )
        receipt: dict[str, Any] = {
            "received_on": self.today,
            "packages": (),
            "accepted_kg": Decimal(0),
            "refused_kg": mass_kg,
            "temperature_c": 9.0,
            "condition": "torn_packing",
            "words": None,
            "agreed_price_per_kg": None,
            "currency": None,
            "reason": "two foils had lost their vacuum",
        }
        receive_delivery(self.session, code, caller=BREWERY, asked=receipt, now=self.now)
        back = book_return(
            self.session,
            code,
            caller=self.grower,
            mass_kg=mass_kg,
            returned_on=self.today,
            now=self.now,
        )
        self._tell(
            f"{code} was delivered and refused ({receipt['reason']}); {kg(back.returned_kg)} kg are booked back."
        )

    def is_analysed_again(self) -> None:
        """A buyer's own report beside the grower's, and the certificate as a file."""
        standing = [report for report in self.lot.reports if report.is_standing]
        if not standing or standing[-1].alpha_percent is None:
            return
        first = standing[-1]
        keep_slip(self.tour, self.session, self.code)
        told = {
            "laboratory": "Quarry Lane Laboratory",
            "drawn_by": "buyer",
            "sampled_on": self.today,
            "analysed_on": self.today,
            "packages_cored": 1,
            "alpha_percent": round(0.9 * (first.alpha_percent or 0.0), 2),
            "beta_percent": first.beta_percent,
            "methods": {"alpha_beta": first.methods["alpha_beta"]},
        }
        own = file_report(self.session, self.code, caller=BREWERY, asked=told, now=self.now)
        compared = compare_two_reports(
            self.session, self.code, reports=(first.code, own.code), caller=BREWERY, now=self.now
        )
        self._tell(
            f"FINCH's own sample reads {told['alpha_percent']} % alpha, the grower's {first.alpha_percent} %."
            f" {compared.words}"
        )
        facts = preview_facts(
            self.session, self.code, caller=self.grower, now=self.now, address=self.tour.address
        )
        file = attach_certificate(
            self.session,
            self.code,
            first.code,
            render_lot_sheet(facts),
            caller=self.grower,
            directory=None,
            now=self.now,
        )
        self._tell(
            f"A {file.kind.upper()} of {file.size_bytes // 1024} KiB stands beside report {first.code}."
        )

    def is_recalled(self) -> None:
        """Stopped with all that was made of it, every holder named."""
        recall = open_recall(
            self.session,
            caller=self.grower,
            lot_code=self.code,
            concern="foreign_matter",
            words="wire from the trellis; do not use, and say what is left",
            now=self.now,
        )
        acknowledge_recall(
            self.session,
            recall.code,
            caller=self.grower,
            holder=("grower", None),
            left_kg=None,
            words="the store is shut",
            now=self.now,
        )
        holders = len({line.holder for line in recall.lines})
        self._tell(
            f"Recall {recall.code} stopped {len(recall.lot_codes)} lot(s) and reached {holders} holder(s), each by name"
            " and kilogram."
        )
        lines = list_changes(
            self.session,
            caller=self.grower,
            lot_code=self.code,
            kind=None,
            code=None,
            after=None,
            limit=100,
            now=self.now,
        )
        self._tell(f"The trail of the lot holds {len(lines)} lines of who changed what, for whom.")
