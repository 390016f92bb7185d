"""The tables of lots and what is known of them."""

from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from service.records.tables.base import Base, Key, parent, part_of
from service.records.types import kilograms, money

if TYPE_CHECKING:
    from service.records.tables.storage import TemperatureLogRow


class LotRow(Base):
    """One lot; the `search_` columns are kept for listed lots, so that a day's limits are linear in days."""

    __tablename__ = "lot"
    __table_args__ = (
        sa.CheckConstraint("state IN ('draft', 'listed', 'withdrawn')", name="state_known"),
        sa.CheckConstraint("mass_kg IS NULL OR mass_kg > 0", name="mass_positive"),
        sa.CheckConstraint("taken_kg >= 0", name="taken_not_negative"),
        sa.Index(None, "state", "role", "cultivar_key"),
        sa.Index(None, "state", "harvested_on", "id"),
        sa.Index(None, "grower_id", "state"),
        sa.Index(None, "grower_id", "block_key"),
        sa.Index(None, "state", "origin_country", "origin_subdivision"),
    )

    id: Mapped[Key]
    code: Mapped[str] = mapped_column(unique=True)
    grower_id: Mapped[int] = mapped_column(parent("party.id"))
    state: Mapped[str]
    readiness: Mapped[str | None]
    cultivar: Mapped[str]
    cultivar_code: Mapped[str | None]
    # The folded denomination: what a search compares, known cultivar or not.
    cultivar_key: Mapped[str]
    role: Mapped[str]
    crop_year: Mapped[int | None]
    harvested_on: Mapped[date | None]
    harvested_until: Mapped[date | None]
    expected_kg: Mapped[Decimal | None] = mapped_column(kilograms())
    harvest_window_from: Mapped[date | None]
    harvest_window_to: Mapped[date | None]
    # Of wet hops: the hour at which picking ended, and the announced hour of collection.
    picked_at: Mapped[datetime | None]
    collect_at: Mapped[datetime | None]
    form: Mapped[str]
    mass_kg: Mapped[Decimal | None] = mapped_column(kilograms())
    # Delivered, confirmed, moved into other lots, lost or drawn as samples; holds are counted by the clock.
    taken_kg: Mapped[Decimal] = mapped_column(kilograms(), default=Decimal(0), server_default="0")
    price_per_kg: Mapped[Decimal | None] = mapped_column(money())
    currency: Mapped[str | None]
    price_open: Mapped[bool] = mapped_column(default=False)
    own_lot_number: Mapped[str | None]
    sold_in: Mapped[str]
    order_kg_min: Mapped[Decimal | None] = mapped_column(kilograms())
    note: Mapped[str | None]
    made_at: Mapped[datetime]
    made_by: Mapped[str]
    first_listed_on: Mapped[date | None]
    on_hold: Mapped[bool] = mapped_column(default=False, server_default=sa.false())
    block: Mapped[str | None]
    # The folded name of the block, under which its spray record is found.
    block_key: Mapped[str | None]
    origin_country: Mapped[str | None]
    origin_subdivision: Mapped[str | None]

    packing: Mapped[str | None]
    search_day: Mapped[int | None]
    search_log_alpha: Mapped[float | None]
    search_alpha_sd_log: Mapped[float | None]
    search_log_resin: Mapped[float | None]
    search_index_sd_log: Mapped[float | None]
    search_rate_per_day: Mapped[float | None]
    search_rate_low_per_day: Mapped[float | None]
    search_rate_high_per_day: Mapped[float | None]
    search_base_rate_per_day: Mapped[float | None]
    search_learnt_rate_per_day: Mapped[float | None]
    search_learnt_packings: Mapped[str | None]
    search_spread_low: Mapped[float | None]
    search_spread_high: Mapped[float | None]
    search_index_spread_low: Mapped[float | None]
    search_index_spread_high: Mapped[float | None]
    search_alpha_method: Mapped[str | None]
    search_oil_ml_per_100g: Mapped[float | None]
    search_moisture_percent: Mapped[float | None]
    search_alpha_reports: Mapped[int | None]
    search_alpha_drawn_by: Mapped[str | None]
    search_alpha_packages_cored: Mapped[int | None]
    search_alpha_spread: Mapped[float | None]
    # By which version of the sums the search columns were kept; an older one is kept anew.
    search_version: Mapped[int | None]

    spells: Mapped[list["SpellRow"]] = relationship(
        order_by="SpellRow.id", cascade="all, delete-orphan", lazy="selectin"
    )
    packages: Mapped[list["PackageRow"]] = relationship(
        order_by="PackageRow.id", cascade="all, delete-orphan", lazy="selectin"
    )
    certifications: Mapped[list["CertificationRow"]] = relationship(
        order_by="CertificationRow.id", cascade="all, delete-orphan", lazy="selectin"
    )
    reports: Mapped[list["LabReportRow"]] = relationship(
        order_by="LabReportRow.id", cascade="all, delete-orphan", lazy="selectin"
    )
    logs: Mapped[list["TemperatureLogRow"]] = relationship(
        order_by="TemperatureLogRow.id", cascade="all, delete-orphan", lazy="selectin"
    )


