"""Every refusal the house can give, each with its stable code.

A refusal is raised with one sentence for a person and the facts for a program:

>>> raise OutOfRange("alpha_percent must be 0 to 100 %, not 120", name="alpha_percent", value=120.0)
Traceback (most recent call last):
service.errors.OutOfRange: alpha_percent must be 0 to 100 %, not 120

The class docstring is the page that explains the refusal to its reader.
"""


class Refusal(Exception):  # noqa: N818 -- a refusal is the trade's word, not an error of the program
    """The house says no."""

    code: str = "refusal"
    title: str = "The service refuses"

    def __init__(self, detail: str, **facts: object) -> None:
        super().__init__(detail)
        self.detail = detail
        self.facts = facts


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
