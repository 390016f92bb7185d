"""Refusals about what a receiver must be able to trust of the goods."""

from service.errors.base import Refusal


class PickedInsideInterval(Refusal):
    """The lot, or what it was made of, was picked before a spray's harvest interval had passed.

    `entries` names each entry of the spray record, its days as on the label, and the earliest day of picking. If an entry
    is wrong, correct it with a reason (`POST /v1/growers/{code}/sprays` with `corrects`), then list the lot. If it is
    right, the lot is not shown to brewers (withdraw it first, to tell its true day of picking): the product's label and
    local law say what may become of it.
    """

    code = "picked-inside-interval"
    title = "The lot was picked inside a harvest interval"
