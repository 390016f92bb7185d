"""Many lots at once: read from a file, checked as if each came alone, written together.

An import writes past the session, so it adds its own lines to the audit trail. Lots made of others are not
exported: they cannot be imported again.
"""

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import Any

from service.errors import Refusal
from service.facts import Fact, replace
from service.market.goods.bulk import AskedLot, RowFault, faults_of
from service.market.goods.cultivars import NamedCultivar, RegionalCultivar, name_cultivar
from service.market.goods.lab_reports import LabReport
from service.market.goods.listing import decide_listing
from service.market.goods.lot_making import crop_year_asked, make_lot
from service.market.goods.lots import Lot, Step, accept_lot
from service.market.goods.report_checks import accept_report, read_absorbance
from service.market.matching.search_figures import figures_to_keep
from service.market.people.access import Caller, acting_party
from service.market.people.parties import Party
from service.market.trade.notices import Event
from service.records.goods import bulk, cultivars
from service.records.people import parties
from service.records.processing import steps
from service.records.session import Session
from service.records.trade import outbox
from service.usecases.goods.spray_intervals import require_intervals_kept

Progress = Callable[[int], None]
CHUNK = 1000


class Imported(Fact, frozen=True, kw_only=True):
    """What was made of the rows, and what was wrong with them."""

    lot_codes: tuple[str, ...]
    faults: tuple[RowFault, ...]
    refused: int


def import_lots(
    session: Session,
    *,
    caller: Caller,
    grower_code: str | None,
    asked: Iterable[AskedLot],
    now: datetime,
    writes: Callable[[int], bool],
    progress: Progress = lambda _row: None,
) -> Imported:
    """Check every lot as if it came alone; write those that can be, as long as `writes` agrees to the faults so far.

    What was written before a fault came stays in the transaction: who wants all or none takes it back.

    Raises:
        TokenNeeded, NotAllowed, InvalidRequest: it is not clear for which grower.
        NotFound: there is no such grower.

    """
    code = acting_party(caller, kind="grower", named=grower_code)
    making = _Making(session, parties.get(session, "grower", code, lock=True), caller, now)
    made: list[bulk.NewLot] = []
    codes: list[str] = []
    faults: list[RowFault] = []
    refused = 0
    for one in asked:
        new, wrong = making.make(one)
        faults += wrong
        if new is None:
            refused += 1
            continue
        made.append(new)
        if len(made) == CHUNK:
            codes += _write(session, making, made) if writes(len(faults)) else ()
            made.clear()
            progress(one.number)
    codes += _write(session, making, made) if made and writes(len(faults)) else ()
    return Imported(lot_codes=tuple(codes), faults=tuple(faults), refused=refused)


def _write(session: Session, making: "_Making", made: Sequence[bulk.NewLot]) -> list[str]:
    number = bulk.take_numbers(session, making.grower.code, count=len(made))
    numbered = [
        replace(new, lot=replace(new.lot, code=f"{making.grower.code}-{new.year}-{place:02d}"))
        for place, new in enumerate(made, number)
    ]
    bulk.add_lots(session, numbered, grower_code=making.grower.code, by=making.by, now=making.now)
    listed = [new.lot.code for new in numbered if new.lot.state == "listed"]
    outbox.add_many(session, [Event(kind="lot_listed", lot_code=code, made_at=making.now) for code in listed])
    return [new.lot.code for new in numbered]


class _Making:
    """Makes lots for one grower; what all rows share is asked once."""

    def __init__(self, session: Session, grower: Party, caller: Caller, now: datetime) -> None:
        self.session, self.grower, self.by, self.now = session, grower, caller.name, now
        self.regional: Sequence[RegionalCultivar] = cultivars.search(session)
        self.named: dict[str, NamedCultivar] = {}

    def make(self, one: AskedLot) -> tuple[bulk.NewLot | None, list[RowFault]]:
        """One lot with its reports, or all that is wrong with it."""
        try:
            named = self._named(one.asked["cultivar"])
            lot = make_lot(one.asked, code="", grower=self.grower, named=named, now=self.now, made_by=self.by)
            if one.spells:
                lot = accept_lot(replace(lot, spells=one.spells), today=self.now.date())
        except Refusal as refusal:
            return None, faults_of(refusal, one.number, one.columns)
        faults = []
        for report in one.reports:
            try:
                lot = replace(lot, reports=(*lot.reports, self._report(lot, report.asked)))
            except Refusal as refusal:
                faults += faults_of(refusal, report.number, one.columns)
        if not faults and one.list_as is not None:
            try:
                lot = decide_listing(lot, readiness=one.list_as, today=self.now.date())
                if lot.block is not None:
                    require_intervals_kept(self.session, lot, now=self.now)
            except Refusal as refusal:
                faults += faults_of(refusal, one.number, one.columns)
        if faults:
            return None, faults
        year = crop_year_asked(one.asked, now=self.now)
        return bulk.NewLot(lot=lot, year=year, cultivar_key=named.key, figures=figures_to_keep(lot)), []

    def _named(self, name: str) -> NamedCultivar:
        if name not in self.named:
            self.named[name] = name_cultivar(name, self.regional)
        return self.named[name]

    def _report(self, lot: Lot, asked: Any) -> LabReport:
        told = {name: value for name, value in asked.items() if name not in ("grower_code", "brewery_code")}
        report = LabReport(
            code=f"R{len(lot.reports) + 1}",
            filed_at=self.now,
            filed_by=self.by,
            filed_for=f"grower:{self.grower.code}",
            **told,
        )
        return accept_report(
            read_absorbance(report),
            form=lot.form,
            harvested_on=lot.harvested_on,
            today=self.now.date(),
        )


def export_lots(
    session: Session, *, caller: Caller, grower_code: str | None, now: datetime
) -> tuple[list[Lot], int]:
    """A grower's lots as they came from the yard, and how many were made of others and cannot come in again.

    Raises:
        TokenNeeded, NotAllowed, InvalidRequest: it is not clear for which grower.
        NotFound: there is no such grower.

    """
    code = acting_party(caller, kind="grower", named=grower_code)
    parties.get(session, "grower", code)
    found = bulk.all_lots(session, grower_code=code, now=now)
    made: dict[str, Step] = steps.find_many(session, [lot.code for lot in found])
    kept = [lot for lot in found if lot.code not in made]
    return kept, len(found) - len(kept)
