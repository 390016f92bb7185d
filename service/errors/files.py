"""Refusals of files that come in."""

from service.errors.base import Refusal


class UnreadableTable(Refusal):
    """The file cannot be read as a table of lots.

    CSV (separated by comma, semicolon or tab; UTF-8, UTF-16 or Windows-1252) and XLSX are taken, with the names of the
    columns in the first row. `row` says where it broke.
    """

    code = "unreadable-table"
    title = "The file is no table that can be read"


class UnfitFile(Refusal):
    """The file cannot stand beside a lab report.

    A certificate is a PDF, PNG or JPEG file, known by its content and whole to its end; a report takes five. Nothing
    was kept.
    """

    code = "unfit-file"
    title = "The file is no certificate that can be kept"


class ImportRefused(Refusal):
    """Nothing of the file was written.

    `faults` names row, column, what is wrong and how to mend it, at most 200 of `faults_in_all`. Mend the file, send it
    again; with `mode=row_by_row` the lots that can be are written, with `dry_run=true` nothing is and all is said.
    """

    code = "import-refused"
    title = "Nothing of the file was written"