class SpellRow(Base):
    """A stretch of storage at one temperature in one packing; the last one is open."""

    __tablename__ = "storage_spell"

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"), index=True)
    began_on: Mapped[date]
    packing: Mapped[str]
    stored_at_c: Mapped[float]
    residual_oxygen_percent: Mapped[float | None]


class PackageRow(Base):
    """So many equal packages of a lot."""

    __tablename__ = "package"
    __table_args__ = (sa.CheckConstraint("count > 0 AND net_kg > 0", name="holds_something"),)

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"), index=True)
    kind: Mapped[str]
    count: Mapped[int]
    net_kg: Mapped[Decimal] = mapped_column(kilograms())


class CertificationRow(Base):
    """What a certifier vouches for of a lot, until a day."""

    __tablename__ = "certification"
    __table_args__ = (
        sa.Index(None, "lot_id", "valid_until"),
        sa.Index(None, "scheme_key", "valid_until"),
    )

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"))
    kind: Mapped[str]
    scheme: Mapped[str]
    # The folded name: what a search compares.
    scheme_key: Mapped[str]
    certifier: Mapped[str]
    number: Mapped[str]
    valid_until: Mapped[date]


class LabReportRow(Base):
    """A lab report as it was written; never edited, at most corrected by a later one."""

    __tablename__ = "lab_report"
    __table_args__ = (sa.UniqueConstraint("lot_id", "code"),)

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"))
    code: Mapped[str]
    laboratory: Mapped[str]
    drawn_by: Mapped[str]
    sampled_on: Mapped[date]
    analysed_on: Mapped[date]
    packages_cored: Mapped[int | None]
    basis: Mapped[str]
    moisture_percent: Mapped[float | None]
    alpha_percent: Mapped[float | None]
    beta_percent: Mapped[float | None]
    cohumulone_percent_of_alpha: Mapped[float | None]
    hop_storage_index: Mapped[float | None]
    oil_ml_per_100g: Mapped[float | None]
    oil_shares_percent: Mapped[dict[str, float] | None] = mapped_column(sa.JSON)
    oil_shares_basis: Mapped[str | None]
    absorbance: Mapped[dict[str, Any] | None] = mapped_column(sa.JSON)
    uncertainty: Mapped[dict[str, float] | None] = mapped_column(sa.JSON)
    methods: Mapped[dict[str, str]] = mapped_column(sa.JSON)
    method_note: Mapped[str | None]
    corrects: Mapped[str | None]
    reason: Mapped[str | None]
    corrected_by: Mapped[str | None]
    confirmed: Mapped[bool] = mapped_column(default=False)
    before_pelletizing: Mapped[bool] = mapped_column(default=False, server_default=sa.false())
    filed_at: Mapped[datetime]
    filed_by: Mapped[str]
    filed_for: Mapped[str]


