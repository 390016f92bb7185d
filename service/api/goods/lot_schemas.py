"""How a lot looks over JSON."""

from typing import Any

import marshmallow as ma

from service.api.contract import (
    patch_of,
)
from service.api.fields import (
    AnswerBody,
    Body,
    Choice,
    Code,
    Country,
    Currency,
    Day,
    EstimateBody,
    Flag,
    Instant,
    Kilograms,
    Money,
    Number,
    Percent,
    Subdivision,
    Text,
    Whole,
    estimate,
)
from service.api.goods.lot_statement_schemas import (
    LabelPartAnswer,
    PhysicalQualityAnswer,
    PlantingAnswer,
    SprayStatementAnswer,
    StepAnswer,
)
from service.market.goods.lab_quantities import LAB_QUANTITIES
from service.market.goods.lots import FORMS, PACKAGE_KINDS, PACKINGS, SOLD_IN, Package
from service.market.goods.provenance import CERTIFICATION_KINDS, Certification
from service.market.sheet.lot_view import LotView
from service.reference.cultivar_rows import ROLES

# The storage model reaches from -30 to 40 °C; beyond, nothing could be said of the lot.
STORED_C = (-30, 40)


class PackageBody(Body):
    """So many equal packages."""

    kind = Choice(PACKAGE_KINDS, required=True)
    count = Whole(1, 100_000, required=True)
    net_kg = Kilograms(high=1000, required=True)

    @ma.post_load
    def as_fact(self, given: dict[str, Any], **_kw: Any) -> Package:
        """Give the fact."""
        return Package(**given)


class CertificationBody(Body):
    """What a certifier vouches for, and until when; the last day counts."""

    kind = Choice(CERTIFICATION_KINDS, load_default="other")
    scheme = Text(longest=80, required=True)
    certifier = Text(longest=120, required=True)
    number = Text(longest=80, required=True)
    valid_until = Day(required=True)

    @ma.post_load
    def as_fact(self, given: dict[str, Any], **_kw: Any) -> Certification:
        """Give the fact."""
        return Certification(**given)


class LotBody(Body):
    """A lot as its grower drafts it."""

    grower_code = Code(party=True, load_default=None, allow_none=True)
    cultivar = Text(longest=80, required=True)
    role = Choice(ROLES, load_default=None, allow_none=True)
    harvested_on = Day(load_default=None, allow_none=True)
    harvested_until = Day(load_default=None, allow_none=True)
    form = Choice(FORMS, required=True)
    packing = Choice(PACKINGS, load_default=None, allow_none=True)
    stored_at_c = Number(*STORED_C, load_default=None, allow_none=True)
    residual_oxygen_percent = Percent(0, 21, load_default=None, allow_none=True)
    mass_kg = Kilograms(load_default=None, allow_none=True)
    expected_kg = Kilograms(load_default=None, allow_none=True)
    harvest_window_from = Day(load_default=None, allow_none=True)
    harvest_window_to = Day(load_default=None, allow_none=True)
    picked_at = Instant(load_default=None, allow_none=True)
    collect_at = Instant(load_default=None, allow_none=True)
    price_per_kg = Money(load_default=None, allow_none=True)
    currency = Currency(load_default=None, allow_none=True)
    price_open = Flag(load_default=False)
    own_lot_number = Text(longest=60, load_default=None, allow_none=True)
    packages = ma.fields.List(
        ma.fields.Nested(PackageBody), load_default=list, validate=ma.validate.Length(max=50)
    )
    sold_in = Choice(SOLD_IN, load_default="any_mass")
    order_kg_min = Kilograms(load_default=None, allow_none=True)
    note = Text(longest=2000, load_default=None, allow_none=True)
    block = Text(
        longest=60,
        load_default=None,
        allow_none=True,
        metadata={
            "description": "The part of the yard, as its grower calls it; the spray record hangs on it"
        },
    )
    origin_country = Country(
        load_default=None, allow_none=True, metadata={"description": "Default: the grower's country"}
    )
    origin_subdivision = Subdivision(load_default=None, allow_none=True)
    certifications = ma.fields.List(
        ma.fields.Nested(CertificationBody), load_default=list, validate=ma.validate.Length(max=20)
    )


