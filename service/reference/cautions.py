"""Cautions by code: what may go wrong, in plain words, with the source.

They inform and do not decide: labels, local codes and licensed practice go before them.
"""

from functools import cache

from service.errors import NotFound
from service.facts import Fact
from service.reference.load import load_table


class Caution(Fact, frozen=True):
    """One caution; ``topic`` says where it belongs."""

    code: str
    topic: str
    title: str
    words: str
    mark: str
    source: str


@cache
def all_cautions() -> tuple[Caution, ...]:
    """Give every caution, in the order of the table."""
    return tuple(
        Caution(
            code=row.text("code"),
            topic=row.text("topic"),
            title=row.text("title"),
            words=row.text("words"),
            mark=row.text("mark"),
            source=row.text("source"),
        )
        for row in load_table("cautions", has_unit=False)
    )


@cache
def _by_code() -> dict[str, Caution]:
    return {caution.code: caution for caution in all_cautions()}


def get_caution(code: str) -> Caution:
    """Give one caution.

    Raises:
        NotFound: there is no caution with that code.

    >>> get_caution("not_a_certificate").title
    'Not a certificate of analysis'

    """
    found = _by_code().get(code)
    if found is None:
        raise NotFound(f"there is no caution {code!r}", code=code)
    return found
