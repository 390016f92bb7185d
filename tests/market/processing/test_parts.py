from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.errors import InvalidRequest
from service.facts import replace
from service.market.goods.lab_reports import correct
from service.market.goods.lots import Package
from service.market.goods.temperature_logs import logged_days
from service.market.processing.parts import correct_part, inherited_reports, make_part, open_part
from tests.factories import NOW, LabReportFactory, ListedLotFactory, SpellFactory, log_of

BOX = Package(kind="box", count=1, net_kg=Decimal(20))


def part(whole: Any, **told: Any) -> Any:
    plain = {"code": "ALDER-2026-77", "mass_kg": Decimal(20), "packages": (BOX,), "own_lot_number": None}
    return make_part(whole, note=None, now=NOW, made_by="grower:ALDER", **{**plain, **told})


def test_a_part_is_a_draft_with_the_record_of_the_whole_and_none_of_its_promises() -> None:
    whole = ListedLotFactory(
        taken_kg=Decimal(40), held_kg=Decimal(30), sold_in="whole_packages", order_kg_min=Decimal(40)
    )

    made = part(whole)

    assert (made.state, made.readiness, made.first_listed_on) == ("draft", None, None)
    assert (made.free_kg, made.order_kg_min, made.sold_in) == (Decimal(20), None, "whole_packages")
    for name in ("grower_code", "cultivar", "crop_year", "harvested_on", "form", "spells", "role", "reports"):
        assert getattr(made, name) == getattr(whole, name), name
    assert part(whole, packages=()).sold_in == "any_mass"


def test_a_buyers_own_report_does_not_come_along() -> None:
    first = LabReportFactory(code="R1", alpha_percent=54.0)
    buyers = LabReportFactory(code="R2", drawn_by="buyer", filed_for="brewery:FINCH")
    fixed = LabReportFactory(code="R3", alpha_percent=5.4, corrects="R1", reason="a slip")

    carried = inherited_reports(correct((first, buyers), fixed))

    assert [(r.code, r.corrects, r.corrected_by) for r in carried] == [("R1", None, "R2"), ("R2", "R1", None)]


def test_opening_starts_a_spell_and_forgets_what_the_whole_did_later() -> None:
    spells = (SpellFactory(), SpellFactory(began_on=date(2026, 11, 20), stored_at_c=4.0))
    whole = ListedLotFactory(spells=spells)

    opened = open_part(part(whole), opened_on=date(2026, 11, 10), packing="open", stored_at_c=None)

    assert [(s.began_on.isoformat(), s.packing, s.stored_at_c) for s in opened.spells] == [
        ("2026-08-29", "barrier_vacuum", -2.0),
        ("2026-11-10", "open", -2.0),
    ]
    with pytest.raises(InvalidRequest):
        open_part(part(replace(whole, spells=())), opened_on=NOW.date(), packing="open", stored_at_c=None)


def test_a_correction_reaches_a_part_that_carries_the_report_and_no_other() -> None:
    whole = ListedLotFactory()
    made, old = part(whole), whole.reports[0]
    new = LabReportFactory(code="R2", alpha_percent=4.9, corrects="R1", reason="a slip")

    corrected = correct_part(made, old=old, new=new)

    assert corrected is not None
    assert [(r.code, r.corrected_by, r.alpha_percent) for r in corrected.reports] == [
        ("R1", "R2", 5.4),
        ("R2", None, 4.9),
    ]
    assert correct_part(corrected, old=old, new=new) is None
    assert correct_part(replace(made, reports=()), old=old, new=new) is None


def test_a_part_brings_along_what_the_logger_saw_until_it_was_opened() -> None:
    whole = ListedLotFactory(logs=(log_of(days=30),))
    closed = part(whole)
    opened = open_part(closed, opened_on=date(2026, 9, 10), packing="open", stored_at_c=None)

    assert closed.logs == whole.logs
    assert max(logged_days(opened.logs)) == date(2026, 9, 9)
