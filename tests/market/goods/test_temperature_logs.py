"""What loggers saw, day by day: which file counts for a day."""

from datetime import date

from service.facts import replace
from service.market.goods.temperature_logs import logged_days, logs_until
from tests.factories import NOW, log_of

DAY = date(2026, 9, 3)


def test_a_file_gives_its_days() -> None:
    found = logged_days([log_of(days=3, at_c=5.0)])

    assert [day.day for day in found] == [3, 4, 5]
    assert {(day.covered_fraction, day.effective_days_at_20_c) for day in found.values()} == {(1.0, 0.5)}
    assert log_of(days=3).covered_days == 3.0


def test_of_two_files_of_a_day_the_fuller_counts_then_the_later() -> None:
    part, whole = log_of(days=1, at_c=0.0, covered_fraction=0.4), log_of(days=1, at_c=10.0, code="T2")
    later = log_of(days=1, at_c=12.0, code="T3")

    assert logged_days([part, whole])[DAY].mean_c == 10.0
    assert logged_days([whole, part])[DAY].mean_c == 10.0
    assert logged_days([whole, later])[DAY].mean_c == 12.0


def test_a_corrected_file_and_one_taken_back_see_nothing() -> None:
    assert logged_days([replace(log_of(), corrected_by="T2")]) == {}
    assert logged_days([replace(log_of(), taken_back_at=NOW)]) == {}


def test_goods_taken_out_of_a_store_are_not_warmed_by_it_any_more() -> None:
    cut = logs_until([log_of(days=30)], date(2026, 9, 10))

    assert max(logged_days(cut)) == date(2026, 9, 9)
    assert len(logged_days(cut)) == 7
    assert logged_days(logs_until(cut, date(2026, 9, 3))) == {}
