"""All tables, a file per subject; foreign keys go by name, so no table file imports another."""

from service.records.tables.access import IdempotencyRow, TokenRow
from service.records.tables.allocations import AllocationRow
from service.records.tables.base import Base
from service.records.tables.bookings import BookingRow
from service.records.tables.certificates import CertificateFileRow
from service.records.tables.changes import ChangeRow
from service.records.tables.cultivars import CultivarRow, CultivarStatusRow
from service.records.tables.fits import UtilizationFitRow
from service.records.tables.licences import LicenceRow
from service.records.tables.lots import CertificationRow, LabReportRow, LotRow, PackageRow, SpellRow
from service.records.tables.notices import NoticeRow, OutboxRow, SavedSearchRow
from service.records.tables.parties import PartyRow
from service.records.tables.quality_holds import QualityHoldRow
from service.records.tables.quality_reports import ConeClassesRow, QualityReportRow
from service.records.tables.recalls import RecallLineRow, RecallRow
from service.records.tables.requests import RequestRow
from service.records.tables.reservations import ReceiptRow, ReservationRow
from service.records.tables.rub_samples import RubSampleRow
from service.records.tables.sheets import SheetRow
from service.records.tables.sprays import SprayRow
from service.records.tables.steps import KilnBatchRow, StepRow
from service.records.tables.submissions import SubmissionRow
from service.records.tables.temperature_logs import TemperatureLogRow

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
    "UtilizationFitRow",
]
