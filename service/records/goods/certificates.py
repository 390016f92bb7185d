"""Certificate files: search, add, read; in the database, or in a directory under their digests."""

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

import sqlalchemy as sa

from service.errors import NotFound
from service.facts import field_names
from service.market.goods.certificates import CertificateFile
from service.records.goods import lots
from service.records.session import Session
from service.records.tables import CertificateFileRow, LotRow

PLAIN = tuple(name for name in field_names(CertificateFile) if name != "lot_code")


def search(session: Session, lot_code: str, report_code: str) -> Sequence[CertificateFile]:
    """The files beside a report, oldest first."""
    query = (
        sa.select(*(getattr(CertificateFileRow, name) for name in PLAIN))
        .join(LotRow, LotRow.id == CertificateFileRow.lot_id)
        .where(LotRow.code == lot_code, CertificateFileRow.report_code == report_code)
        .order_by(CertificateFileRow.id)
    )
    return [CertificateFile(lot_code=lot_code, **row._asdict()) for row in session.execute(query)]


def add(session: Session, file: CertificateFile, content: bytes, *, directory: Path | None) -> None:
    """Keep a file; in a directory it lies safely before the books say so, and a leftover harms nobody."""
    if directory is not None:
        _put(directory, file.sha256, content)
    session.add(
        CertificateFileRow(
            lot_id=lots.get_row(session, file.lot_code).id,
            content=content if directory is None else None,
            **{name: getattr(file, name) for name in PLAIN},
        )
    )
    session.flush()


def read(session: Session, file: CertificateFile, *, directory: Path | None) -> bytes:
    """The file as it was handed in.

    Raises:
        NotFound: the directory that keeps it is another one, or has lost it.

    """
    query = (
        sa.select(CertificateFileRow.content)
        .join(LotRow, LotRow.id == CertificateFileRow.lot_id)
        .where(
            LotRow.code == file.lot_code,
            CertificateFileRow.report_code == file.report_code,
            CertificateFileRow.sha256 == file.sha256,
        )
    )
    content = session.scalars(query).one()
    if content is not None:
        return content
    path = _path(directory, file.sha256) if directory is not None else None
    if path is None or not path.is_file():
        raise NotFound(
            f"the file {file.sha256[:12]}… is in the books, not in the directory of files; tell who runs the service"
        )
    return path.read_bytes()


def _path(directory: Path, sha256: str) -> Path:
    return directory / sha256[:2] / sha256


def _put(directory: Path, sha256: str, content: bytes) -> None:
    """Write beside, then rename: whoever reads finds a whole file or none, whenever the power goes."""
    path = _path(directory, sha256)
    if path.is_file():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=".coming-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(beside).replace(path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise
