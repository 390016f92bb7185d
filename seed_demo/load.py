"""Loads the region through the use cases, as its people would."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

from seed_demo.crops import SEEDLING, Crop, crops
from seed_demo.goods import load_goods
from seed_demo.people import GROWERS, parties
from seed_demo.stores import load_stores
from seed_demo.wants import wants
from seed_demo.yards import SORTED, cone_sample, licence, slip_of, sprays_of, yard_of
from service.errors import NotFound
from service.market.goods.audit_trail import Signature
from service.market.goods.lots import Package
from service.market.people.access import Caller
from service.records.migrations import is_current
from service.records.session import Records, Session
from service.usecases.goods.cultivars import list_cultivars
from service.usecases.goods.lab_reports import file_report
from service.usecases.goods.listing import list_lot, withdraw_lot
from service.usecases.goods.lots import draft_lot
from service.usecases.goods.quality_reports import file_quality_report
from service.usecases.growing.licences import declare_licence
from service.usecases.growing.sprays import enter_spray
from service.usecases.matching.requests import place_request
from service.usecases.people.parties import list_parties, show_party, welcome_party

SPECIALIST = Caller("specialist")
# What every database of this service holds; another program's would hardly hold all of them.
OWN_TABLES = {"alembic_version", "party", "lot", "lab_report", "request", "reservation"}
Say = Callable[[str], None]


class OtherData(Exception):  # noqa: N818 -- told to the person at the keyboard
    """The database holds something that is not the demo's."""


