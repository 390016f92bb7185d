"""Facts of sheets for tests, and the reading of a printed sheet by other libraries than the one that printed it."""

import io
import re
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pypdf
import pypdfium2
from PIL import Image

from service.market.goods.lots import Lot, Package
from service.market.goods.provenance import Certification
from service.market.goods.quality_reports import ConeMass, QualityReport
from service.market.growing.licences import Licence
from service.market.processing.lot_statements import NOTHING_STATED, LotStatements
from service.market.sheet.lot_view import view_lot
from service.market.sheet.sheet_facts import LotSheetFacts, lot_sheet_facts
from service.reference.six_month_storage import six_month_loss
from tests.factories import (
    NOW,
    TODAY,
    LabReportFactory,
    ListedLotFactory,
    LotFactory,
    PartyFactory,
    SpellFactory,
)

METHODS = {
    "alpha_beta": "asbc_hops_14",
    "cohumulone": "asbc_hops_14",
    "hop_storage_index": "asbc_hops_12",
    "moisture": "asbc_hops_4",
    "oil": "asbc_hops_13",
    "oil_shares": "gas_chromatography_area",
}
SHARES = {"myrcene": 48.0, "humulene": 24.0, "caryophyllene": 8.0, "farnesene": 5.5}
LONG_NAME = (
    "Обʼєднання хмелярів Житомирщини «Поліська Нива» та Συνεταιρισμός Λυκίσκου Βορείου Ελλάδος, "
    "Žatecké chmelařské družstvo Đắk Nông, Ĩñţérnåțîøñâł"
)


def facts_of(
    lot: Lot,
    *,
    grower: dict[str, Any] | None = None,
    today: date = TODAY,
    revision: int | None = 3,
    statuses: tuple[Any, ...] = (),
    stated: LotStatements = NOTHING_STATED,
) -> LotSheetFacts:
    """The facts of a lot's sheet."""
    party = PartyFactory(**{"code": "ALDER", "name": "Alderbrook Hop Yard", **(grower or {})})
    return lot_sheet_facts(
        view_lot(lot, grower=party, statuses=statuses, today=today, stated=stated),
        today=today,
        public_url=f"https://hops.example.org/v1/lots/{lot.code}",
        revision=revision,
        loss=six_month_loss(lot.cultivar),
    )


def analysed(*, report: dict[str, Any] | None = None, **told: Any) -> Lot:
    """A lot with every figure measured."""
    everything = {
        "code": "R1",
        "cohumulone_percent_of_alpha": 31.0,
        "oil_shares_percent": SHARES,
        "oil_shares_basis": "peak_area",
        "methods": METHODS,
    }
    given = {
        "code": "ALDER-2026-07",
        "own_lot_number": "B-14",
        "packages": (Package(kind="box", count=6, net_kg=Decimal(20)),),
        "reports": (LabReportFactory(**{**everything, **(report or {})}),),
    }
    return ListedLotFactory(**{**given, **told})


def certified(**told: Any) -> Lot:
    """A lot of a named block with certifications, one of them lapsed."""
    given = {
        "block": "North 2",
        "origin_country": "CA",
        "origin_subdivision": "CA-NS",
        "certifications": (
            Certification(
                kind="other",
                scheme="Clean Brook",
                certifier="Heron Certification",
                number="9",
                valid_until=date(2026, 10, 31),
            ),
            Certification(
                kind="organic",
                scheme="Valley Organic",
                certifier="Heron Certification",
                number="VO-17",
                valid_until=date(2027, 12, 31),
            ),
        ),
    }
    return analysed(**{**given, **told})


def stated(**told: Any) -> LotStatements:
    """Everything that may stand beside a lot."""
    report = QualityReport(
        code="Q1",
        measured_by="Quarry Lane Laboratory",
        drawn_by="official",
        sampled_on=date(2026, 9, 3),
        seed_percent=1.2,
        leaf_and_stem_percent=3.8,
        waste_percent=2.5,
        cones=tuple(
            ConeMass(code=name, name=name.replace("_", " "), mass_g=mass_g)
            for name, mass_g in (
                ("ripe", 24.2),
                ("under-ripe", 3.1),
                ("over-ripe", 1.4),
                ("mechanically_damaged", 0.9),
                ("damaged_by_pest_or_disease", 0.4),
            )
        ),
        cones_counted=212,
        filed_at=NOW,
        filed_by="grower:ALDER",
    )
    licence = Licence(
        code="L1",
        grower_code="ALDER",
        cultivar="Willamette",
        cultivar_key="WILLAMETTE",
        licensor="Heron Breeding",
        number="HB-9",
        valid_until=date(2027, 8, 31),
        declared_at=NOW,
        declared_by="grower:ALDER",
    )
    return LotStatements(
        **{"is_spray_record_kept": True, "licences": (licence,), "quality_reports": (report,), **told}
    )


