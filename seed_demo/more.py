"""More of what makes hops ones to trust: how alike a grower's lots are, files in and out, wet hops by the hour."""

from datetime import timedelta
from decimal import Decimal

from seed_demo.saying import Tour, tell
from service.api.goods.bulk import take_file
from service.api.goods.bulk_export import HEADER, export_rows
from service.files.writing import write_csv
from service.market.goods.lots import Lot
from service.market.people.access import Caller
from service.records.session import Session
from service.usecases.goods.bulk import export_lots
from service.usecases.goods.consistency import show_consistency
from service.usecases.goods.lots import draft_lot

SPECIALIST = Caller("specialist")


def tell_more(tour: Tour, session: Session, lot: Lot) -> None:
    """Three shorter stories, in a transaction that is taken back."""
    grower = Caller("grower", lot.grower_code)
    for story in (_compared, _by_file, _fresh_from_the_bine):
        story(tour, session, lot, grower)


def _compared(tour: Tour, session: Session, lot: Lot, grower: Caller) -> None:
    """How alike the grower's lots of that cultivar are."""
    found = show_consistency(
        session,
        lot.grower_code,
        caller=grower,
        cultivar=lot.cultivar,
        lot_code=None,
        now=tour.now,
    )
    alpha = next(figure for figure in found.figures if figure.name == "alpha_percent")
    spread = (
        f"median {alpha.spread.median:.1f} %, robust spread {alpha.spread.robust_sd:.2f}"
        if alpha.spread
        else "too few to tell"
    )
    tell(
        tour,
        f"{found.lots} lot(s) of {found.cultivar} by {found.grower_code}, alpha: {spread}. Brewers see this from five"
        " lots over two crop years on, with the grower's consent.",
        lead="- ",
    )


def _by_file(tour: Tour, session: Session, lot: Lot, grower: Caller) -> None:
    """A grower's lots out as a file, and in again."""
    lots, _ = export_lots(session, caller=grower, grower_code=None, now=tour.now)
    content = write_csv(HEADER, export_rows(lots))
    report = take_file(
        session,
        content,
        who=SPECIALIST,
        moment=tour.now,
        mode="all_or_nothing",
        dry_run=True,
        grower_code=lot.grower_code,
    )
    tell(
        tour,
        f"{len(lots)} lots went out as a table of {len(content) // 1024} KiB; taken in again, {report.lots} would be"
        f" written, with {report.faults_in_all} faults.",
        lead="- ",
    )


def _fresh_from_the_bine(tour: Tour, session: Session, lot: Lot, grower: Caller) -> None:
    """Wet hops, told by the hour."""
    picked_at = tour.now - timedelta(hours=7)
    view = draft_lot(
        session,
        caller=grower,
        asked={
            "cultivar": lot.cultivar,
            "role": lot.role,
            "form": "wet_hop",
            "harvested_on": picked_at.date(),
            "picked_at": picked_at,
            "mass_kg": Decimal(80),
        },
        now=tour.now,
    )
    if view.wet is not None:
        tell(
            tour,
            f"80 kg of wet hops, {view.wet.age_hours} hours old, moisture {view.wet.moisture_percent.estimate:g} %"
            f" {'measured' if view.wet.moisture_is_measured else 'assumed'}: no storage model, a day to use them.",
        )