def refuse_foreign_file(database: Path) -> None:
    """Look at the file before anything opens it for writing: a migration alone would change it.

    Raises:
        OtherData: it is no database of this service, or one at another migration.

    """
    if not database.absolute().parent.is_dir() or database.is_dir():
        raise OtherData(f"{database} cannot be a database file: name a file in a folder that exists")
    if not database.exists():
        return
    try:
        with closing(sqlite3.connect(f"{database.absolute().as_uri()}?mode=ro", uri=True)) as file:
            tables = {name for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    except sqlite3.Error:
        raise OtherData(f"{database} is no database that can be read; name another file") from None
    if not tables:
        return
    if not tables >= OWN_TABLES:
        raise OtherData(f"{database} belongs to another program; the demo never touches other data")
    if not is_current(address_of(database)):
        raise OtherData(f"{database} stands at another migration; name another file")


def address_of(database: Path) -> str:
    """The address of a file, good from every folder."""
    return f"sqlite:///{database.absolute()}"


def is_loaded(session: Session) -> bool:
    """Whether the whole demo stands in these records already.

    Raises:
        OtherData: something else stands there.

    """
    people = [
        party
        for kind in ("grower", "brewery")
        for party in list_parties(session, caller=SPECIALIST, kind=kind, after=None, limit=1)
    ]
    cultivars, _ = list_cultivars(session, name=None, after=None, limit=100_000)
    if not people and all(cultivar.shipped for cultivar in cultivars):
        return False
    try:
        for code, *_ in GROWERS:
            show_party(session, caller=SPECIALIST, kind="grower", code=code)
    except NotFound:
        raise OtherData("this database holds other records; the demo never touches other data") from None
    return True


def load_region(records: Records, *, now: datetime, say: Say) -> bool:
    """Load everybody, every lot and every request, all or nothing; False when they stand there already.

    Raises:
        OtherData: something else stands there.

    """

    def work(session: Session) -> bool:
        # Asked inside the transaction, so that two demos started at once load one region.
        if is_loaded(session):
            return False
        people = parties()
        for party in people:
            welcome_party(session, caller=SPECIALIST, party=party)
        say(f"  {len(GROWERS)} growers and {len(people) - len(GROWERS)} breweries welcomed")
        _load_crops(session, now=now, say=say)
        asked = wants(now.date())
        for brewery, want in asked:
            place_request(session, caller=Caller("brewery", brewery), asked=want, now=now)
        say(f"  {len(asked)} requests placed")
        return True

    return records.write(work, signed=Signature(by=SPECIALIST.name, at=now))


def _load_crops(session: Session, *, now: datetime, say: Say) -> None:
    unusual = []
    codes: dict[str, Crop] = {}
    for count, crop in enumerate(crops(now.date()), start=1):
        code = load_crop(session, crop, now=now)
        codes[code] = crop
        if crop.note:
            unusual.append(f"    {code:<18} {crop.draft['cultivar']:<18} {crop.note}")
        if count % 20 == 0:
            say(f"  {count} lots brought in with their lab reports")
    say("  most are analysed and listed; these are not like the others:")
    for line in unusual:
        say(line)
    _load_yards(session, codes, now=now, say=say)
    load_goods(session, codes, now=now, say=say)


def _load_yards(session: Session, codes: dict[str, Crop], *, now: datetime, say: Say) -> None:
    """Bring in spray records, a licence and sorted cones; one entry is wrong, ends listings, and is corrected."""
    seasons = tuple(
        sorted({c.draft["harvested_on"].year for c in codes.values() if "harvested_on" in c.draft})
    )
    entries = 0
    for grower_code, *_ in GROWERS:
        for entry in sprays_of(grower_code, seasons):
            if entry["sprayed_on"] > now.date():
                continue
            enter_spray(session, grower_code, caller=Caller("grower", grower_code), asked=entry, now=now)
            entries += 1
    say(f"  {entries} sprays entered for {len(GROWERS)} yards")
    seedling = next(crop.grower_code for crop in codes.values() if crop.draft["cultivar"] == SEEDLING)
    declare_licence(session, seedling, caller=Caller("grower", seedling), asked=licence(), now=now)
    samples = [
        (code, crop)
        for code, crop in codes.items()
        if crop.grower_code in SORTED and crop.draft["form"] == "whole_cone" and "harvested_on" in crop.draft
    ]
    for code, crop in samples:
        told = cone_sample(crop, now.date())
        file_quality_report(session, code, caller=Caller("grower", crop.grower_code), asked=told, now=now)
    say(f"  {len(samples)} samples of cones sorted")
    _load_slip(session, codes, now=now, say=say)
    load_stores(session, codes, now=now, say=say)


def _load_slip(session: Session, codes: dict[str, Crop], *, now: datetime, say: Say) -> None:
    code, crop = next(
        (code, crop)
        for code, crop in reversed(codes.items())
        if crop.readiness == "analysed" and not crop.note
    )
    grower, told = Caller("grower", crop.grower_code), yard_of(crop, now.date())
    slip = slip_of(crop.grower_code, told["block"], crop.draft["harvested_on"])
    wrong = enter_spray(session, crop.grower_code, caller=grower, asked=slip.wrong, now=now)
    right = {**slip.right, "corrects": wrong.spray.code}
    enter_spray(session, crop.grower_code, caller=grower, asked=right, now=now)
    for listed in wrong.withdrawn:
        list_lot(session, listed, caller=grower, readiness="analysed", now=now)
    say(f"    {code:<18} a spray entry with a wrong interval ended its listing until it was corrected")


def load_crop(session: Session, crop: Crop, *, now: datetime) -> str:
    """Draft a lot, file its reports, list it and perhaps withdraw it; gives its code."""
    grower = Caller("grower", crop.grower_code)
    told: dict[str, Any] = {**crop.draft, **yard_of(crop, now.date())}
    told["packages"] = tuple(Package(**package) for package in told.get("packages", ()))
    code = draft_lot(session, caller=grower, asked=told, now=now).lot.code
    for report in crop.reports:
        file_report(session, code, caller=grower, asked=report, now=now)
    if crop.readiness is not None:
        list_lot(session, code, caller=grower, readiness=crop.readiness, now=now)
    if crop.is_withdrawn:
        withdraw_lot(session, code, caller=grower, now=now)
    return code
