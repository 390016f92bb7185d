"""Loads the region through the use cases, as its people would."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from seed_demo.crops import Crop, crops
from seed_demo.people import GROWERS, parties
from seed_demo.wants import wants
from service.errors import NotFound
from service.market.access import Visitor
from service.market.lots import Package
from service.records.session import Records, Session
from service.usecases.lab_reports import file_report
from service.usecases.listing import list_lot, withdraw_lot
from service.usecases.lots import draft_lot
from service.usecases.parties import list_parties, show_party, welcome_party
from service.usecases.requests import place_request

SPECIALIST = Visitor("specialist")
Say = Callable[[str], None]


class OtherData(Exception):  # noqa: N818 -- told to the person at the keyboard
    """The database holds something that is not the demo's."""


def is_loaded(records: Records) -> bool:
    """Whether the whole demo stands in these records already.

    Raises:
        OtherData: something else stands there.

    """
    everybody = records.read(
        lambda s: list_parties(s, visitor=SPECIALIST, kind="grower", after=None, limit=1)
    )
    if not everybody:
        return False
    try:
        for code, *_ in GROWERS:
            records.read(lambda s, code=code: show_party(s, visitor=SPECIALIST, kind="grower", code=code))  # type: ignore[misc]
    except NotFound:
        raise OtherData("this database holds other growers; the demo never touches other data") from None
    return True


def load_region(records: Records, *, now: datetime, say: Say) -> None:
    """Load everybody, every lot and every request, all or nothing."""

    def work(session: Session) -> None:
        people = parties()
        for party in people:
            welcome_party(session, visitor=SPECIALIST, party=party)
        say(f"  {len(people)} growers and breweries welcomed")
        for count, crop in enumerate(crops(now.date()), start=1):
            load_crop(session, crop, now=now)
            if count % 20 == 0:
                say(f"  {count} lots drafted, analysed and listed")
        asked = wants(now.date())
        for brewery, want in asked:
            place_request(session, visitor=Visitor("brewery", brewery), asked=want, now=now)
        say(f"  {len(asked)} requests placed")

    records.write(work)


def load_crop(session: Session, crop: Crop, *, now: datetime) -> str:
    """Draft a lot, file its reports, list it and perhaps withdraw it; gives its code."""
    grower = Visitor("grower", crop.grower_code)
    told: dict[str, Any] = dict(crop.draft)
    told["packages"] = tuple(Package(**package) for package in told.get("packages", ()))
    code = draft_lot(session, visitor=grower, asked=told, now=now).lot.code
    for report in crop.reports:
        file_report(session, code, visitor=grower, asked=report, now=now)
    if crop.readiness is not None:
        list_lot(session, code, visitor=grower, readiness=crop.readiness, now=now)
    if crop.is_withdrawn:
        withdraw_lot(session, code, visitor=grower, now=now)
    return code
