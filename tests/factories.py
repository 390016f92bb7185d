"""Facts and rows for tests, by factory-boy: a test says only what it is about."""

import os
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import factory

from service.market.goods.lab_reports import LabReport
from service.market.goods.lots import Lot, StorageSpell
from service.market.goods.temperature_logs import TemperatureLog
from service.market.people.parties import Party
from service.records import tables
from service.reference.names import fold

TODAY = date(2026, 11, 25)
# The time of day of all tests; .ci/run sets others, so that no test rests on the hour.
NOW = datetime.combine(TODAY, time.fromisoformat(os.environ.get("OASTBOOK_TEST_CLOCK", "09:30")), UTC)


class PartyFactory(factory.Factory):
    """A grower (or a brewery) somewhere in an invented valley."""

    class Meta:
        model = Party

    kind = "grower"
    code = factory.Sequence(lambda n: f"P{n}")
    name = factory.LazyAttribute(lambda party: f"{party.code.capitalize()} Yard")
    email = factory.LazyAttribute(lambda party: f"{party.code.lower()}@example.org")
    country = "CA"
    locality = "Alder Brook"
    latitude_deg = 44.95
    longitude_deg = -64.40
    elevation_m = 35.0


class SpellFactory(factory.Factory):
    """Storage in a cold room, vacuum packed, since the harvest."""

    class Meta:
        model = StorageSpell

    began_on = date(2026, 8, 29)
    packing = "barrier_vacuum"
    stored_at_c = -2.0


class LabReportFactory(factory.Factory):
    """A plausible report on an aroma hop of the last harvest."""

    class Meta:
        model = LabReport

    code = factory.Sequence(lambda n: f"R{n + 1}")
    laboratory = "Quarry Lane Laboratory"
    drawn_by = "grower"
    sampled_on = date(2026, 9, 3)
    analysed_on = factory.LazyAttribute(lambda report: report.sampled_on + timedelta(days=5))
    packages_cored = 3
    moisture_percent = 9.1
    alpha_percent = 5.4
    beta_percent = 3.9
    hop_storage_index = 0.27
    oil_ml_per_100g = 1.2
    methods = factory.LazyFunction(
        lambda: {
            "alpha_beta": "asbc_hops_14",
            "hop_storage_index": "asbc_hops_12",
            "moisture": "asbc_hops_4",
            "oil": "asbc_hops_13",
        }
    )
    filed_at = NOW
    filed_by = "grower:ALDER"
    filed_for = "grower:ALDER"


def log_of(
    *,
    began_on: date = date(2026, 9, 3),
    days: int = 30,
    at_c: float = 15.0,
    covered_fraction: float = 1.0,
    code: str = "T1",
) -> TemperatureLog:
    """A logger's file that read one temperature for so many days."""
    factor = 2 ** ((at_c - 20) / 15) * covered_fraction
    first = (began_on - date(1970, 1, 1)).days
    columns = {
        "covered_fraction": covered_fraction,
        "effective_days_at_20_c": factor,
        "effective_days_above_20_c": factor if at_c > 20 else 0.0,
        "mean_c": at_c,
        "coldest_c": at_c,
        "hottest_c": at_c,
    }
    return TemperatureLog(
        code=code,
        file_sha256=f"{code}-{began_on}-{days}-{at_c}",
        has_offsets=False,
        first_reading=f"{began_on}T00:00:00",
        last_reading=f"{began_on + timedelta(days=days)}T00:00:00",
        readings=days + 1,
        mean_c=at_c,
        coldest_c=at_c,
        hottest_c=at_c,
        readings_above_20_c=days + 1 if at_c > 20 else 0,
        days_above_20_c=float(days) if at_c > 20 else 0.0,
        gaps_count=0,
        gaps_hours=0.0,
        gaps=[],
        duplicates=0,
        out_of_order=0,
        rows_without_temperature_count=0,
        rows_without_temperature=[],
        days={"day": list(range(first, first + days)), **{name: [v] * days for name, v in columns.items()}},
        filed_at=NOW,
        filed_by="grower:ALDER",
    )


class LotFactory(factory.Factory):
    """A draft of a known aroma hop, picked and packed, without a report."""

    class Meta:
        model = Lot

    code = factory.Sequence(lambda n: f"ALDER-2026-{n:02d}")
    grower_code = "ALDER"
    cultivar = "Willamette"
    cultivar_code = "WILLAMETTE"
    role = "aroma"
    form = "whole_cone"
    harvested_on = date(2026, 8, 29)
    crop_year = 2026
    mass_kg = Decimal("120.5")
    spells = factory.LazyFunction(lambda: (SpellFactory(),))
    made_at = NOW
    made_by = "grower:ALDER"


class ListedLotFactory(LotFactory):
    """A lot listed as analysed."""

    state = "listed"
    readiness = "analysed"
    reports = factory.LazyFunction(lambda: (LabReportFactory(code="R1"),))
    first_listed_on = date(2026, 9, 10)


class RowFactory(factory.alchemy.SQLAlchemyModelFactory):
    """Rows go into the session that a test sets by `rows_into`."""

    class Meta:
        abstract = True
        sqlalchemy_session_persistence = "flush"


class PartyRowFactory(RowFactory):
    """A grower's row."""

    class Meta:
        model = tables.PartyRow

    kind = "grower"
    code = factory.Sequence(lambda n: f"ROW{n}")
    name = "A yard"
    country = "CA"
    locality = "Alder Brook"
    latitude_deg = 0.0
    longitude_deg = 0.0
    unit_x, unit_y, unit_z = 1.0, 0.0, 0.0


class LotRowFactory(RowFactory):
    """A listed lot's row, of whatever nobody asks about."""

    class Meta:
        model = tables.LotRow

    code = factory.Sequence(lambda n: f"ROW-2026-{n}")
    state = "listed"
    readiness = "analysed"
    cultivar = "Cascade"
    cultivar_code = "CASCADE"
    cultivar_key = "CASCADE"
    role = "aroma"
    crop_year = 2026
    harvested_on = date(2026, 9, 1)
    form = "whole_cone"
    mass_kg = Decimal(100)
    sold_in = "any_mass"
    made_at = NOW
    made_by = "grower:ROW"


class CertificationRowFactory(RowFactory):
    """A certification of a lot's row."""

    class Meta:
        model = tables.CertificationRow

    kind = "organic"
    scheme = "River Organic"
    scheme_key = factory.LazyAttribute(lambda held: fold(held.scheme))
    certifier = "Valley Inspection"
    number = factory.Sequence(lambda n: f"VI-{n}")
    valid_until = date(2027, 6, 1)


def rows_into(session: object) -> None:
    """Let row factories write into a session."""
    for kind in (RowFactory, *RowFactory.__subclasses__()):
        kind._meta.sqlalchemy_session = session
