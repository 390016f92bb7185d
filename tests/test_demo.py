"""The demo's region is one the house accepts, and its tour tells what the use cases computed."""

import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from seed_demo.__main__ import main
from seed_demo.crops import crops
from seed_demo.load import SPECIALIST, is_loaded, load_region
from seed_demo.people import BREWERIES, GROWERS
from seed_demo.saying import kg, span
from seed_demo.tour import BREWERY
from seed_demo.wants import wants
from service.market.people.access import Caller
from service.records.migrations import migrate
from service.records.people import parties
from service.records.session import open_records
from service.usecases.goods.lots import list_own_lots
from service.usecases.matching.matching import match_request
from service.usecases.storage.storage import storage_of_lot
from tests.conftest import ROOT
from tests.factories import NOW, TODAY, PartyFactory


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """The folder of a demo that was run twice, and what it printed each time."""
    folder = tmp_path_factory.mktemp("demo")
    printed = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("OASTBOOK_TODAY", TODAY.isoformat())
        for _ in range(2):
            said: list[str] = []
            patch.setattr(
                "builtins.print", lambda *words, said=said, **_: said.append(" ".join(map(str, words)))
            )
            assert main(["--database", str(folder / "d.sqlite3"), "--sheets", str(folder / "sheets")]) == 0
            printed.append("\n".join(said))
    return folder, printed


def test_the_region_is_as_large_as_promised() -> None:
    lots = list(crops(TODAY))

    assert len(GROWERS) >= 8
    assert len(BREWERIES) >= 10
    assert len(lots) == 60
    assert len(wants(TODAY)) == 17
    assert {lot.draft["harvested_on"].year for lot in lots if "harvested_on" in lot.draft} == {2025, 2026}
    assert {lot.readiness for lot in lots} == {"analysed", "awaiting_analysis", "announced", None}


def test_the_region_is_the_same_for_every_run_on_a_day() -> None:
    assert list(crops(TODAY)) == list(crops(TODAY))


def test_every_lot_came_into_the_books(shown: tuple[Path, list[str]]) -> None:
    records = open_records(f"sqlite:///{shown[0] / 'd.sqlite3'}")
    views = records.read(
        lambda session: list_own_lots(session, caller=SPECIALIST, state=None, after=None, limit=100, now=NOW)
    )
    records.close()

    # Sixty from the yards, one pressed of two of them, one split off.
    assert len(views) == 62
    assert [view.lot.cultivar for view in views if not view.lot.known] == ["Sallow Seedling 4"]
    assert sum(view.lot.state == "withdrawn" for view in views) == 1
    assert sum(any(report.corrected_by for report in view.lot.reports) for view in views) == 1


def test_the_yards_stand_beside_the_lots(shown: tuple[Path, list[str]]) -> None:
    records = open_records(f"sqlite:///{shown[0] / 'd.sqlite3'}")
    views = records.read(
        lambda session: list_own_lots(session, caller=SPECIALIST, state=None, after=None, limit=100, now=NOW)
    )
    records.close()

    picked = [view for view in views if view.lot.harvested_on]
    # Of pellets pressed of two growers' cones the record rests with the cones.
    assert [view.step.kind for view in picked if view.step and not view.spray_record.kept] == ["pelletizing"]
    assert all(view.spray_record.kept for view in picked if view.step is None)
    assert {held.lapsed for view in views for held in view.certifications} == {True, False}
    assert [view.planting.licence.number for view in views if view.planting.licence] == ["SVST-4"]
    sorts = [view.physical_quality.cone_sort for view in views if view.physical_quality.cone_sort]
    assert len(sorts) > 3
    assert {share.code for sort in sorts for share in sort.shares} >= {"ripe", "pest_or_disease_damaged"}


