"""A logger's file: what is tolerated, what is refused, and with which row."""

import pytest

from service.errors import OutOfRange, UnreadableReadings
from service.science.temperature_readings import read_readings, read_temperature_history

PLAIN = "time,temperature (°C)\n2026-09-01T00:00,5\n2026-09-01T12:00,6.5\n2026-09-02T00:00,5\n"


def test_a_plain_file_is_read() -> None:
    readings = read_readings(text=PLAIN)

    assert (readings.at_s - readings.at_s[0]).tolist() == [0, 43200, 86400]
    assert readings.temperature_c.tolist() == [5.0, 6.5, 5.0]
    assert readings.row_numbers.tolist() == [2, 3, 4]
    assert (readings.unit, readings.has_offsets, readings.rows_without_temperature) == ("c", False, ())
    # 2026-09-01T00:00 is 1788220800 s after 1970-01-01T00:00 (GNU date).
    assert readings.at_s[0] == 1788220800


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff" + PLAIN,
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace(",", ";").replace("6.5", "6,5"),
        PLAIN.replace(",", "\t").replace("6.5", "6,5"),
        PLAIN.replace("T", " "),
        PLAIN.replace("T", " ").replace("2026-09-01", "01.09.2026").replace("2026-09-02", "02.09.2026"),
        "Logger 12\nSite;north store\n" + PLAIN.replace(",", ";"),
        PLAIN.replace("time,", "Timestamp (UTC),").replace("temperature (°C)", "Temp_C"),
        PLAIN.replace("temperature (°C)", "Temperature [°C]"),
        PLAIN.replace("temperature (°C)", "temperature celsius"),
        PLAIN + "\n\n",
        "no,time,humidity,temperature °C\n1,2026-09-01,40,5\n2,2026-09-01 12:00, 41, 6.5\n3,2026-09-02,42,5\n",
        PLAIN.replace(":00,", ":00 ,"),
    ],
    ids=[
        "byte order mark",
        "line ends",
        "semicolon",
        "tab",
        "space in time",
        "days with dots",
        "lines before",
        "other words",
        "brackets",
        "unit spelled",
        "blank end",
        "more columns",
        "spaces",
    ],
)
def test_ways_of_writing_the_same_file_are_tolerated(text: str) -> None:
    assert read_readings(text=text).temperature_c.tolist() == [5.0, 6.5, 5.0]
    assert read_temperature_history(text=text).days == 1.0


def test_fahrenheit_is_turned_into_celsius() -> None:
    text = "time,temperature (°F)\n2026-09-01,32\n2026-09-02,68\n"

    readings = read_readings(text=text)

    assert readings.unit == "f"
    assert readings.temperature_c.tolist() == pytest.approx([0.0, 20.0])


def test_offsets_are_heeded() -> None:
    text = "time,temp C\n2026-10-25T02:30+02:00,5\n2026-10-25T02:30+01:00,5\n2026-10-25T02:30Z,5\n"

    readings = read_readings(text=text)

    assert readings.has_offsets
    assert (readings.at_s - readings.at_s[0]).tolist() == [0, 3600, 7200]


def test_rows_without_a_temperature_are_reported_and_leave_a_gap() -> None:
    text = "time,temp C\n" + "".join(f"2026-09-{d:02},{'' if d in (4, 5, 6) else 5}\n" for d in range(1, 11))

    history = read_temperature_history(text=text)

    assert history.rows_without_temperature == (5, 6, 7)
    assert [gap.hours for gap in history.gaps] == [96]
    assert history.readings == 7


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("time,temp C\n2026-09-01,5\n2026-13-01,5\n", 3),
        ("time,temp C\n2026-09-01,5\n01/09/2026,5\n", 3),
        ("time,temp C\n2026-09-01,warm\n2026-09-02,5\n", 2),
        ("time,temp C\n2026-09-01,\n2026-09-02,5\n2026-09-03,cold\n", 4),
        ("time,temp C\n2026-09-01,5\n2026-09-02\n", 3),
        ("time,temp C\n2026-09-01T00:00Z,5\n2026-09-02T00:00,5\n", 3),
        ("time,temp C\n2026-09-01T00:00,5\n2026-09-02T00:00Z,5\n", 3),
        ("time,temperature\n2026-09-01,5\n2026-09-02,5\n", 1),
    ],
    ids=["month", "order", "word", "after a hole", "column", "offset ends", "offset begins", "no unit"],
)
def test_a_row_that_cannot_be_read_is_named(text: str, row: int) -> None:
    with pytest.raises(UnreadableReadings, match=f"row {row}:") as refusal:
        read_temperature_history(text=text)

    assert refusal.value.facts == {"row": row}


@pytest.mark.parametrize("text", ["", "nothing here", "2026-09-01,5\n2026-09-02,5\n"])
def test_a_file_without_a_header_is_refused(text: str) -> None:
    with pytest.raises(UnreadableReadings, match="no header"):
        read_temperature_history(text=text)


def test_a_file_with_a_header_alone_is_refused() -> None:
    with pytest.raises(UnreadableReadings, match="two or more readings"):
        read_temperature_history(text="time,temp C\n")


def test_an_impossible_temperature_is_refused_with_its_row_in_the_file() -> None:
    text = "Logger 12\ntime,temp C\n2026-09-01,5\n2026-09-02,\n2026-09-03,85\n"

    with pytest.raises(OutOfRange, match="row 5: temperature must be -30 to 40 °C, not 85"):
        read_temperature_history(text=text)


def test_not_a_number_is_no_temperature() -> None:
    with pytest.raises(OutOfRange, match="row 3"):
        read_temperature_history(text="time,temp C\n2026-09-01,5\n2026-09-02,nan\n")


def test_a_file_of_over_a_million_rows_is_refused() -> None:
    with pytest.raises(UnreadableReadings, match="1000000 rows"):
        read_temperature_history(text="\n" * 1_000_001)


def test_an_odd_file_is_summed_up_with_all_that_is_odd() -> None:
    text = (
        "time,temp C\n2026-09-01,5\n2026-09-03,5\n2026-09-02,5\n2026-09-03,25\n2026-09-04,5\n2026-09-20,5\n"
    )

    history = read_temperature_history(text=text, gap_hours=48)

    assert (history.out_of_order, history.duplicates, history.readings_above_20_c) == (1, 1, 1)
    assert [gap.hours for gap in history.gaps] == [384]
