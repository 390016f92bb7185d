"""The demo's region is one the house accepts, and its tour tells what the use cases computed."""

from pathlib import Path

import pytest

from seed_demo.__main__ import main
from seed_demo.crops import crops
from seed_demo.load import SPECIALIST, is_loaded
from seed_demo.people import BREWERIES, GROWERS
from seed_demo.wants import wants
from service.records import parties
from service.records.migrations import migrate
from service.records.session import open_records
from service.usecases.lots import list_own_lots
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
    assert len(wants(TODAY)) == 15
    assert {lot.draft["harvested_on"].year for lot in lots if "harvested_on" in lot.draft} == {2025, 2026}
    assert {lot.readiness for lot in lots} == {"analysed", "awaiting_analysis", "announced", None}


def test_the_region_is_the_same_for_every_run_on_a_day() -> None:
    assert list(crops(TODAY)) == list(crops(TODAY))


def test_every_lot_came_into_the_books(shown: tuple[Path, list[str]]) -> None:
    records = open_records(f"sqlite:///{shown[0] / 'd.sqlite3'}")
    views = records.read(
        lambda session: list_own_lots(session, visitor=SPECIALIST, state=None, after=None, limit=100, now=NOW)
    )
    records.close()

    assert len(views) == 60
    assert [view.lot.cultivar for view in views if not view.lot.known] == ["Sallow Seedling 4"]
    assert sum(view.lot.state == "withdrawn" for view in views) == 1
    assert sum(any(report.corrected_by for report in view.lot.reports) for view in views) == 1


def test_the_tour_tells_each_part_of_the_main_job(shown: tuple[Path, list[str]]) -> None:
    folder, (first, second) = shown
    sheets = sorted(path.name for path in (folder / "sheets").glob("*.pdf"))

    for words in (
        "15 requests placed",
        "looks for bittering hops",
        "What storage leaves of",
        "IBU (estimated)",
        "which lots would serve, and why",
        "refused: lot",
        "oastbook serve",
    ):
        assert words in first, words
    assert len(sheets) == 3
    assert all(name in first for name in sheets)
    assert second.startswith("The region stands in")
    assert "requests placed" not in second


def test_a_database_with_other_data_is_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    address = f"sqlite:///{tmp_path / 'other.sqlite3'}"
    migrate(address)
    records = open_records(address)
    records.write(lambda session: parties.add(session, PartyFactory(code="SOMEBODY")))

    assert main(["--database", str(tmp_path / "other.sqlite3")]) == 1
    assert "never touches other data" in capsys.readouterr().err
    records.write(lambda session: parties.get(session, "grower", "SOMEBODY"))
    records.close()


def test_an_empty_database_is_not_loaded_yet(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    migrate(address)
    records = open_records(address)

    assert is_loaded(records) is False
    records.close()