def test_the_tour_tells_each_part_of_the_main_job(shown: tuple[Path, list[str]]) -> None:
    folder, (first, second) = shown
    sheets = sorted(path.name for path in (folder / "sheets").glob("*.pdf"))

    for words in (
        "17 requests placed",
        "pressed of two growers'",
        "with its record",
        "samples of cones sorted",
        "ended its listing until it was corrected",
        "looks for bittering hops",
        "What the region grows, wants and lacks",
        "kg at least",
        "4 lots fail only forms",
        "What storage leaves of",
        "IBU (estimated)",
        "which lots would serve, and why",
        "a seedling nobody knows",
        "refused: lot",
        "oastbook serve",
    ):
        assert words in first, words
    assert len([name for name in sheets if name.count("-") == 2]) == 3
    assert [kind for kind in ("labels", "offer", "plan") if not any(kind in name for name in sheets)] == []
    assert all(name in first for name in sheets)
    assert second.startswith("The region stands in")
    assert "requests placed" not in second


def test_the_tour_tells_what_the_use_cases_answer(shown: tuple[Path, list[str]]) -> None:
    folder, (first, _) = shown
    records = open_records(f"sqlite:///{folder / 'd.sqlite3'}")
    page = records.read(
        lambda s: match_request(s, "FINCH-REQ-01", caller=BREWERY, now=NOW, after=None, limit=3)
    )
    shown_lot = first.split("What storage leaves of ")[1].split()[0]
    day = TODAY + timedelta(days=182)
    left = records.read(lambda s: storage_of_lot(s, shown_lot, caller=BREWERY, on=day, plan=None, now=NOW))
    records.close()

    assert len(page.matches) == 3
    assert page.near_misses
    for match in page.matches:
        assert f"{match.score:.2f}  {match.lot_code}" in first
    for miss in page.near_misses[:3]:
        assert f"near  {miss.lot_code}" in first
    assert f"by {day}" in first
    assert f"as it is kept now  alpha {span(left.alpha_percent)} %" in first


def test_one_request_of_the_region_wishes_for_an_oil_profile_and_lots_are_compared_with_it(
    shown: tuple[Path, list[str]],
) -> None:
    lantern = Caller("brewery", "LANTERN")
    records = open_records(f"sqlite:///{shown[0] / 'd.sqlite3'}")
    page = records.read(
        lambda s: match_request(s, "LANTERN-REQ-01", caller=lantern, now=NOW, after=None, limit=20)
    )
    records.close()

    alike = {match.cultivar: match.parts["profile"] for match in page.matches}
    assert len(alike) > 1
    assert any(similarity is not None for similarity in alike.values())


def test_one_request_of_the_region_wants_organic_hops_and_only_lots_whose_paper_holds_match(
    shown: tuple[Path, list[str]],
) -> None:
    wren = Caller("brewery", "WREN")
    records = open_records(f"sqlite:///{shown[0] / 'd.sqlite3'}")
    page = records.read(lambda s: match_request(s, "WREN-REQ-01", caller=wren, now=NOW, after=None, limit=20))
    records.close()

    # The other organic yard's paper has run out.
    assert {match.grower_code for match in page.matches} == {"TANSY"}
    assert "certifications" in {fail.limit for miss in page.near_misses for fail in miss.fails}


def test_no_line_of_the_tour_is_wider_than_a_hundred(shown: tuple[Path, list[str]]) -> None:
    folder, printed = shown
    lines = [line for text in printed for line in text.splitlines() if str(folder) not in line]

    assert [line for line in lines if len(line) > 100] == []