LotPatch = patch_of(
    LotBody,
    "LotPatch",
    without=("grower_code",),
    never_null=("cultivar", "form", "price_open", "sold_in", "packages", "certifications"),
)


class SpellAnswer(AnswerBody):
    """A stretch of storage."""

    began_on = ma.fields.Date(required=True)
    packing = ma.fields.String(required=True)
    stored_at_c = Number(*STORED_C, required=True)
    residual_oxygen_percent = Percent(0, 21, allow_none=True)


class PackageAnswer(AnswerBody):
    """So many equal packages."""

    kind = ma.fields.String(required=True)
    count = ma.fields.Integer(required=True)
    net_kg = Kilograms(required=True)


class CertificationAnswer(AnswerBody):
    """A certification; `lapsed` on the day for which it is shown."""

    kind = ma.fields.String(required=True)
    scheme = ma.fields.String(required=True)
    certifier = ma.fields.String(required=True)
    number = ma.fields.String(required=True)
    valid_until = ma.fields.Date(required=True)
    lapsed = ma.fields.Boolean(required=True)


class MeasuredAnswer(AnswerBody):
    """One figure, as is, and where it comes from."""

    value = Number(0, 1000, required=True)
    report = ma.fields.String(required=True)
    method = ma.fields.String(allow_none=True)
    laboratory = ma.fields.String(required=True)
    drawn_by = ma.fields.String(required=True)
    sampled_on = ma.fields.Date(required=True)
    packages_cored = ma.fields.Integer(allow_none=True)


class FiguresAnswer(
    AnswerBody.from_dict(  # type: ignore[misc]
        {quantity.name: ma.fields.Nested(MeasuredAnswer, allow_none=True) for quantity in LAB_QUANTITIES}
    )
):
    """The figures that stand, each as is; null was never measured."""

    oil_shares_percent = ma.fields.Dict(keys=ma.fields.String(), values=Number(0, 100), allow_none=True)
    oil_shares_basis = ma.fields.String(allow_none=True)
    oil_shares_report = ma.fields.String(allow_none=True)


class LeadCorrectionAnswer(AnswerBody):
    """Offered beside a lead value of EBC 7.5, never applied; without alpha_percent it is refused, and words say why."""

    report = ma.fields.String(required=True)
    method = ma.fields.String(required=True)
    as_reported_percent = Number(0, 100, required=True)
    alpha_percent = estimate(required=True, allow_none=True)
    words = ma.fields.String(required=True)
    source = ma.fields.String(required=True)


class FlagAnswer(AnswerBody):
    """Something a reader should look at."""

    code = ma.fields.String(required=True)
    words = ma.fields.String(required=True)
    source = ma.fields.String(required=True)
    mark = ma.fields.String(required=True)


class WetHopsAnswer(AnswerBody):
    """What matters of wet hops: how old, how moist (measured or assumed), when to fetch them."""

    picked_at = Instant(required=True, allow_none=True)
    collect_at = Instant(required=True, allow_none=True)
    age_hours = ma.fields.Float(required=True, allow_none=True)
    moisture_percent = ma.fields.Nested(EstimateBody, required=True)
    moisture_is_measured = ma.fields.Boolean(required=True)
    words = ma.fields.List(ma.fields.String(), required=True)


