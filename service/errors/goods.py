"""Refusals about goods: how much there is, how it is sold, what may be made of it."""

from service.errors.base import Refusal


class NotSoldInThatMass(Refusal):
    """The grower does not sell this lot in that mass.

    A lot may have a smallest order (`order_kg_min`) or be sold in whole packages only. Ask for one of the nearest
    masses that the answer names, or take all that is left.
    """

    code = "not-sold-in-that-mass"
    title = "The lot is not sold in that mass"


class UnbalancedStep(Refusal):
    """Kilograms that went into this step neither came out nor were booked as lost.

    `in_kg`, `out_kg` and `loss_kg` are what was sent, `open_kg` what is missing (or, negative, came from nowhere).
    Weigh again, or book the difference as what it is. Goods never appear or vanish between lots.
    """

    code = "kilograms-do-not-add-up"
    title = "Kilograms in are not kilograms out and lost"


class UnfitGoods(Refusal):
    """These goods cannot go through this step.

    Pellets are made of dried cones, a kiln dries wet hops, a blend is made of lots of one form. `lot_code` names the
    lot that does not fit, and `form` what it is.
    """

    code = "unfit-goods"
    title = "The goods do not fit this step"


class FixedByStep(Refusal):
    """This part of the record follows from what the lot was made of.

    A lot that was split off, opened, pelletized, blended or filled from the kiln has the mass, the form, the cultivar
    and the harvest of what went into it. If the step was told wrongly, discard the draft it made: what went in is free
    again, and the step can be told anew.
    """

    code = "fixed-by-step"
    title = "That follows from what the lot was made of"


class NotEnoughStock(Refusal):
    """The lot holds less free mass than was asked for.

    `free_kg` says what is free now: the lot's mass less booked losses, deliveries, confirmed
    reservations and holds that have not expired. Ask for less, or for another lot.
    """

    code = "not-enough-stock"
    title = "The lot holds too little free mass"
