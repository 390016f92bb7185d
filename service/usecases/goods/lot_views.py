"""A lot as it is shown, with all that the books hold beside it: a few statements, however many lots."""

from collections.abc import Sequence
from datetime import datetime

from service.market.goods.lots import Lot
from service.market.processing.composition import LabelPart, label_parts
from service.market.processing.lot_statements import LotStatements
from service.market.sheet.lot_view import LotView, view_lot
from service.records.goods import cultivars, lots, quality_reports, submissions
from service.records.growing import licences, sprays
from service.records.people import parties
from service.records.processing import steps
from service.records.session import Session


def view_lots(session: Session, lots: Sequence[Lot], *, now: datetime) -> list[LotView]:
    """Lots as they are shown today, in the order given."""
    growers = {code: parties.get(session, "grower", code) for code in {lot.grower_code for lot in lots}}
    named = {lot.cultivar_code for lot in lots if lot.cultivar_code}
    statuses = cultivars.search_all_statuses(session, named) if named else {}
    stated = _stated(session, lots, now)
    return [
        view_lot(
            lot,
            grower=growers[lot.grower_code],
            statuses=statuses.get(lot.cultivar_code or "", []),
            stated=stated[lot.code],
            today=now.date(),
            now=now,
        )
        for lot in lots
    ]


def _stated(session: Session, lots: Sequence[Lot], now: datetime) -> dict[str, LotStatements]:
    codes = [lot.code for lot in lots]
    kept = sprays.kept_for(session, lots)
    declared = licences.search_of_lots(session, lots)
    measured = quality_reports.search_of_lots(session, codes) if codes else {}
    sent = submissions.last_sent(session, codes) if codes else {}
    made = steps.find_many(session, codes) if codes else {}
    return {
        code: LotStatements(
            is_spray_record_kept=code in kept,
            is_made_of_others=lot.block is None and code in made and made[code].kind != "drying",
            licences=declared.get(code, ()),
            quality_reports=measured.get(code, ()),
            sample_sent_on=sent.get(code),
            step=made.get(code),
            label_parts=_label_parts(session, lot, now) if code in made else (),
        )
        for code, lot in zip(codes, lots, strict=True)
    }


def _label_parts(session: Session, lot: Lot, now: datetime) -> tuple[LabelPart, ...]:
    """Of a lot of several cultivars or crops, which; the others say it in their own record."""
    if not lot.is_blend and lot.crop_year is not None:
        return ()
    edges = steps.ancestors(session, lot.code)
    return label_parts(lot, edges, lots.get_many(session, {edge.from_code for edge in edges}, now=now))
