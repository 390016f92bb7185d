"""Parts of a lot: split off, or opened. They are the same goods and carry all reports but a buyer's own.

A correction of the whole's report reaches its parts.
"""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from service.errors import InvalidRequest
from service.facts import replace
from service.market.goods.lab_reports import LabReport, correct
from service.market.goods.lots import Lot, Package, StorageSpell, accept_lot
from service.market.goods.temperature_logs import logs_until
from service.market.processing.packing_out import packed_kg


def make_part(
    whole: Lot,
    *,
    code: str,
    mass_kg: Decimal,
    packages: Sequence[Package],
    own_lot_number: str | None,
    note: str | None,
    now: datetime,
    made_by: str,
) -> Lot:
    """Split a part off a lot: a draft of its own with all that the whole carries, but for promises.

    Grower, cultivar, role, crop year, harvest, price, storage and reports come along; a buyer's own report does not,
    since it is for that buyer and the grower alone.

    Raises:
        InvalidRequest: as `accept_lot`.

    """
    smallest = whole.order_kg_min
    fills_up = bool(packages) and packed_kg(packages) == mass_kg
    part = replace(
        whole,
        code=code,
        state="draft",
        readiness=None,
        expected_kg=None,
        harvest_window_from=None,
        harvest_window_to=None,
        mass_kg=mass_kg,
        taken_kg=Decimal(0),
        held_kg=Decimal(0),
        own_lot_number=own_lot_number or whole.own_lot_number,
        packages=tuple(packages),
        sold_in=whole.sold_in if fills_up else "any_mass",
        order_kg_min=smallest if smallest is not None and smallest <= mass_kg else None,
        note=note or whole.note,
        reports=inherited_reports(whole.reports),
        made_at=now,
        made_by=made_by,
        first_listed_on=None,
    )
    return accept_lot(part, today=now.date())


def open_part(part: Lot, *, opened_on: date, packing: str, stored_at_c: float | None) -> Lot:
    """Let a part's storage start a new spell on the day its packages were opened.

    Raises:
        InvalidRequest: nothing is known of the temperature.

    """
    kept = tuple(spell for spell in part.spells if spell.began_on < opened_on)
    before = kept[-1] if kept else part.open_spell
    at_c = stored_at_c if stored_at_c is not None else before.stored_at_c if before else None
    if at_c is None:
        text = "say at what temperature the opened packages lie"
        raise InvalidRequest(text, errors=[{"pointer": "#/stored_at_c", "detail": text}])
    opened = StorageSpell(began_on=opened_on, packing=packing, stored_at_c=at_c)
    return replace(part, spells=(*kept, opened), logs=logs_until(part.logs, opened_on))


def inherited_reports(reports: Sequence[LabReport]) -> tuple[LabReport, ...]:
    """A whole's reports as a part carries them, numbered anew, with what corrected what."""
    carried = [report for report in reports if report.drawn_by != "buyer"]
    codes: dict[str | None, str | None] = {r.code: f"R{n}" for n, r in enumerate(carried, start=1)}
    return tuple(
        replace(
            report,
            code=codes[report.code] or "",
            corrects=codes.get(report.corrects),
            corrected_by=codes.get(report.corrected_by),
        )
        for report in carried
    )


def correct_part(part: Lot, *, old: LabReport, new: LabReport) -> Lot | None:
    """Let a correction of the whole's report reach a part that carries that report; None where it does not.

    A report the part corrected by itself stays as the part's grower left it.
    """
    twin = next((r for r in part.reports if r.corrected_by is None and _said(r) == _said(old)), None)
    if twin is None:
        return None
    following = replace(new, code=f"R{len(part.reports) + 1}", corrects=twin.code, corrected_by=None)
    return replace(part, reports=correct(part.reports, following))


def _said(report: LabReport) -> LabReport:
    return replace(report, code="", corrects=None, corrected_by=None)
