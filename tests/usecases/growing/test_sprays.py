"""Whatever is entered, corrected, listed or changed, in whatever order: no listed lot breaks an interval that stands."""

from datetime import date, timedelta
from itertools import count
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from service.errors import Refusal
from service.market.goods.lots import Lot
from service.market.growing.sprays import picked_inside
from service.market.people.access import Caller
from service.records.goods import lots
from service.records.growing import sprays
from service.records.people import parties
from service.usecases.goods.listing import list_lot, withdraw_lot
from service.usecases.goods.lots import change_lot
from service.usecases.growing.sprays import enter_spray
from tests.factories import NOW, LabReportFactory, LotFactory, PartyFactory

BLOCKS = ("North", "South")
NUMBERS = count(1)
STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("spray"), st.sampled_from(BLOCKS), st.integers(15, 31), st.integers(0, 15)),
        st.tuples(st.just("correct"), st.integers(1, 6), st.sampled_from(BLOCKS), st.integers(0, 15)),
        st.tuples(st.just("show"), st.integers(0, 2)),
        st.tuples(st.just("withdraw"), st.integers(0, 2)),
        st.tuples(st.just("move"), st.integers(0, 2), st.sampled_from(BLOCKS)),
        st.tuples(st.just("pick"), st.integers(0, 2), st.integers(15, 31)),
    ),
    min_size=3,
    max_size=14,
)


class Yard:
    """A grower with three lots, one of them without a block."""

    def __init__(self, session: Session) -> None:
        self.session, self.code = session, f"YARD{next(NUMBERS)}"
        self.grower = Caller("grower", self.code)
        parties.add(session, PartyFactory(code=self.code))
        self.lots = [f"{self.code}-{n}" for n in range(3)]
        for code, block in zip(self.lots, (*BLOCKS, None), strict=True):
            lot = LotFactory(
                code=code, grower_code=self.code, block=block, reports=(LabReportFactory(code="R1"),)
            )
            lots.add(session, lot, cultivar_key="WILLAMETTE")

    def do(self, step: tuple[Any, ...]) -> None:
        """Take a step, or be refused."""
        try:
            with self.session.begin_nested():
                getattr(self, step[0])(*step[1:])
        except Refusal:
            self.session.expire_all()

    def spray(self, block: str, day: int, days: int, **told: Any) -> None:
        given = {"season": None, "product": "Guard", "active_ingredient": "sulfur", "note": None}
        asked = {"block": block, "sprayed_on": date(2026, 8, day), "harvest_interval_days": days, **given}
        told = {"corrects": None, "reason": None, **told}
        enter_spray(self.session, self.code, caller=self.grower, asked={**asked, **told}, now=NOW)

    def correct(self, number: int, block: str, days: int) -> None:
        self.spray(block, 20, days, corrects=f"S{number}", reason="a slip")

    def show(self, number: int) -> None:
        list_lot(self.session, self.lots[number], caller=self.grower, readiness="analysed", now=NOW)

    def withdraw(self, number: int) -> None:
        withdraw_lot(self.session, self.lots[number], caller=self.grower, now=NOW)

    def move(self, number: int, block: str) -> None:
        self._change(number, {"block": block})

    def pick(self, number: int, day: int) -> None:
        self._change(number, {"harvested_until": date(2026, 8, 29) + timedelta(days=day - 15)})

    def _change(self, number: int, changes: dict[str, Any]) -> None:
        change_lot(
            self.session,
            self.lots[number],
            caller=self.grower,
            changes=changes,
            now=NOW,
            unless_changed=lambda view: None,
        )

    def listed(self) -> list[Lot]:
        """The lots that are listed now."""
        found = lots.get_many(self.session, self.lots, now=NOW).values()
        return [lot for lot in found if lot.state == "listed"]


@given(steps=STEPS)
@settings(max_examples=12)
def test_no_listed_lot_breaks_an_interval_that_stands(session: Session, steps: list[tuple[Any, ...]]) -> None:
    yard = Yard(session)
    for step in steps:
        yard.do(step)
        shown = yard.listed()

        assert picked_inside(shown, sprays.search_of_lots(session, shown)) == []


def test_the_steps_of_the_law_do_list_and_do_refuse(session: Session) -> None:
    """Otherwise the law would hold of nothing."""
    yard = Yard(session)
    yard.do(("show", 0))
    before = [lot.code for lot in yard.listed()]
    yard.do(("spray", "North", 25, 10))
    between = yard.listed()
    yard.do(("show", 0))
    refused = yard.listed()
    yard.do(("correct", 1, "North", 3))
    yard.do(("show", 0))

    assert (before, between, refused) == ([yard.lots[0]], [], [])
    assert [lot.code for lot in yard.listed()] == [yard.lots[0]]
