"""Lots by the file, over HTTP: CSV or XLSX in, a report out; and the same lots out again."""

from typing import Any

import marshmallow as ma
from flask import Response, request

from service.api.contract import (
    CHANGING,
    Blueprint,
    json_answer,
    respond,
)
from service.api.fields import AnswerBody, Choice, Code, Flag, Query
from service.api.goods.bulk_export import HEADER, export_rows
from service.api.goods.bulk_rows import ReadFile
from service.errors import (
    ImportRefused,
    UnreadableTable,
)
from service.files.tables import read_table
from service.files.writing import write_csv, write_xlsx
from service.market.goods.bulk import FAULTS_SHOWN, MODES, ImportReport
from service.request_context import Answer, caller, create, now, read
from service.usecases.goods.bulk import export_lots, import_lots

bp = Blueprint("bulk", __name__, url_prefix="/v1", description="Lots by the file")
CSV = "text/csv"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class ImportQuery(Query):
    """How a file is taken."""

    mode = Choice(MODES, load_default="all_or_nothing")
    dry_run = Flag(
        in_query=True, load_default=False, metadata={"description": "say what would be done, and do nothing"}
    )
    grower_code = Code(party=True, load_default=None)


class ExportQuery(Query):
    """As what the lots come out."""

    format = Choice(("csv", "xlsx"), load_default="csv")
    grower_code = Code(party=True, load_default=None)


class RowFaultAnswer(AnswerBody):
    """What is wrong with a row, and how to mend it."""

    row = ma.fields.Integer(required=True)
    column = ma.fields.String(required=True, allow_none=True)
    detail = ma.fields.String(required=True)


class ImportAnswer(AnswerBody):
    """What an import did, or would do."""

    rows = ma.fields.Integer(required=True)
    lots = ma.fields.Integer(required=True)
    written = ma.fields.Integer(required=True)
    is_dry_run = ma.fields.Boolean(required=True)
    lot_codes = ma.fields.List(ma.fields.String(), required=True)
    faults = ma.fields.List(ma.fields.Nested(RowFaultAnswer), required=True)
    faults_in_all = ma.fields.Integer(required=True)
    notes = ma.fields.List(ma.fields.String(), required=True)


ANSWER_SCHEMA = ImportAnswer()


def take_file(
    session: Any,
    content: bytes,
    *,
    who: Any,
    moment: Any,
    mode: str,
    dry_run: bool,
    grower_code: str | None,
    progress: Any = lambda _done, _all: None,
) -> ImportReport:
    """Take a file of lots, whoever brought it; the command line does it by the same words.

    Raises:
        UnreadableTable: it is no table.
        ImportRefused: nothing was written, because of the faults it names.
        TokenNeeded, NotAllowed, NotFound, InvalidRequest: as `import_lots`.

    """
    file = ReadFile(read_table(content))

    def writes(found: int) -> bool:
        return not dry_run and (mode == "row_by_row" or found + len(file.faults) == 0)

    rows = len(file.table.rows)
    made = import_lots(
        session,
        caller=who,
        grower_code=grower_code,
        asked=file.lots(),
        now=moment,
        writes=writes,
        progress=lambda number: progress(number, rows),
    )
    faults = sorted((*file.faults, *made.faults), key=lambda fault: fault.row)
    is_kept = not faults or (mode == "row_by_row" and bool(made.lot_codes))
    report = ImportReport(
        rows=rows,
        lots=file.lots_given - made.refused,
        written=len(made.lot_codes) if is_kept else 0,
        is_dry_run=dry_run,
        lot_codes=made.lot_codes if is_kept else (),
        faults=tuple(faults[:FAULTS_SHOWN]),
        faults_in_all=len(faults),
        notes=file.table.notes,
    )
    # What was written of a file that is refused goes back with the transaction.
    if not is_kept and not dry_run:
        raise ImportRefused(
            f"nothing was written: {len(faults)} faults in {rows} rows",
            faults=[{"row": f.row, "column": f.column, "detail": f.detail} for f in report.faults],
            faults_in_all=len(faults),
            notes=list(file.table.notes),
        )
    return report


@bp.route("/imports/lots", methods=["POST"])
@bp.arguments(ImportQuery, location="query")
@bp.response(201, ImportAnswer)
@bp.alt_response(200, schema=ImportAnswer, description="a dry run: what would be done")
@bp.refuses(*CHANGING, UnreadableTable, ImportRefused)
@bp.repeatable
@bp.doc(
    requestBody={
        "required": True,
        "content": {
            CSV: {"schema": {"type": "string"}},
            XLSX: {"schema": {"type": "string", "format": "binary"}},
        },
    }
)
def post_import(asked: dict[str, Any]) -> Response:
    """Take a file of lots: the body is the CSV or XLSX file itself"""
    content = request.get_data(cache=True)

    def work(session: Any) -> Answer:
        report = take_file(session, content, who=caller(), moment=now(), **asked)
        return json_answer(ANSWER_SCHEMA.dump(report), status=200 if report.is_dry_run else 201)

    return respond(create(work))


@bp.route("/exports/lots")
@bp.arguments(ExportQuery, location="query")
@bp.response(200, content_type=CSV)
@bp.refuses(*CHANGING)
def get_export(asked: dict[str, Any]) -> Response:
    """A grower's own lots as a file that an import takes back"""
    found, left_out = read(
        lambda session: export_lots(session, caller=caller(), grower_code=asked["grower_code"], now=now())
    )
    if asked["format"] == "csv":
        content, kind = write_csv(HEADER, export_rows(found)), f"{CSV}; charset=utf-8; header=present"
    else:
        content, kind = write_xlsx(HEADER, export_rows(found), title="lots"), XLSX
    return Response(
        content,
        content_type=kind,
        headers={
            "Content-Disposition": f'attachment; filename="lots.{asked["format"]}"',
            "X-Content-Type-Options": "nosniff",
            "Oastbook-Lots-Left-Out": str(left_out),
        },
    )