class LotAnswer(AnswerBody):
    """A lot: its record, the figures that stand, what is unusual."""

    code = ma.fields.String(attribute="lot.code", required=True)
    grower_code = ma.fields.String(attribute="lot.grower_code", required=True)
    state = ma.fields.String(attribute="lot.shown_state", required=True)
    readiness = ma.fields.String(attribute="lot.readiness", allow_none=True)
    cultivar = ma.fields.String(attribute="lot.shown_cultivar", required=True, allow_none=True)
    cultivar_code = ma.fields.String(attribute="lot.cultivar_code", allow_none=True)
    known = ma.fields.Boolean(attribute="lot.known", required=True)
    role = ma.fields.String(attribute="lot.role", required=True)
    role_mark = ma.fields.String(allow_none=True)
    crop_year = ma.fields.Integer(attribute="lot.crop_year", allow_none=True)
    harvested_on = ma.fields.Date(attribute="lot.harvested_on", allow_none=True)
    harvested_until = ma.fields.Date(attribute="lot.harvested_until", allow_none=True)
    form = ma.fields.String(attribute="lot.form", required=True)
    packing = ma.fields.String(attribute="lot.packing", allow_none=True)
    stored_at_c = Number(*STORED_C, attribute="lot.stored_at_c", allow_none=True)
    residual_oxygen_percent = Percent(0, 21, attribute="lot.residual_oxygen_percent", allow_none=True)
    mass_kg = Kilograms(attribute="lot.mass_kg", allow_none=True)
    free_kg = Kilograms(attribute="lot.free_kg", required=True, above=False)
    expected_kg = Kilograms(attribute="lot.expected_kg", allow_none=True)
    harvest_window_from = ma.fields.Date(attribute="lot.harvest_window_from", allow_none=True)
    harvest_window_to = ma.fields.Date(attribute="lot.harvest_window_to", allow_none=True)
    picked_at = Instant(attribute="lot.picked_at", allow_none=True)
    collect_at = Instant(attribute="lot.collect_at", allow_none=True)
    wet = ma.fields.Nested(WetHopsAnswer, required=True, allow_none=True)
    price_per_kg = Money(attribute="lot.price_per_kg", allow_none=True)
    currency = ma.fields.String(attribute="lot.currency", allow_none=True)
    price_open = ma.fields.Boolean(attribute="lot.price_open", required=True)
    own_lot_number = ma.fields.String(attribute="lot.own_lot_number", allow_none=True)
    packages = ma.fields.List(ma.fields.Nested(PackageAnswer), attribute="lot.packages", required=True)
    sold_in = ma.fields.String(attribute="lot.sold_in", required=True)
    order_kg_min = Kilograms(attribute="lot.order_kg_min", allow_none=True)
    note = ma.fields.String(attribute="lot.note", allow_none=True)
    block = ma.fields.String(attribute="lot.block", allow_none=True)
    origin_country = ma.fields.String(attribute="lot.origin_country", allow_none=True)
    origin_subdivision = ma.fields.String(attribute="lot.origin_subdivision", allow_none=True)
    certifications = ma.fields.List(ma.fields.Nested(CertificationAnswer), required=True)
    spells = ma.fields.List(ma.fields.Nested(SpellAnswer), attribute="lot.spells", required=True)
    figures = ma.fields.Nested(FiguresAnswer, required=True)
    lead_correction = ma.fields.Nested(LeadCorrectionAnswer, required=True, allow_none=True)
    cautions = ma.fields.List(ma.fields.Nested(FlagAnswer), attribute="flags", required=True)
    planting = ma.fields.Nested(PlantingAnswer, required=True)
    spray_record = ma.fields.Nested(SprayStatementAnswer, required=True)
    physical_quality = ma.fields.Nested(PhysicalQualityAnswer, required=True)
    step = ma.fields.Nested(StepAnswer, required=True, allow_none=True)
    label_parts = ma.fields.List(
        ma.fields.Nested(LabelPartAnswer),
        required=True,
        metadata={"description": "Of a lot of several cultivars or crops: which, by percent; else empty"},
    )
    first_listed_on = ma.fields.Date(attribute="lot.first_listed_on", allow_none=True)
    sample_sent_on = ma.fields.Date(
        allow_none=True, metadata={"description": "when a sample last went to a laboratory"}
    )
    on_hold = ma.fields.Boolean(attribute="lot.on_hold", required=True)
    made_at = Instant(attribute="lot.made_at", required=True)
    made_by = ma.fields.String(attribute="lot.made_by", required=True)


ANSWER_SCHEMA = LotAnswer()
OWNED = LotAnswer(
    only=(
        *(name for name in LotBody().fields if name != "grower_code"),
        "code",
        "state",
        "readiness",
    )
)


def owned_version(view: LotView) -> dict[str, Any]:
    """What an owner may change of a lot; the rest does not make an ETag stale."""
    seen = dict(OWNED.dump(view))
    seen["state"] = view.lot.state
    # That a certification lapsed in the night is no change of the owner's.
    for held in seen["certifications"]:
        del held["lapsed"]
    return seen
