"""How one lot keeps: where it lay, what loggers saw there, and how fast its own reports say it loses acids."""

from collections.abc import Mapping, Sequence
from datetime import date

from service.facts import Fact
from service.market.goods.lots import Lot, StorageSpell
from service.market.goods.temperature_logs import LoggedDay, logged_days
from service.market.storage.own_rates import NOTHING_LEARNT, Learning, learn
from service.market.storage.storage_rates import exponent_over, spell_rate
from service.reference.six_month_storage import SixMonthLoss
from service.science.storage_spread import Ratio
from service.science.uncertainty import Estimate


class StoragePlan(Fact, frozen=True, kw_only=True):
    """What a buyer will do: from a day on, at a temperature, in a packing; None leaves the packing as it is."""

    from_on: date
    kept_at_c: float
    packing: str | None = None


class Keeping(Fact, frozen=True, kw_only=True):
    """Everything that an estimate of a lot's storage rests on; the same for its page, its doses and the search."""

    form: str
    spells: tuple[StorageSpell, ...]
    loss: SixMonthLoss
    logged: Mapping[date, LoggedDay]
    learning: Learning = NOTHING_LEARNT

    def exponent(self, *, since: date, until: date, ratios: Sequence[Ratio] = ()) -> Estimate:
        """The exponent of storage loss between two days; `ratios` are further doubts about the rate."""
        return exponent_over(
            self.spells,
            since=since,
            until=until,
            loss=self.loss,
            form=self.form,
            ratios=ratios,
            own=self.learning.own,
            logged=self.logged,
        )

    def rate_in(self, spell: StorageSpell) -> Estimate:
        """The rate in one spell by its stated temperature, 1/day."""
        return spell_rate(spell, loss=self.loss, form=self.form, own=self.learning.own)


def keeping_of(lot: Lot, *, loss: SixMonthLoss, plan: StoragePlan | None = None) -> Keeping:
    """How a lot keeps, and from a plan's day on how a buyer will keep it: no logger of the grower counts there."""
    logged = logged_days(lot.logs)
    learning = learn(lot, loss=loss, logged=logged)
    if plan is not None:
        logged = {day: seen for day, seen in logged.items() if day < plan.from_on}
    return Keeping(
        form=lot.form, spells=planned_spells(lot, plan), loss=loss, logged=logged, learning=learning
    )


def planned_spells(lot: Lot, plan: StoragePlan | None) -> tuple[StorageSpell, ...]:
    """The lot's spells, followed by what a buyer will do."""
    if plan is None:
        return lot.spells
    kept = tuple(s for s in lot.spells if s.began_on < plan.from_on)
    last = lot.spells[-1]
    packing = plan.packing or last.packing
    oxygen = last.residual_oxygen_percent if packing == last.packing else None
    return (
        *kept,
        StorageSpell(
            began_on=plan.from_on,
            packing=packing,
            stored_at_c=plan.kept_at_c,
            residual_oxygen_percent=oxygen,
        ),
    )
