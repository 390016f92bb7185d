"""Every refusal the house can give, each with its stable code.

A refusal is raised with one sentence for a person and the facts for a program:

>>> raise OutOfRange("alpha_percent must be 0 to 100 %, not 120", name="alpha_percent", value=120.0)
Traceback (most recent call last):
service.errors.OutOfRange: alpha_percent must be 0 to 100 %, not 120

The class docstring is the page that explains the refusal to its reader.
"""

from service.errors.base import Refusal as Refusal
from service.errors.files import ImportRefused as ImportRefused
from service.errors.files import UnfitFile as UnfitFile
from service.errors.files import UnreadableTable as UnreadableTable
from service.errors.goods import FixedByStep as FixedByStep
from service.errors.goods import NotEnoughStock as NotEnoughStock
from service.errors.goods import NotSoldInThatMass as NotSoldInThatMass
from service.errors.goods import UnbalancedStep as UnbalancedStep
from service.errors.goods import UnfitGoods as UnfitGoods
from service.errors.quality import PickedInsideInterval as PickedInsideInterval


class NotFound(Refusal):
    """There is no such thing, or you may not know of it.

    Check the code. A lot that is not listed answers like one that does not exist
    to everybody but its grower and the parties to a commitment on it.
    """

    code = "not-found"
    title = "There is no such thing here"


class NotAllowed(Refusal):
    """You may see this thing but not change it in this way.

    A token belongs to one grower, one brewery or the specialist. Use the token of the
    party that owns the thing, or ask the specialist to act for it.
    """

    code = "not-allowed"
    title = "This token may not do that"


class TokenNeeded(Refusal):
    """This call needs a token, and none that is known came with it.

    Send `Authorization: Bearer TOKEN`. The operator makes one with `oastbook token create`,
    the specialist through `POST /v1/tokens`. A revoked token counts as unknown.
    """

    code = "token-needed"
    title = "A known token is needed"


class AlreadyExists(Refusal):
    """A thing with that code or name exists already.

    Choose another code, or change the one that exists.
    """

    code = "already-exists"
    title = "It exists already"


class InvalidRequest(Refusal):
    """The request is not in the form that this call takes.

    `errors` names each fault: a JSON pointer into the body, or the parameter, and what is wrong.
    Unknown fields are refused too, so that a mistyped name never vanishes.
    """

    code = "invalid-request"
    title = "The request is not in the form this call takes"


class OutOfRange(Refusal):
    """A figure lies outside the range in which the formula or the rule holds.

    `name`, `value`, `low`, `high` and `unit` say which and how far. Nothing is clamped silently.
    """

    code = "out-of-range"
    title = "A figure is outside its range"


class ListingIncomplete(Refusal):
    """The lot lacks what a brewer must know before it is listed.

    `missing` names every figure or statement that is wanted, all at once. A lot whose figures are
    still to come can be listed as `awaiting_analysis`, one still on the bine as `announced`.
    """

    code = "listing-incomplete"
    title = "The lot lacks what its listing needs"


class ImpossibleReport(Refusal):
    """The lab report says something that cannot be.

    `faults` names each figure or date, what was found and the bound it breaks. Check the certificate for a
    slipped decimal point or an exchanged field, and send it again. Nothing was kept.
    """

    code = "impossible-report"
    title = "The report holds a figure that cannot be"


class ConfirmationNeeded(Refusal):
    """A figure is possible but so unusual that it must be confirmed.

    Compare it with the certificate. If it stands there, send the same report with `"confirmed": true`.
    """

    code = "confirmation-needed"
    title = "An unusual figure wants confirming"


class NoStorageModel(Refusal):
    """There is no storage model for this lot.

    Wet hops are used within a day or two of picking; the published storage model is for dried hops.
    A lot without a harvest date, a storage spell or an alpha figure has nothing to reckon from.
    """

    code = "no-storage-model"
    title = "No storage model holds for this lot"


