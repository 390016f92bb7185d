"""A lot as it is shown: its record, the figures that stand, what is unusual, who may plant it."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from service.facts import Fact, replace
from service.market.goods.cultivars import CultivarStatus
from service.market.goods.lab_reports import Figures, standing_figures
from service.market.goods.lots import Lot, Step
from service.market.goods.plausibility import Flag, flags_of
from service.market.goods.provenance import ShownCertification, shown_on
from service.market.goods.quality_reports import PhysicalQuality, physical_quality
from service.market.goods.wet_hops import WetHops, wet_hops
from service.market.growing.licences import ShownLicence, licence_shown, rights_notes
from service.market.growing.sprays import SprayStatement, state_spray_record
from service.market.people.parties import Party
from service.market.processing.composition import LabelPart
from service.market.processing.lot_statements import NOTHING_STATED, LotStatements
from service.market.storage.lead_values import LeadCorrection, lead_correction
from service.reference.cultivars import by_code


class Planting(Fact, frozen=True, kw_only=True):
    """Whether a cultivar may be planted in a country, as one source says; never a legal opinion."""

    status: str
    country: str
    source: str | None
    checked_on: date | None
    licence: ShownLicence | None = None
    notes: tuple[str, ...] = ()


class LotView(Fact, frozen=True, kw_only=True):
    """A lot as it is shown."""

    lot: Lot
    grower: Party
    figures: Figures
    lead_correction: LeadCorrection | None
    flags: tuple[Flag, ...]
    planting: Planting
    certifications: tuple[ShownCertification, ...]
    spray_record: SprayStatement
    physical_quality: PhysicalQuality
    role_mark: str | None
    wet: WetHops | None = None
    sample_sent_on: date | None = None
    step: Step | None = None
    label_parts: tuple[LabelPart, ...] = ()


def view_lot(
    lot: Lot,
    *,
    grower: Party,
    statuses: Sequence[CultivarStatus],
    today: date,
    now: datetime | None = None,
    stated: LotStatements = NOTHING_STATED,
) -> LotView:
    """Put together what is shown of a lot on a day; at a moment, also how old wet hops are."""
    figures = standing_figures(lot.reports)
    known = by_code(lot.cultivar_code) if lot.cultivar_code else None
    shipped_role = known is not None and known.role == lot.role
    planting = planting_in(grower.country, lot.cultivar_code, statuses)
    licence = licence_shown(stated.licences, today)
    notes = tuple(rights_notes(planting.status, planting.country, licence))
    planting = replace(planting, licence=licence, notes=notes)
    flags = flags_of(figures, form=lot.form, cultivar_code=lot.cultivar_code)
    return LotView(
        lot=lot,
        grower=grower,
        figures=figures,
        lead_correction=lead_correction(figures, form=lot.form),
        flags=(*flags, *_rights_flags(planting)),
        planting=planting,
        certifications=shown_on(lot.certifications, today),
        spray_record=state_spray_record(
            lot, is_kept=stated.is_spray_record_kept, is_made_of_others=stated.is_made_of_others
        ),
        physical_quality=physical_quality(stated.quality_reports, lot),
        role_mark=known.role_mark if known and shipped_role else None,
        wet=wet_hops(lot, figures, now=now) if now else None,
        sample_sent_on=stated.sample_sent_on,
        step=stated.step,
        label_parts=stated.label_parts,
    )


def _rights_flags(planting: Planting) -> Iterator[Flag]:
    """A protected cultivar without a licence that holds: something to ask, and no refusal."""
    if planting.status != "protected" or (planting.licence and not planting.licence.lapsed):
        return
    yield Flag(
        code="licence_not_declared",
        words=planting.notes[0],
        source=planting.source or "not recorded",
        mark="common practice, no source",
    )


def planting_in(country: str, cultivar_code: str | None, statuses: Sequence[CultivarStatus]) -> Planting:
    """The planting status in a country: what the region found out, else what is shipped, else unconfirmed."""
    found = next((s for s in statuses if s.country == country), None)
    if found is not None:
        return Planting(
            status=found.status, country=country, source=found.source, checked_on=found.checked_on
        )
    known = by_code(cultivar_code) if cultivar_code else None
    for shipped in known.availability if known else ():
        if shipped.country == country:
            return Planting(
                status=shipped.status,
                country=country,
                source=shipped.source,
                checked_on=shipped.checked_on,
            )
    return Planting(status="unconfirmed", country=country, source=None, checked_on=None)
