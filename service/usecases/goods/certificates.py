"""Certificate files beside lab reports: attached by who filed the report, read by who may read it."""

import hashlib
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from service.errors import NotFound
from service.market.goods.certificates import CertificateFile, accept_certificate
from service.market.goods.lab_reports import LabReport
from service.market.goods.lots import Lot
from service.market.people.access import Caller, require_known
from service.records.goods import certificates
from service.records.session import Session
from service.usecases.goods.lot_access import lot_to_see


def attach_certificate(
    session: Session,
    code: str,
    report_code: str,
    content: bytes,
    *,
    caller: Caller,
    directory: Path | None,
    now: datetime,
) -> CertificateFile:
    """Put a file beside a report.

    Raises:
        TokenNeeded, NotFound: the caller must not know of the lot or the report.
        NotAllowed, UnfitFile: as `accept_certificate`.

    """
    require_known(caller)
    lot, report = _report(session, code, report_code, caller, now, lock=True)
    before = certificates.search(session, code, report_code)
    sha256 = hashlib.sha256(content).hexdigest()
    file = accept_certificate(lot, report, content, sha256=sha256, before=before, caller=caller, now=now)
    if file not in before:
        certificates.add(session, file, content, directory=directory)
    return file


def list_certificates(
    session: Session, code: str, report_code: str, *, caller: Caller, now: datetime
) -> Sequence[CertificateFile]:
    """The files beside a report, for who may read it.

    Raises:
        NotFound: the caller must not know of the lot or the report.

    """
    _report(session, code, report_code, caller, now)
    return certificates.search(session, code, report_code)


def read_certificate(
    session: Session,
    code: str,
    report_code: str,
    sha256: str,
    *,
    caller: Caller,
    directory: Path | None,
    now: datetime,
) -> tuple[CertificateFile, bytes]:
    """A file as it was handed in.

    Raises:
        NotFound: there is none, or the caller must not know of it.

    """
    for file in list_certificates(session, code, report_code, caller=caller, now=now):
        if file.sha256 == sha256:
            return file, certificates.read(session, file, directory=directory)
    raise NotFound(f"report {report_code} of lot {code} has no such file")


def _report(
    session: Session, code: str, report_code: str, caller: Caller, now: datetime, *, lock: bool = False
) -> tuple[Lot, LabReport]:
    lot = lot_to_see(session, code, caller=caller, now=now, lock=lock)
    own = f"brewery:{caller.party_code}" if caller.role == "brewery" else None
    reads_all = caller.acts_for("grower", lot.grower_code)
    for report in lot.reports:
        is_readable = reads_all or report.drawn_by != "buyer" or report.filed_for == own
        if report.code == report_code and is_readable:
            return lot, report
    raise NotFound(f"lot {code} has no report {report_code}")
