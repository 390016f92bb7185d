"""What a lot inherits or was told beside its own record: sprays, licences, physical quality."""

from collections.abc import Sequence
from datetime import date

from service.facts import Fact
from service.market.goods.lots import Step
from service.market.goods.quality_reports import QualityReport
from service.market.growing.licences import Licence
from service.market.processing.composition import LabelPart


class LotStatements(Fact, frozen=True, kw_only=True):
    """What the books hold beside a lot; by default nothing."""

    is_spray_record_kept: bool = False
    is_made_of_others: bool = False
    licences: Sequence[Licence] = ()
    quality_reports: Sequence[QualityReport] = ()
    sample_sent_on: date | None = None
    step: Step | None = None
    label_parts: tuple[LabelPart, ...] = ()


NOTHING_STATED = LotStatements()