def announced(**told: Any) -> Lot:
    """A lot announced before picking."""
    given = {
        "code": "ALDER-2027-01",
        "state": "listed",
        "readiness": "announced",
        "harvested_on": None,
        "crop_year": None,
        "mass_kg": None,
        "expected_kg": Decimal(300),
        "harvest_window_from": date(2027, 8, 20),
        "harvest_window_to": date(2027, 9, 10),
        "spells": (),
    }
    return LotFactory(**{**given, **told})


def wet(**told: Any) -> Lot:
    """A lot of wet hops, without a figure."""
    return ListedLotFactory(
        **{"code": "ALDER-2026-09", "form": "wet_hop", "spells": (), "reports": (), **told}
    )


def awaiting(**told: Any) -> Lot:
    """A lot of a cultivar that nobody knows, whose analysis is awaited."""
    given = {
        "code": "ALDER-2026-10",
        "state": "listed",
        "readiness": "awaiting_analysis",
        "cultivar": "Own Seedling 7",
        "cultivar_code": None,
    }
    return LotFactory(**{**given, **told})


def crowded() -> Lot:
    """A lot with twenty reports, twenty spells, and every text as long as the door lets in."""
    reports = tuple(
        LabReportFactory(
            code=f"R{n}",
            laboratory=(LONG_NAME * 2)[:200],
            drawn_by="laboratory",
            corrected_by=f"R{n + 1}" if n % 3 == 1 and n < 19 else None,
            corrects=f"R{n - 1}" if n % 3 == 2 else None,
            reason="A decimal point was misplaced in the earlier certificate" if n % 3 == 2 else None,
            packages_cored=None,
            cohumulone_percent_of_alpha=33.25,
            oil_shares_percent={f"part_{k}_of_the_oil": 2.3 for k in range(40)},
            oil_shares_basis="mass",
            uncertainty={"alpha_percent": 0.25, "oil_ml_per_100g": 0.1},
            method_note="a procedure of the house, with isooctane and a longer extraction " * 3,
            methods=dict.fromkeys(METHODS, "other"),
            basis="dry",
            moisture_percent=13.5,
            hop_storage_index=0.2,
        )
        for n in range(1, 21)
    )
    spells = tuple(
        SpellFactory(
            began_on=date(2026, 8, 29) + timedelta(days=3 * n),
            packing="barrier_low_oxygen",
            residual_oxygen_percent=3.5,
            stored_at_c=21.5 + n / 4,
        )
        for n in range(20)
    )
    kinds = ("bale", "box", "foil", "box", "bale", "foil", "box", "bale")
    return ListedLotFactory(
        code="ABCDEFGHIJKL-2026-123456",
        cultivar=("Donaudampfschiffahrtsgesellschaftskapitänshopfen " * 5)[:200],
        cultivar_code="CASCADE",
        form="pellet_enriched",
        role="dual",
        reports=reports,
        spells=spells,
        own_lot_number=("Partie 2026/77 " * 20)[:200],
        mass_kg=Decimal("123456.789"),
        packages=tuple(
            Package(kind=kind, count=1000 + n, net_kg=Decimal("13.125")) for n, kind in enumerate(kinds)
        ),
    )


def read(file: bytes) -> pypdf.PdfReader:
    """Open a printed sheet with another library."""
    return pypdf.PdfReader(io.BytesIO(file))


def bare(text: str) -> str:
    """A text without any space, since a printed page breaks lines where it must."""
    return re.sub(r"\s", "", text)


def printed_text(file: bytes) -> str:
    """What a printed sheet says on all its pages, without spaces."""
    return bare("".join(page.extract_text() for page in read(file).pages))


def picture(file: bytes, *, dots_per_inch: int = 150, page: int = 0) -> Image.Image:
    """A page as a grey picture."""
    document = pypdfium2.PdfDocument(file)
    try:
        return document[page].render(scale=dots_per_inch / 72).to_pil().convert("L")
    finally:
        document.close()