class CertificateFileRow(Base):
    """One file; `content` is empty where a directory keeps it under its digest."""

    __tablename__ = "certificate_file"
    __table_args__ = (
        sa.UniqueConstraint("lot_id", "report_code", "sha256"),
        sa.CheckConstraint("kind IN ('pdf', 'png', 'jpeg')", name="kind_known"),
    )

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"))
    report_code: Mapped[str]
    sha256: Mapped[str]
    kind: Mapped[str]
    size_bytes: Mapped[int]
    content: Mapped[bytes | None] = mapped_column(sa.LargeBinary)
    added_at: Mapped[datetime]
    added_by: Mapped[str]


class CultivarRow(Base):
    """A cultivar that the service does not ship."""

    __tablename__ = "cultivar"

    id: Mapped[Key]
    code: Mapped[str] = mapped_column(unique=True)
    denomination: Mapped[str]
    synonyms: Mapped[list[str]] = mapped_column(sa.JSON)
    role: Mapped[str]
    source: Mapped[str]
    figures: Mapped[list[dict[str, Any]]] = mapped_column(sa.JSON)


class CultivarStatusRow(Base):
    """Who may plant a cultivar in one country, as somebody found it on a day."""

    __tablename__ = "cultivar_status"
    __table_args__ = (
        sa.UniqueConstraint("cultivar_code", "country"),
        sa.CheckConstraint("status IN ('public', 'protected', 'unconfirmed')", name="status_known"),
    )

    id: Mapped[Key]
    cultivar_code: Mapped[str]
    country: Mapped[str]
    status: Mapped[str]
    source: Mapped[str]
    checked_on: Mapped[date]


class QualityHoldRow(Base):
    """One concern about a lot, open until it is lifted."""

    __tablename__ = "quality_hold"
    __table_args__ = (
        sa.UniqueConstraint("lot_id", "code"),
        sa.CheckConstraint("(lifted_at IS NULL) = (finding IS NULL)", name="lifted_with_a_finding"),
    )

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(parent("lot.id"))
    code: Mapped[str]
    concern: Mapped[str]
    words: Mapped[str]
    recall_code: Mapped[str | None] = mapped_column(index=True)
    placed_at: Mapped[datetime]
    placed_by: Mapped[str]
    lifted_at: Mapped[datetime | None]
    lifted_by: Mapped[str | None]
    finding: Mapped[str | None]


class QualityReportRow(Base):
    """A report as it was written; never edited, at most marked as corrected."""

    __tablename__ = "quality_report"
    __table_args__ = (sa.UniqueConstraint("lot_id", "code"),)

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"))
    code: Mapped[str]
    measured_by: Mapped[str]
    drawn_by: Mapped[str]
    sampled_on: Mapped[date]
    method_note: Mapped[str | None]
    sample_g: Mapped[float | None]
    seeds_g: Mapped[float | None]
    leaf_and_stem_g: Mapped[float | None]
    waste_g: Mapped[float | None]
    seed_percent: Mapped[float | None]
    leaf_and_stem_percent: Mapped[float | None]
    waste_percent: Mapped[float | None]
    # Code, name and grams of each class, as the classes were called that day.
    cones: Mapped[list[list[Any]]] = mapped_column(sa.JSON)
    cones_counted: Mapped[int | None]
    carried_from: Mapped[str | None] = mapped_column(index=True)
    corrects: Mapped[str | None]
    reason: Mapped[str | None]
    corrected_by: Mapped[str | None]
    filed_at: Mapped[datetime]
    filed_by: Mapped[str]


class ConeClassesRow(Base):
    """The classes that the specialist set; the newest row stands."""

    __tablename__ = "cone_classes"

    id: Mapped[Key]
    classes: Mapped[list[list[str]]] = mapped_column(sa.JSON)
    set_at: Mapped[datetime]
    set_by: Mapped[str]


