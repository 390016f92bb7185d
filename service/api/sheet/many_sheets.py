"""Labels of a lot, and the sheets of many lots as one download.

Each lot is read on its own while the ZIP is sent: memory stays flat and no transaction is open for minutes.
A lot that changes meanwhile appears as it is when its turn comes; one that is gone is left out.
"""

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

from flask import Response

from service.api.contract import (
    CHANGING,
    Blueprint,
)
from service.api.fields import Choice, Code, Query, Whole
from service.api.pdf import PDF
from service.errors import IllegalStep, InvalidRequest, NotAllowed, OutOfRange, TokenNeeded
from service.market.goods.lots import STATES
from service.market.people.access import Caller
from service.request_context import caller, now, read, runtime
from service.sheets.papers import LABEL_SIZES, PAPERS
from service.usecases.sheet.sheets import CODES_A_PAGE, codes_of_lots, file_or_facts, label_facts

bp = Blueprint("many-sheets", __name__, url_prefix="/v1", description="Labels, and many sheets at once")
BINARY = {"type": "string", "format": "binary"}
ZIP = "application/zip"


class LabelQuery(Query):
    """Which labels, on what."""

    size = Choice(tuple(LABEL_SIZES), load_default="100x62mm")
    first = Whole(1, 1_000_000, in_query=True, load_default=None)
    last = Whole(1, 1_000_000, in_query=True, load_default=None)


class ManyQuery(Query):
    """Whose sheets; a grower's own, unless the specialist asks."""

    grower_code = Code(party=True, load_default=None)
    state = Choice(STATES, load_default=None)
    paper = Choice(tuple(PAPERS), load_default="a4")


@bp.route("/lots/<code>/label.pdf")
@bp.arguments(LabelQuery, location="query")
@bp.response(200, BINARY, content_type=PDF)
@bp.refuses(*CHANGING, IllegalStep, OutOfRange)
def get_labels(asked: dict[str, Any], code: str) -> Response:
    """A label for each package of a lot, one to a page, at most 1000"""
    facts = read(
        lambda session: label_facts(
            session,
            code,
            caller=caller(),
            first=asked["first"],
            last=asked["last"],
            now=now(),
            address=f"{runtime().public_url}/v1/lots/{code}",
        )
    )
    from service.sheets.label import render_labels  # noqa: PLC0415 -- slow import, and few calls print

    headers = {"Content-Disposition": f'inline; filename="{code}-labels.pdf"'}
    return Response(render_labels(facts, size=asked["size"]), mimetype=PDF, headers=headers)


@bp.route("/sheets.zip")
@bp.arguments(ManyQuery, location="query")
@bp.response(200, BINARY, content_type=ZIP)
@bp.refuses(TokenNeeded, NotAllowed, InvalidRequest)
def get_many_sheets(asked: dict[str, Any]) -> Response:
    """The sheets of all one's lots as one ZIP, sent while it is made: the issued ones, else previews"""
    who, home = caller(), runtime()
    codes = read(
        lambda session: codes_of_lots(
            session, caller=who, grower_code=asked["grower_code"], state=asked["state"], after=None
        )
    )
    from service.sheets.archive import stream_archive  # noqa: PLC0415 -- slow import, and few calls print

    files = many_files(home.records.read, codes, caller=who, now=now(), public_url=home.public_url, **asked)
    headers = {"Content-Disposition": 'attachment; filename="sheets.zip"'}
    return Response(stream_archive(files), mimetype=ZIP, headers=headers)


def many_files(
    look: Callable[[Callable[[Any], Any]], Any],
    codes: list[str],
    *,
    caller: Caller,
    now: datetime,
    public_url: str,
    grower_code: str | None,
    state: str | None,
    paper: str,
) -> Iterator[tuple[str, bytes]]:
    """Sheets one after another, each in a reading of its own, from the first page of codes on."""
    from service.sheets.lot_sheet import render_lot_sheet  # noqa: PLC0415 -- slow import, and few calls print

    def one(code: str) -> tuple[str, bytes] | None:
        address = f"{public_url}/v1/lots/{code}"
        found = look(lambda session: file_or_facts(session, code, caller=caller, now=now, address=address))
        if found is None:
            return None
        name, sheet = found
        return name, sheet if isinstance(sheet, bytes) else render_lot_sheet(sheet, paper=paper)

    def codes_after(last: str) -> list[str]:
        found: list[str] = look(
            lambda session: codes_of_lots(
                session, caller=caller, grower_code=grower_code, state=state, after=last
            )
        )
        return found

    while codes:
        yield from filter(None, map(one, codes))
        codes = codes_after(codes[-1]) if len(codes) == CODES_A_PAGE else []
