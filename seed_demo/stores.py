"""Two lots of the last harvest whose storage is known better: one with a logger beside it, one analysed again."""

import hashlib
from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from seed_demo.crops import Crop
from service.market.people.access import Caller
from service.market.storage.log_filing import read_file
from service.records.session import Session
from service.usecases.goods.lab_reports import file_report
from service.usecases.storage.storage import storage_of_lot
from service.usecases.storage.temperature_readings import file_readings

Say = Callable[[str], None]
READ_EVERY_HOURS = 2
WARM_DAYS = range(20, 24)
SILENT_DAYS = range(30, 33)


def load_stores(session: Session, codes: Mapping[str, Crop], *, now: datetime, say: Say) -> None:
    """File a logger's readings on one lot, and a second analysis on another."""
    plain = [(code, crop) for code, crop in codes.items() if crop.readiness == "analysed" and not crop.note]
    year = max(crop.draft["harvested_on"].year for _, crop in plain)
    last = [(code, crop) for code, crop in plain if crop.draft["harvested_on"].year == year]
    logged, again = last[0], last[1]
    say("  two stores are known better than by what is stated:")
    _log(session, *logged, now=now, say=say)
    _analyse_again(session, *again, now=now, say=say)


def _log(session: Session, code: str, crop: Crop, *, now: datetime, say: Say) -> None:
    text = readings(crop.draft["harvested_on"], now.date(), crop.draft["stored_at_c"])
    log = file_readings(
        session,
        code,
        caller=Caller("grower", crop.grower_code),
        file=read_file(text, gap_hours=None, sha256=hashlib.sha256(text.encode()).hexdigest()),
        place="on the shelf beside it",
        corrects=None,
        reason=None,
        now=now,
    )
    say(
        f"    {code:<18} {log.readings} logger readings, {log.readings_above_20_c} of them over 20 °C, "
        f"{log.gaps_hours:.0f} h of silence"
    )


def readings(picked: date, today: date, stored_at_c: float) -> str:
    """What a logger wrote from picking on: a store that breathes, four days with the door open, three of silence."""
    rows = ["time;temperature (°C)"]
    for day in range((today - picked).days):
        if day in SILENT_DAYS:
            continue
        for hour in range(0, 24, READ_EVERY_HOURS):
            at_c = 21.5 if day in WARM_DAYS and 10 <= hour <= 18 else stored_at_c + hour % 6 / 4
            rows.append(f"{picked + timedelta(days=day)} {hour:02d}:00;{at_c:.2f}".replace(".", ","))
    return "\n".join(rows) + "\n"


def _analyse_again(session: Session, code: str, crop: Crop, *, now: datetime, say: Say) -> None:
    grower, first = Caller("grower", crop.grower_code), crop.reports[0]
    sampled = now.date() - timedelta(days=3)
    second: dict[str, Any] = {
        **first,
        "sampled_on": sampled,
        "analysed_on": now.date() - timedelta(days=1),
        "alpha_percent": round(first["alpha_percent"] * 0.95, 2),
        "hop_storage_index": round(first["hop_storage_index"] * 1.05, 3),
    }
    file_report(session, code, caller=grower, asked=second, now=now)
    outlook = storage_of_lot(session, code, caller=grower, on=None, plan=None, now=now)
    learnt = outlook.rate_learning
    if learnt is not None:
        prior, result = (_percent_a_month(learnt[f"{name}_per_day_at_20_c"]) for name in ("prior", "result"))
        say(f"    {code:<18} analysed twice: a month at 20 °C takes {result}; its cultivar's {prior}")


def _percent_a_month(rate: Any) -> str:
    return f"{3000 * rate['low']:.0f} to {3000 * rate['high']:.0f} %"
