"""What all views share that answer with a PDF."""

from flask import Response

PDF = "application/pdf"


def send_pdf(file: bytes, name: str) -> Response:
    """Send a PDF that a browser shows in its own window."""
    return Response(file, mimetype=PDF, headers={"Content-Disposition": f'inline; filename="{name}"'})
