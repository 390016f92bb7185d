"""All tables, a file per subject; foreign keys go by name, so no table file imports another."""

from service.records.tables.base import Base
from service.records.tables.brewing import MeasuredBrewRow
from service.records.tables.goods import (
    BookingRow,
    CertificateFileRow,
    CertificationRow,
    ChangeRow,
    ConeClassesRow,
    CultivarRow,
    CultivarStatusRow,
    LabReportRow,
    LotRow,
    PackageRow,
    QualityHoldRow,
    QualityReportRow,
    SpellRow,
    SubmissionRow,
)
from service.records.tables.growing import LicenceRow, SprayRow
from service.records.tables.matching import RequestRow
from service.records.tables.people import IdempotencyRow, PartyRow, TokenRow
from service.records.tables.planning import AllocationRow
from service.records.tables.processing import KilnBatchRow, StepRow
from service.records.tables.sheet import SheetRow
from service.records.tables.storage import TemperatureLogRow
from service.records.tables.trade import (
    NoticeRow,
    OutboxRow,
    RecallLineRow,
    RecallRow,
    ReceiptRow,
    ReservationRow,
    RubSampleRow,
    SavedSearchRow,
)

__all__ = [
    "AllocationRow",
    "Base",
    "BookingRow",
    "CertificateFileRow",
    "CertificationRow",
    "ChangeRow",
    "ConeClassesRow",
    "CultivarRow",
    "CultivarStatusRow",
    "IdempotencyRow",
    "KilnBatchRow",
    "LabReportRow",
    "LicenceRow",
    "LotRow",
    "MeasuredBrewRow",
    "NoticeRow",
    "OutboxRow",
    "PackageRow",
    "PartyRow",
    "QualityHoldRow",
    "QualityReportRow",
    "RecallLineRow",
    "RecallRow",
    "ReceiptRow",
    "RequestRow",
    "ReservationRow",
    "RubSampleRow",
    "SavedSearchRow",
    "SheetRow",
    "SpellRow",
    "SprayRow",
    "StepRow",
    "SubmissionRow",
    "TemperatureLogRow",
    "TokenRow",
]
