"""Labels of a lot, and the sheets of many lots as one download."""

from collections.abc import Iterator
from typing import Any

from flask import Response

from service.api.contract import Door
from service.api.fields import Choice, Code, Query, Whole
from service.api.sheets import PAPERS, PDF
from service.errors import IllegalStep, InvalidRequest, NotAllowed, NotFound, OutOfRange, TokenNeeded
from service.market.labels import LABEL_SIZES
from service.market.lots import STATES
from service.usecases.sheets import CODES_A_PAGE, codes_of_lots, file_or_facts, label_facts
from service.visit import house, now, read, visitor

bp = Door("many-sheets", __name__, url_prefix="/v1", description="Labels, and many sheets at once")
BINARY = {"type": "string", "format": "binary"}
ZIP = "application/zip"


class LabelQuery(Query):
    """Which labels, on what."""

    size = Choice(LABEL_SIZES, load_default=LABEL_SIZES[0])
    first = Whole(1, 1_000_000, in_query=True, load_default=None)
    last = Whole(1, 1_000_000, in_query=True, load_default=None)


class ManyQuery(Query):
    """Whose sheets; a grower's own, unless the specialist asks."""

    grower_code = Code(party=True, load_default=None)
    state = Choice(STATES, load_default=None)
    paper = Choice(PAPERS, load_default="a4")


@bp.route("/lots/<code>/label.pdf")
@bp.arguments(LabelQuery, location="query")
@bp.response(200, BINARY, content_type=PDF)
@bp.refuses(NotFound, TokenNeeded, NotAllowed, IllegalStep, OutOfRange, InvalidRequest)
def get_labels(asked: dict[str, Any], code: str) -> Response:
    """A label for each package of a lot, one to a page, at most 1000"""
    facts = read(
        lambda session: label_facts(
            session,
            code,
            visitor=visitor(),
            first=asked["first"],
            last=asked["last"],
            now=now(),
            address=f"{house().public_url}/v1/lots/{code}",
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
    who, moment, home = visitor(), now(), house()
    wish = {"visitor": who, "grower_code": asked["grower_code"], "state": asked["state"]}
    codes = read(lambda session: codes_of_lots(session, after=None, **wish))
    from service.sheets.archive import stream_archive  # noqa: PLC0415 -- slow import, and few calls print
    from service.sheets.lot_sheet import render_lot_sheet  # noqa: PLC0415 -- slow import, and few calls print

    def one(code: str) -> tuple[str, bytes] | None:
        address = f"{home.public_url}/v1/lots/{code}"
        found = home.records.read(
            lambda session: file_or_facts(session, code, visitor=who, now=moment, address=address)
        )
        if found is None or isinstance(found[1], bytes):
            return found  # type: ignore[return-value]  # the facts are the other case
        return found[0], render_lot_sheet(found[1], paper=asked["paper"])

    def codes_after(last: str) -> list[str]:
        return home.records.read(lambda session: codes_of_lots(session, after=last, **wish))

    def files(page: list[str]) -> Iterator[tuple[str, bytes]]:
        while page:
            yield from filter(None, map(one, page))
            page = codes_after(page[-1]) if len(page) == CODES_A_PAGE else []

    headers = {"Content-Disposition": 'attachment; filename="sheets.zip"'}
    return Response(stream_archive(files(codes)), mimetype=ZIP, headers=headers)
