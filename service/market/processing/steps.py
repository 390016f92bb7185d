"""Steps that change goods: what goes in comes out or is booked as lost, to the gram.

The loss of a run is shared among its lots by mass (common practice, no source); the largest remainders get
the odd grams.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal

from service.errors import ImpossibleReport, InvalidRequest, UnbalancedStep
from service.facts import Fact, replace
from service.market.goods.bookings import Booking, decide_booking, require_day_of_lot
from service.market.goods.lab_reports import LabReport
from service.market.goods.lots import Lot, Package, Step
from service.market.goods.quality_holds import require_not_on_hold
from service.market.goods.stock import require_free

LOSS_OF = {"pelletizing": "pelletizing_loss", "blending": "blending_loss", "drying": "drying_loss"}
GRAM = Decimal("0.001")


class Edge(Fact, frozen=True, kw_only=True):
    """Kilograms of one lot that a step put into another; `brought_kg` is before, `mass_kg` after the loss."""

    from_code: str
    into_code: str
    mass_kg: Decimal
    brought_kg: Decimal


class Input(Fact, frozen=True, kw_only=True):
    """A part of a lot that goes into a step, and the packages that leave the lot with it."""

    lot: Lot
    mass_kg: Decimal
    packages: tuple[Package, ...] = ()


def decide_moves(
    inputs: Sequence[Input],
    *,
    into_code: str,
    kind: str,
    out_kg: Decimal,
    loss_kg: Decimal,
    done_on: date,
    made_on: Mapping[str, date],
    now: datetime,
    made_by: str,
) -> list[Booking]:
    """Book what each lot gives into a step: its share of the product, and its share of the loss, by mass.

    Args:
        inputs: the lots and what each gives.
        into_code: the lot that is made.
        kind: the step.
        out_kg: what the new lot weighs.
        loss_kg: what was lost on the way.
        done_on: the day the step was done.
        made_on: of lots that were made by a step themselves, the day of that step.
        now: the moment.
        made_by: how the records write who did it.

    Raises:
        UnbalancedStep: kilograms in are not kilograms out and lost.
        InvalidRequest: a lot stands there twice.
        LotOnHold: a concern about one of them is open.
        LotOnHold: a concern about a lot is open.
        IllegalStep, OutOfRange, NotEnoughStock: as `decide_booking`.

    """
    _refuse_twice(inputs)
    brought = [part.mass_kg for part in inputs]
    require_balance(in_kg=sum(brought, Decimal(0)), out_kg=out_kg, loss_kg=loss_kg)
    booked = []
    for part, kept_kg in zip(inputs, apportion(out_kg, brought), strict=True):
        require_not_on_hold(part.lot)
        require_not_on_hold(part.lot)
        require_free(part.lot, part.mass_kg)
        require_day_of_lot(part.lot, done_on, name="done_on", today=now.date())
        _require_after(part.lot, done_on, made_on)
        for what, mass_kg in (("moved", kept_kg), (LOSS_OF.get(kind, ""), part.mass_kg - kept_kg)):
            if mass_kg:
                booking = decide_booking(
                    part.lot,
                    kind=what,
                    mass_kg=mass_kg,
                    booked_on=done_on,
                    reason=f"{kind} into lot {into_code}",
                    into_lot_code=into_code,
                    now=now,
                    made_by=made_by,
                )
                booked.append(replace(booking, packages=part.packages if what == "moved" else ()))
    return booked


def require_balance(*, in_kg: Decimal, out_kg: Decimal, loss_kg: Decimal) -> None:
    """Refuse a step in which kilograms appear or vanish.

    Raises:
        UnbalancedStep: they do.

    """
    open_kg = in_kg - out_kg - loss_kg
    if open_kg:
        what = f"{open_kg} kg are not accounted for" if open_kg > 0 else f"{-open_kg} kg came from nowhere"
        raise UnbalancedStep(
            f"{in_kg} kg went in, {out_kg} kg came out and {loss_kg} kg were lost: {what}",
            in_kg=in_kg,
            out_kg=out_kg,
            loss_kg=loss_kg,
            open_kg=open_kg,
        )


def require_sampled_after(report: LabReport, step: Step | None) -> None:
    """Refuse a report on goods that did not exist yet when it was sampled: the cones' figures are not the pellets'.

    Raises:
        ImpossibleReport: the lot was made after the sampling.

    """
    if step is None or step.keeps_goods or step.kind == "drying" or report.sampled_on >= step.done_on:
        return
    text = (
        f"sampled on {report.sampled_on}, before the lot was made by {step.kind} on {step.done_on}; what was measured"
        " of its parts stands with them"
    )
    found = report.sampled_on.isoformat()
    raise ImpossibleReport(text, faults=[{"field": "sampled_on", "found": found, "detail": text}])


def apportion(total_kg: Decimal, weights_kg: Sequence[Decimal]) -> list[Decimal]:
    """Share a mass by weights, exactly to the gram, the largest remainders first; nobody who gave gets nothing.

    >>> apportion(Decimal(10), [Decimal(1), Decimal(1), Decimal(1)])
    [Decimal('3.334'), Decimal('3.333'), Decimal('3.333')]

    """
    whole, total_g = sum(weights_kg, Decimal(0)), int(total_kg / GRAM)
    exact = [total_g * weight / whole for weight in weights_kg]
    shares = [int(share) for share in exact]
    by_remainder = sorted(range(len(shares)), key=lambda place: (shares[place] - exact[place], place))
    for place in by_remainder[: total_g - sum(shares)]:
        shares[place] += 1
    for place in (place for place, share in enumerate(shares) if share == 0):
        largest = max(range(len(shares)), key=shares.__getitem__)
        if shares[largest] > 1:
            shares[largest], shares[place] = shares[largest] - 1, 1
    return [share * GRAM for share in shares]


def _refuse_twice(inputs: Sequence[Input]) -> None:
    codes = [part.lot.code for part in inputs]
    for place, code in enumerate(codes):
        if code in codes[:place]:
            text = f"lot {code} stands there twice; give its kilograms together"
            raise InvalidRequest(text, errors=[{"pointer": f"#/lots/{place}/lot_code", "detail": text}])


def _require_after(lot: Lot, done_on: date, made_on: Mapping[str, date]) -> None:
    since = made_on.get(lot.code)
    if since is not None and done_on < since:
        text = f"lot {lot.code} was itself made on {since}; nothing was made of it on {done_on}"
        raise InvalidRequest(text, errors=[{"pointer": "#/done_on", "detail": text}])