class SubmissionRow(Base):
    """One sample, and what was wanted of it."""

    __tablename__ = "submission"
    __table_args__ = (
        sa.UniqueConstraint("lot_id", "code"),
        sa.CheckConstraint("mass_g > 0", name="weighs_something"),
    )

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(parent("lot.id"))
    code: Mapped[str]
    mass_g: Mapped[int]
    sent_on: Mapped[date]
    laboratory: Mapped[str]
    tests: Mapped[list[str]] = mapped_column(sa.JSON)
    note: Mapped[str | None]
    booking_code: Mapped[str | None]
    made_at: Mapped[datetime]
    made_by: Mapped[str]


class BookingRow(Base):
    """Kilograms that left a lot; one that was taken back stays, and counts no more."""

    __tablename__ = "booking"
    __table_args__ = (
        sa.CheckConstraint("mass_kg > 0", name="mass_positive"),
        sa.UniqueConstraint("lot_id", "code"),
    )

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(parent("lot.id"))
    code: Mapped[str]
    kind: Mapped[str]
    mass_kg: Mapped[Decimal] = mapped_column(kilograms())
    booked_on: Mapped[date]
    # A reason may name another party; the trail names the change, not the words.
    reason: Mapped[str] = mapped_column(info={"kept_back": True})
    # The lot that a step made of them, or on whose making they were lost.
    into_lot_id: Mapped[int | None] = mapped_column(parent("lot.id"), index=True)
    # The packages that went along, as [kind, count, net].
    packages: Mapped[list[list[str]] | None] = mapped_column(sa.JSON)
    made_at: Mapped[datetime]
    made_by: Mapped[str]
    taken_back_at: Mapped[datetime | None]
    taken_back_by: Mapped[str | None]
    taken_back_reason: Mapped[str | None] = mapped_column(info={"kept_back": True})


class ChangeRow(Base):
    """One line. It names what it is about by code, so that it outlives it."""

    __tablename__ = "change"
    __table_args__ = (
        sa.CheckConstraint("act IN ('made', 'changed', 'removed')", name="act_known"),
        sa.Index(None, "lot_code", "id"),
        sa.Index(None, "grower_code", "id"),
        sa.Index(None, "brewery_code", "id"),
        sa.Index(None, "kind", "code"),
    )

    id: Mapped[Key]
    at: Mapped[datetime]
    by: Mapped[str]
    act: Mapped[str]
    kind: Mapped[str]
    code: Mapped[str | None]
    lot_code: Mapped[str | None]
    grower_code: Mapped[str | None]
    brewery_code: Mapped[str | None]
    fields: Mapped[dict[str, Any]] = mapped_column(sa.JSON)


SQLITE_GUARDS = (
    "CREATE TRIGGER change_stays BEFORE UPDATE ON change "
    "BEGIN SELECT RAISE(ABORT, 'a line of the trail is never altered'); END",
    "CREATE TRIGGER change_remains BEFORE DELETE ON change "
    "BEGIN SELECT RAISE(ABORT, 'a line of the trail is never removed'); END",
)
POSTGRESQL_GUARDS = (
    "CREATE FUNCTION refuse_change_of_trail() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION 'a line of the trail is never altered or removed'; END $$",
    "CREATE TRIGGER change_stays BEFORE UPDATE OR DELETE ON change "
    "FOR EACH ROW EXECUTE FUNCTION refuse_change_of_trail()",
)
for dialect, guards in (("sqlite", SQLITE_GUARDS), ("postgresql", POSTGRESQL_GUARDS)):
    for guard in guards:
        sa.event.listen(
            ChangeRow.__table__,
            "after_create",
            sa.DDL(  # type: ignore[no-untyped-call]  # the library has no hint for it
                guard.replace("%", "%%")
            ).execute_if(dialect=dialect),
        )
