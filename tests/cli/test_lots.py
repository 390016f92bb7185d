"""oastbook lots import and export: what is printed, and how each ends."""

from pathlib import Path

import pytest

from service.cli import main
from service.market.people.access import Caller
from service.records.people import parties
from service.records.session import open_records
from service.usecases.goods.bulk import export_lots
from tests.factories import NOW, PartyFactory

FILE = "cultivar;form;harvested_on;mass_kg\nSaaz;whole_cone;29.08.2026;120,5\nNugget;pelet;29.08.2026;12,5\n"


@pytest.fixture
def address(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """An own database with a grower in it."""
    address = f"sqlite:///{tmp_path / 'own.sqlite3'}"
    monkeypatch.setenv("OASTBOOK_DATABASE_URL", address)
    monkeypatch.setenv("OASTBOOK_TODAY", "2026-11-25")
    main(["migrate"])
    records = open_records(address)
    records.write(lambda session: parties.add(session, PartyFactory(code="ALDER")))
    records.close()
    return address


def kept(address: str) -> int:
    records = open_records(address)
    found, _ = records.read(
        lambda session: export_lots(session, caller=Caller("specialist"), grower_code="ALDER", now=NOW)
    )
    records.close()
    return len(found)


def test_faults_are_printed_by_row_and_nothing_is_kept(
    address: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "lots.csv"
    file.write_text(FILE)

    assert main(["lots", "import", str(file), "--grower", "ALDER"]) == 1

    said = capsys.readouterr()
    assert "row 3, form: Must be one of" in said.out
    assert "nothing was written: 1 faults in 2 rows" in said.err
    assert kept(address) == 0


def test_row_by_row_keeps_what_can_be_and_the_export_comes_in_again(
    address: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, out = tmp_path / "lots.csv", tmp_path / "out.xlsx"
    file.write_text(FILE)

    assert main(["lots", "import", str(file), "--grower", "ALDER", "--row-by-row"]) == 1
    assert "1 lots written from 2 rows, 1 faults" in capsys.readouterr().out
    assert main(["lots", "export", str(out), "--grower", "ALDER"]) == 0
    assert main(["lots", "import", str(out), "--grower", "ALDER", "--dry-run"]) == 0
    assert "1 lots would be written from 1 rows, 0 faults" in capsys.readouterr().out
    assert kept(address) == 1


def test_what_cannot_be_is_said_in_one_line(
    address: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    there = tmp_path / "there.csv"
    there.write_text(FILE)

    assert main(["lots", "import", str(tmp_path / "none.csv"), "--grower", "ALDER"]) == 2
    assert main(["lots", "export", str(there), "--grower", "ALDER"]) == 2
    assert main(["lots", "export", str(tmp_path / "x.pdf"), "--grower", "ALDER"]) == 2
    assert main(["lots", "import", str(there), "--grower", "NOBODY"]) == 1
    said = capsys.readouterr().err
    assert "No such file" in said
    assert "File exists" in said
    assert "neither in .csv nor in .xlsx" in said
    assert "there is no grower NOBODY" in said
