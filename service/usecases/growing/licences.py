"""Licences for protected cultivars, as growers declare them."""

from collections.abc import Sequence
from datetime import datetime

from service.errors import IllegalStep, NotAllowed
from service.facts import replace
from service.market.goods.cultivars import name_cultivar
from service.market.growing.licences import DeclareLicence, Licence, accept_licence
from service.market.people.access import Caller, acting_party, require_known
from service.records.goods import cultivars
from service.records.growing import licences
from service.records.people import parties
from service.records.session import Session


def declare_licence(
    session: Session, grower_code: str, *, caller: Caller, asked: DeclareLicence, now: datetime
) -> tuple[Licence, Sequence[str]]:
    """Declare a licence for a cultivar; all of the grower's lots of it carry the declaration, and are named.

    Raises:
        TokenNeeded, NotAllowed: the caller is not that grower.
        NotFound: there is no such grower.
        InvalidRequest: the cultivar's name fits several, or the licence has ended.

    """
    acting_party(caller, kind="grower", named=grower_code)
    parties.get(session, "grower", grower_code)
    named = name_cultivar(asked.cultivar, cultivars.search(session))
    licence = Licence(
        grower_code=grower_code,
        cultivar=named.denomination,
        cultivar_key=named.key,
        licensor=asked.licensor,
        number=asked.number,
        valid_until=asked.valid_until,
        declared_at=now,
        declared_by=caller.name,
    )
    kept = licences.add(session, accept_licence(licence, today=now.date()))
    return kept, licences.lot_codes(session, kept)


def list_licences(session: Session, grower_code: str, *, caller: Caller) -> Sequence[Licence]:
    """Everything a grower declared, for the grower and the specialist; the lots show what holds.

    Raises:
        TokenNeeded, NotAllowed: the caller is not that grower.
        NotFound: there is no such grower.

    """
    require_known(caller)
    parties.get(session, "grower", grower_code)
    if not caller.acts_for("grower", grower_code):
        raise NotAllowed(f"the declarations of {grower_code} are for the grower; its lots show what holds")
    return licences.search(session, grower_code)


def end_licence(session: Session, grower_code: str, code: str, *, caller: Caller, now: datetime) -> None:
    """Take a declaration back; it stays in the books, ended.

    Raises:
        TokenNeeded, NotAllowed: the caller is not that grower.
        NotFound: there is no such grower or declaration.
        IllegalStep: it was ended before.

    """
    acting_party(caller, kind="grower", named=grower_code)
    parties.get(session, "grower", grower_code, lock=True)
    licence = licences.get(session, grower_code, code)
    if licence.ended_at is not None:
        raise IllegalStep(f"licence {code} was ended before", state="ended")
    licences.change(session, replace(licence, ended_at=now, ended_by=caller.name))
