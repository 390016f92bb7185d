"""Spec sheets of lots: shown, issued, verified."""

import hashlib
from collections.abc import Callable
from datetime import datetime

from service.errors import NotAllowed, NotFound
from service.market.goods.labels import LabelFacts, labels_of
from service.market.goods.lots import Lot
from service.market.people.access import Caller, require_known
from service.market.sheet.sheet_facts import LotSheetFacts, lot_sheet_facts
from service.market.sheet.sheets import IssuedSheet, Verification, verify
from service.records.people import parties
from service.records.session import Session
from service.records.sheet import sheets
from service.reference.six_month_storage import six_month_loss
from service.usecases.goods.lot_access import lot_to_change, lot_to_see
from service.usecases.goods.lot_views import view_lots

CODES_A_PAGE = 1000


def issued_file(session: Session, code: str, *, caller: Caller, now: datetime) -> tuple[int, bytes] | None:
    """The newest issued sheet of a lot as it was handed out, with its revision; None if none was issued.

    Raises:
        NotFound: there is no such lot, or the caller must not know of it.

    """
    return sheets.find_file(session, lot_to_see(session, code, caller=caller, now=now).code)


def preview_facts(
    session: Session,
    code: str,
    *,
    caller: Caller,
    now: datetime,
    address: str,
    kept_at: str | None = None,
) -> LotSheetFacts:
    """What a lot's sheet would say today; of the storages to come all, or the one a brewer chooses.

    Raises:
        NotFound: there is no such lot, or the caller must not know of it.

    """
    lot = lot_to_see(session, code, caller=caller, now=now)
    return _facts(session, lot, now=now, address=address, revision=None, kept_at=kept_at)


def issue_sheet(
    session: Session,
    code: str,
    *,
    caller: Caller,
    now: datetime,
    address: str,
    render: Callable[[LotSheetFacts], bytes],
) -> IssuedSheet:
    """Issue the next revision of a lot's sheet, dated today, and keep the file.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    issued = sheets.search(session, code)
    facts = _facts(session, lot, now=now, address=address, revision=len(issued) + 1)
    file = render(facts)
    sheet = IssuedSheet(
        lot_code=code,
        revision=len(issued) + 1,
        issued_on=now.date(),
        issued_at=now,
        issued_by=caller.name,
        facts_sha256=facts.fingerprint,
        file_sha256=hashlib.sha256(file).hexdigest(),
    )
    sheets.add(session, sheet, file=file)
    return sheet


def label_facts(
    session: Session,
    code: str,
    *,
    caller: Caller,
    first: int | None,
    last: int | None,
    now: datetime,
    address: str,
) -> LabelFacts:
    """The labels of a lot's packages, for its grower and the specialist.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's.
        IllegalStep, OutOfRange: as `labels_of`.

    """
    lot = lot_to_see(session, code, caller=caller, now=now)
    require_known(caller)
    if not caller.acts_for("grower", lot.grower_code):
        raise NotAllowed(f"lot {code} belongs to {lot.grower_code}")
    return LabelFacts(
        lot=lot,
        grower=parties.get(session, "grower", lot.grower_code),
        labels=labels_of(lot, first=first, last=last),
        public_url=address,
    )


def codes_of_lots(
    session: Session, *, caller: Caller, grower_code: str | None, state: str | None, after: str | None
) -> list[str]:
    """The next thousand codes of the grower's own lots, or of a grower's or everybody's for the specialist.

    Raises:
        TokenNeeded, NotAllowed: the caller is neither the grower nor the specialist.

    """
    require_known(caller)
    whose = grower_code or caller.party_code
    if not caller.is_specialist and (whose is None or not caller.acts_for("grower", whose)):
        raise NotAllowed("a grower takes its own sheets, the specialist anybody's")
    return sheets.search_lot_codes(session, grower_code=whose, state=state, after=after, limit=CODES_A_PAGE)


def file_or_facts(
    session: Session, code: str, *, caller: Caller, now: datetime, address: str
) -> tuple[str, bytes | LotSheetFacts] | None:
    """One of many sheets with its name: the newest issued file, else the facts of a preview; None if the lot went."""
    try:
        issued = issued_file(session, code, caller=caller, now=now)
        if issued is not None:
            return f"{code}-r{issued[0]}.pdf", issued[1]
        return f"{code}-preview.pdf", preview_facts(session, code, caller=caller, now=now, address=address)
    except NotFound:
        return None


def verify_sheet(session: Session, *, sha256: str) -> Verification:
    """Say whether a file's or its facts' SHA-256 is that of the current sheet, of a superseded one, or of none."""
    found = sheets.find_by_sha256(session, sha256)
    issued = sheets.search(session, found.lot_code) if found else []
    return verify(sha256, found=found, issued=issued)


def _facts(
    session: Session,
    lot: Lot,
    *,
    now: datetime,
    address: str,
    revision: int | None,
    kept_at: str | None = None,
) -> LotSheetFacts:
    (view,) = view_lots(session, [lot], now=now)
    return lot_sheet_facts(
        view,
        today=now.date(),
        public_url=address,
        revision=revision,
        loss=six_month_loss(lot.cultivar),
        kept_at=kept_at,
    )
