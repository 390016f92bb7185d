"""The oil shares that stand, read for many lots at once."""

from datetime import date

from sqlalchemy import event
from sqlalchemy.orm import Session

from service.facts import replace
from service.market.goods.lab_reports import LabReport, correct, standing_figures
from service.market.matching.oil_similarity import OilShares
from service.records.goods import lots
from service.records.matching import oil_shares
from service.records.people import parties
from tests.factories import NOW, LabReportFactory, ListedLotFactory, PartyFactory

EARLY, LATE = date(2026, 9, 3), date(2026, 10, 3)


def report(code: str, myrcene: float | None, **told: object) -> LabReport:
    shares = {"myrcene": myrcene, "humulene": 20.0, "caryophyllene": 8.0}
    if myrcene is None:
        return LabReportFactory(code=code, **told)
    return LabReportFactory(code=code, oil_shares_percent=shares, oil_shares_basis="peak_area", **told)


KEPT: dict[str, tuple[LabReport, ...]] = {
    "ALDER-2026-01": (),
    "ALDER-2026-02": (report("R1", None),),
    "ALDER-2026-03": (report("R1", 40.0), report("R2", None, sampled_on=LATE)),
    "ALDER-2026-04": (report("R1", 41.0, sampled_on=LATE), report("R2", 42.0, sampled_on=EARLY)),
    "ALDER-2026-05": tuple(report(f"R{n}", 30.0 + n) for n in range(1, 12)),
    "ALDER-2026-06": (report("R1", 44.0), report("R2", 45.0, sampled_on=LATE, drawn_by="buyer")),
    "ALDER-2026-07": (report("R1", 46.0), report("R2", 47.0, sampled_on=LATE, before_pelletizing=True)),
    "ALDER-2026-08": correct((report("R1", 48.0),), report("R2", 49.0, corrects="R1", reason="a slip")),
    "ALDER-2026-09": (report("R1", 50.0, sampled_on=EARLY), report("R2", 51.0, sampled_on=LATE)),
}


def test_what_is_read_at_once_is_what_stands_for_each_lot(session: Session) -> None:
    parties.add(session, PartyFactory(kind="grower", code="ALDER"))
    for code, reports in KEPT.items():
        lots.add(session, ListedLotFactory(code=code, reports=reports), cultivar_key="WILLAMETTE")
    session.expire_all()
    codes = [*reversed(KEPT), "ALDER-2026-99"]
    statements: list[str] = []
    engine = session.get_bind()
    listener = lambda *told: statements.append(told[2])  # noqa: E731
    event.listen(engine, "before_cursor_execute", listener)

    found = oil_shares.oil_shares_of(session, codes)

    event.remove(engine, "before_cursor_execute", listener)
    assert len(statements) == 1
    figures = {code: standing_figures(lots.get(session, code, now=NOW).reports) for code in KEPT}
    assert dict(zip(codes, found, strict=True)) == {"ALDER-2026-99": None} | {
        code: OilShares(basis=told.oil_shares_basis, percent=told.oil_shares_percent)
        if told.oil_shares_percent
        else None
        for code, told in figures.items()
    }
    assert [one.percent["myrcene"] if one else None for one in reversed(found[:-1])] == [
        None, None, 40.0, 41.0, 41.0, 44.0, 46.0, 49.0, 51.0,
    ]  # fmt: skip
    assert oil_shares.oil_shares_of(session, []) == []
    assert replace(KEPT["ALDER-2026-08"][0]).corrected_by == "R2"
