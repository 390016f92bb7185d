"""oastbook sheets: many sheets in one file, told on standard error."""

import zipfile
from pathlib import Path

import pytest

from service.cli import main


def test_sheets_wants_migrated_records_and_a_place_to_write(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("OASTBOOK_DATABASE_URL", f"sqlite:///{tmp_path / 'own.sqlite3'}")
    target = tmp_path / "sheets.zip"

    assert main(["sheets", str(target)]) == 2
    assert "oastbook migrate" in capsys.readouterr().err
    main(["migrate"])
    assert main(["sheets", str(tmp_path / "nowhere" / "sheets.zip")]) == 1
    assert "cannot be written" in capsys.readouterr().err
    assert main(["sheets", str(target)]) == 0
    told = capsys.readouterr()
    assert (told.out, told.err) == ("", "0 sheets, done\n")
    assert zipfile.ZipFile(target).namelist() == []
