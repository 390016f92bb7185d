"""Sending samples to a laboratory, with a slip."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import NotAllowed, NotFound
from service.facts import replace
from service.market.goods.submissions import SlipFacts, Submission, decide_submission
from service.market.people.access import Caller, require_known
from service.records.goods import bookings, submissions
from service.records.people import parties
from service.records.session import Session
from service.usecases.goods.lot_access import lot_to_change, lot_to_see


def submit_sample(
    session: Session, code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> Submission:
    """Send grams of a lot to a laboratory; they are booked out of it.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's.
        InvalidRequest, OutOfRange, IllegalStep, NotEnoughStock: as `decide_submission`.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    told = {**asked, "tests": tuple(asked["tests"])}
    submission, booking = decide_submission(lot, **told, now=now, made_by=caller.name)
    booked = bookings.add(session, booking)
    return submissions.add(session, replace(submission, booking_code=booked.code))


def list_submissions(session: Session, code: str, *, caller: Caller, now: datetime) -> Sequence[Submission]:
    """The samples of a lot that were sent, for its grower and the specialist.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's.

    """
    lot = lot_to_see(session, code, caller=caller, now=now)
    require_known(caller)
    if not caller.acts_for("grower", lot.grower_code):
        raise NotAllowed(f"where samples of lot {code} went is for its grower to see")
    return submissions.search(session, code)


def slip_facts(
    session: Session, code: str, submission_code: str, *, caller: Caller, address: str, now: datetime
) -> SlipFacts:
    """What the slip of a sample says.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's, or there is no such sample.

    """
    for submission in list_submissions(session, code, caller=caller, now=now):
        if submission.code == submission_code:
            lot = lot_to_see(session, code, caller=caller, now=now)
            grower = parties.get(session, "grower", lot.grower_code)
            return SlipFacts(submission=submission, lot=lot, grower=grower, public_url=address)
    raise NotFound(f"no sample {submission_code} of lot {code} was sent")
