"""Opens the HTML door on an app."""

from flask import Flask


def register(app: Flask) -> None:
    """Register the pages."""