def test_long_after_the_first_run_the_brewery_asks_again(
    shown: tuple[Path, list[str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    database = tmp_path / "later.sqlite3"
    with closing(sqlite3.connect(shown[0] / "d.sqlite3")) as old, closing(sqlite3.connect(database)) as new:
        old.backup(new)
    monkeypatch.setenv("OASTBOOK_TODAY", (TODAY + timedelta(days=150)).isoformat())

    assert main(["--database", str(database), "--sheets", str(tmp_path / "sheets")]) == 0
    said = capsys.readouterr().out
    assert "The earlier request has lapsed; FINCH asks again" in said
    assert "released again" in said
    assert f"export OASTBOOK_TODAY={TODAY + timedelta(days=150)}" in said


@pytest.mark.parametrize("kind", ["grower", "brewery"])
def test_a_database_with_other_parties_is_left_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], kind: str
) -> None:
    address = f"sqlite:///{tmp_path / 'other.sqlite3'}"
    migrate(address)
    records = open_records(address)
    records.write(lambda session: parties.add(session, PartyFactory(code="SOMEBODY", kind=kind)))

    assert main(["--database", str(tmp_path / "other.sqlite3")]) == 1
    assert "never touches other data" in capsys.readouterr().err
    everybody = [
        party.code
        for one in ("grower", "brewery")
        for party in records.read(lambda s, one=one: parties.search(s, one, after=None, limit=100))
    ]
    records.close()
    assert everybody == ["SOMEBODY"]


def test_another_programs_database_is_not_even_migrated(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    database = tmp_path / "accounts.sqlite3"
    with closing(sqlite3.connect(database)) as file:
        file.execute("CREATE TABLE account (number INTEGER)")
        file.commit()
    before = database.read_bytes()

    assert main(["--database", str(database)]) == 1
    assert "belongs to another program" in capsys.readouterr().err
    assert database.read_bytes() == before


def test_an_older_database_of_the_service_is_not_migrated_by_the_demo(
    shown: tuple[Path, list[str]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    database = tmp_path / "older.sqlite3"
    with closing(sqlite3.connect(shown[0] / "d.sqlite3")) as old, closing(sqlite3.connect(database)) as new:
        old.backup(new)
        new.execute("DELETE FROM alembic_version")
        new.commit()

    assert main(["--database", str(database)]) == 1
    assert "stands at another migration" in capsys.readouterr().err


def test_a_file_that_is_no_database_is_left_as_it_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = tmp_path / "letter.txt"
    text.write_text("Dear brewer, the hops are in.")

    assert main(["--database", str(text)]) == 1
    assert "is no database that can be read" in capsys.readouterr().err
    assert text.read_text() == "Dear brewer, the hops are in."
    assert main(["--database", str(tmp_path / "nowhere" / "d.sqlite3")]) == 1
    assert "a folder that exists" in capsys.readouterr().err


def test_a_wrong_setting_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("OASTBOOK_TODAY", "tomorrow")

    assert main(["--database", str(tmp_path / "d.sqlite3")]) == 1
    assert "OASTBOOK_TODAY must be a date" in capsys.readouterr().err
    assert not (tmp_path / "d.sqlite3").exists()


def test_a_loaded_region_is_never_loaded_twice(shown: tuple[Path, list[str]]) -> None:
    said: list[str] = []
    records = open_records(f"sqlite:///{shown[0] / 'd.sqlite3'}")

    assert load_region(records, now=NOW, say=said.append) is False
    assert said == []
    records.close()


def test_an_empty_database_is_not_loaded_yet(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    migrate(address)
    records = open_records(address)

    assert records.read(is_loaded) is False
    records.close()


def test_a_mass_is_told_without_idle_zeros() -> None:
    assert [kg(Decimal(mass)) for mass in ("60.000", "12.50", "100")] == ["60", "12.5", "100"]


def test_the_demo_plans_the_region_and_shows_the_proof(shown: tuple[Path, list[str]]) -> None:
    for printed in shown[1]:
        assert "The cheapest lots that together meet" in printed
        assert "proven the cheapest of" in printed
        assert "all open requests against all free lots at once" in printed
        assert "proven the best: nothing exceeds" in printed


def test_the_story_of_trust_is_told_and_taken_back(shown: tuple[Path, list[str]]) -> None:
    for printed in shown[1]:
        story = printed[printed.index("What stands behind a lot") :]
        for said in ("its feed says", "booked back", "neither report is wrong", "holder(s)", "with 0 faults"):
            assert said in story
        assert "taken back: the region stands as it did" in story
    with closing(sqlite3.connect(shown[0] / "d.sqlite3")) as books:
        for table in ("recall", "rub_sample", "receipt", "saved_search", "certificate_file"):
            assert books.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,)  # noqa: S608


def test_whoever_listens_may_stop_listening(tmp_path: Path) -> None:
    ran = subprocess.run(  # noqa: S602 -- a pipe is what this is about
        f"{sys.executable} -m seed_demo --database {tmp_path}/d.sqlite3 --sheets {tmp_path}/s | head -3",
        shell=True,
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )

    assert "Traceback" not in ran.stderr
