"""How what stands beside a lot looks over JSON: sprays, plant rights, physical quality."""

import marshmallow as ma

from service.api.fields import AnswerBody, Number, Percent, estimate, lines


class StepAnswer(AnswerBody):
    """The step that made a lot of others; its origin tells of what."""

    kind = ma.fields.String(required=True)
    began_on = ma.fields.Date(required=True)
    done_on = ma.fields.Date(required=True)
    processor = ma.fields.String(required=True, allow_none=True)
    note = ma.fields.String(required=True, allow_none=True)


class LabelPartAnswer(AnswerBody):
    """One cultivar of one crop in a lot made of several."""

    cultivar = ma.fields.String(required=True, allow_none=True)
    crop_year = ma.fields.Integer(required=True, allow_none=True)
    share_percent = Percent(required=True)


class SprayStatementAnswer(AnswerBody):
    """Whether a spray record is kept; null where that rests with the lots it was made of."""

    kept = ma.fields.Boolean(required=True, allow_none=True)
    block = ma.fields.String(required=True, allow_none=True)
    season = ma.fields.Integer(required=True, allow_none=True)
    words = ma.fields.String(required=True)


class ShownLicenceAnswer(AnswerBody):
    """The licence that the grower declares; nobody here checked it."""

    licensor = ma.fields.String(required=True)
    number = ma.fields.String(required=True)
    valid_until = ma.fields.Date(required=True, allow_none=True)
    lapsed = ma.fields.Boolean(required=True)


class PlantingAnswer(AnswerBody):
    """Whether the cultivar may be planted where the lot grew, and what its grower declares; no claim of law."""

    status = ma.fields.String(required=True)
    country = ma.fields.String(required=True)
    source = ma.fields.String(allow_none=True)
    checked_on = ma.fields.Date(allow_none=True)
    licence = ma.fields.Nested(ShownLicenceAnswer, required=True, allow_none=True)
    notes = lines(required=True)


class PhysicalFigureAnswer(AnswerBody):
    """A percentage by mass, and where it comes from."""

    value = Percent(required=True)
    report = ma.fields.String(required=True)
    measured_by = ma.fields.String(required=True)
    drawn_by = ma.fields.String(required=True)
    sampled_on = ma.fields.Date(required=True)


class SeedWordAnswer(AnswerBody):
    """What an act calls hops of so many seeds; null where no wording was read for the place and the day."""

    word = ma.fields.String(required=True)
    rule = ma.fields.String(required=True)
    scope = ma.fields.String(required=True)
    country = ma.fields.String(required=True)
    on = ma.fields.Date(required=True)
    source = ma.fields.String(required=True)
    mark = ma.fields.String(required=True)


class ConeShareAnswer(AnswerBody):
    """The share of one class, by mass."""

    code = ma.fields.String(required=True)
    name = ma.fields.String(required=True)
    mass_g = Number(0, 1e6, required=True)
    share_percent = estimate(required=True)


class ConeSortAnswer(AnswerBody):
    """How a sample's cones were sorted, and what the intervals rest on."""

    report = ma.fields.String(required=True)
    measured_by = ma.fields.String(required=True)
    drawn_by = ma.fields.String(required=True)
    sampled_on = ma.fields.Date(required=True)
    sample_g = Number(0, 1e6, required=True)
    cones = Number(0, 1e7, required=True)
    cones_were_counted = ma.fields.Boolean(required=True)
    effective_cones = Number(0, 1e7, required=True)
    shares = ma.fields.List(ma.fields.Nested(ConeShareAnswer), required=True)
    method = ma.fields.String(required=True)
    assumptions = lines(required=True)


class PhysicalQualityAnswer(AnswerBody):
    """What stands of seeds, leaf and stem, waste and the sorted cones; null was never measured."""

    seed_percent = ma.fields.Nested(PhysicalFigureAnswer, required=True, allow_none=True)
    leaf_and_stem_percent = ma.fields.Nested(PhysicalFigureAnswer, required=True, allow_none=True)
    waste_percent = ma.fields.Nested(PhysicalFigureAnswer, required=True, allow_none=True)
    seed_word = ma.fields.Nested(SeedWordAnswer, required=True, allow_none=True)
    cone_sort = ma.fields.Nested(ConeSortAnswer, required=True, allow_none=True)