class FigureMissing(Refusal):
    """The figure that this answer needs was never measured.

    A missing lab value is missing, not zero. File a lab report with that figure, or give it yourself.
    """

    code = "figure-missing"
    title = "A figure that is needed was never measured"


class IllegalStep(Refusal):
    """The thing is in a state from which this step does not lead.

    `state` says where it is. A delivered, released or expired reservation moves no more; a confirmed one is
    released by the brewery only; a lot that was listed is no longer a draft.
    """

    code = "illegal-step"
    title = "That step is not possible from here"


class LotOnHold(Refusal):
    """The lot is on hold: somebody raised a concern about it, such as mould, a spray, the wrong cultivar, foreign matter.

    Until the hold is lifted nothing of the lot is listed, promised, confirmed, delivered or moved into another lot.
    Promises on it stand. `GET /v1/lots/{code}/quality-holds` says what the concern is, to those who may know.
    """

    code = "lot-on-hold"
    title = "The lot is on hold"


class FixedByListing(Refusal):
    """This part of the record is fixed once the lot was listed, or once others rely on it.

    Brewers may already have decided on it. Withdraw the lot and draft a new one if it was wrong.
    """

    code = "fixed-by-listing"
    title = "That can no longer change"


class PreconditionNeeded(Refusal):
    """A change must say which version of the record it was made from.

    Read the record, and send the `ETag` of that answer back as `If-Match`.
    """

    code = "if-match-needed"
    title = "If-Match is needed"


class PreconditionStale(Refusal):
    """The record changed since you read it.

    Read it again, look at what changed, and repeat your change with the new `ETag`.
    """

    code = "if-match-stale"
    title = "The record changed meanwhile"


class KeyReused(Refusal):
    """That Idempotency-Key was used before, with another body.

    A key stands for one intention. Take a new key for a new request.
    """

    code = "idempotency-key-reused"
    title = "That Idempotency-Key belongs to another request"


class KeyBusy(Refusal):
    """A request with the same Idempotency-Key is still running.

    Wait a moment and send the same request again; it then answers what the first one did.
    """

    code = "idempotency-key-busy"
    title = "A request with that key is still running"


class Overloaded(Refusal):
    """Too many changed the same records, or asked for long work, at once, and the tries were used up.

    Nothing was changed. Send the request again.
    """

    code = "busy"
    title = "The records were busy"


class NoCorrection(Refusal):
    """No published comparison lets this figure be restated for another method.

    A lead conductance value of EBC 7.5 can be restated as HPLC alpha when the hop storage index is known; for
    EBC 7.4 and the others nothing was published. Use the figure as it stands, with its method beside it.
    """

    code = "no-correction"
    title = "No published correction for this method"


class UnlikeReports(Refusal):
    """These reports cannot be compared with each other.

    A rate of loss is learnt only from reports of one form (all cones, or all pellets), by like methods, of
    samples that lay in store for different times. Leave out the report that differs.
    """

    code = "unlike-reports"
    title = "The reports cannot be compared"


class UnreadableReadings(Refusal):
    """The logger's file cannot be read as times and temperatures.

    `row` says where. The file wants a header with a time column and a temperature column that names its unit,
    such as `time,temperature (°C)`, then one ISO 8601 time and one number in each row.
    """

    code = "unreadable-readings"
    title = "The temperature readings cannot be read"


class UnlikeProfiles(Refusal):
    """These two oil profiles cannot be compared.

    Shares are compared only when both stand on one basis (US and European figures of myrcene differ by about
    two, and shares of peak area are not quantities) and at least three parts of the oil are known of both.
    Missing shares are not guessed. `reason` says which of these it was.
    """

    code = "unlike-oil-profiles"
    title = "The oil profiles cannot be compared"


class UnfitBrews(Refusal):
    """These past brews do not give a brewery's own utilization.

    A fit takes at least three brews with measured bitterness that agree with each other, all on one alpha:
    that of the certificate, or that estimated for the day of the brew. `reason` says what was missing.
    A fit made on one alpha cannot be used with the other, because ageing would count twice.
    """

    code = "unfit-brews"
    title = "The brews do not give a utilization"
