"""Where a lot grew, in which block, and what was certified of it.

A certification has a last day, which alone decides: it counts to the end of that day and is shown as lapsed
afterwards. Pellets and blends carry none: processing needs a certification of its own. Of a lot that names
only its country, nobody knows whether it grew in a part that is wanted.
"""

import re
from collections.abc import Iterator, Sequence
from datetime import date

from service.facts import Fact
from service.reference.countries import country_fault
from service.reference.names import fold

CERTIFICATION_KINDS = ("organic", "other")
# A country, or a part of one, as ISO 3166-1 and ISO 3166-2 write them.
ORIGIN = re.compile("[A-Z]{2}(-[A-Z0-9]{1,3})?", re.ASCII)


class Certification(Fact, frozen=True, kw_only=True):
    """What a certifier vouches for, under which number and until when; the last day counts."""

    kind: str
    scheme: str
    certifier: str
    number: str
    valid_until: date

    def is_lapsed(self, on: date) -> bool:
        """Whether it no longer holds on a day."""
        return self.valid_until < on

    @property
    def key(self) -> str:
        """The name of the scheme as a search compares it."""
        return fold(self.scheme)


class ShownCertification(Fact, frozen=True, kw_only=True):
    """A certification beside the day for which it is shown: it holds, or it has lapsed."""

    kind: str
    scheme: str
    certifier: str
    number: str
    valid_until: date
    lapsed: bool


def shown_on(certifications: Sequence[Certification], on: date) -> tuple[ShownCertification, ...]:
    """Certifications as they are shown for a day, in the order in which they were given."""
    return tuple(
        ShownCertification(
            kind=held.kind,
            scheme=held.scheme,
            certifier=held.certifier,
            number=held.number,
            valid_until=held.valid_until,
            lapsed=held.is_lapsed(on),
        )
        for held in certifications
    )


def is_held(wanted: str, certifications: Sequence[Certification]) -> bool:
    """Whether a kind or a scheme is among certifications.

    >>> held = Certification(kind="organic", scheme="Valley Green", certifier="", number="1", valid_until=date.max)
    >>> is_held("organic", [held]), is_held("valley green", [held]), is_held("other", [held])
    (True, True, False)

    """
    key = fold(wanted)
    return any(key in (held.key, held.kind) for held in certifications)


def known_origin(country: str | None, subdivision: str | None, *, wanted: Sequence[str]) -> str | None:
    """Where a lot grew as far as it decides; of a country of which a part is wanted nobody knows which part it was.

    >>> known_origin("CA", None, wanted=["CA-NS"]), known_origin("CA", "CA-ON", wanted=["CA-NS"])
    (None, 'CA-ON')
    >>> known_origin("CA", None, wanted=["CA"]), known_origin("US", None, wanted=["CA-NS"])
    ('CA', 'US')

    """
    if subdivision is None and country not in wanted and country in {place[:2] for place in wanted}:
        return None
    return subdivision or country


def wanted_provenance_faults(
    certifications: Sequence[str], origins: Sequence[str]
) -> Iterator[tuple[str, str]]:
    """What cannot be of the certifications and places that are wanted.

    >>> list(wanted_provenance_faults(["organic"], ["CA", "XX"]))
    [('origins/1', 'XX is no country of ISO 3166-1')]

    """
    for place, scheme in enumerate(certifications):
        if not fold(scheme):
            yield f"certifications/{place}", "a scheme's name holds letters or digits"
    for place, origin in enumerate(origins):
        if not ORIGIN.fullmatch(origin):
            yield (
                f"origins/{place}",
                "a place is a country or a part of one as ISO 3166 writes it, such as CA or CA-NS",
            )
            continue
        for _, text in origin_faults(origin[:2], origin if "-" in origin else None):
            yield f"origins/{place}", text


def block_key(block: str) -> str:
    """Fold a block's name so that capitals, accents and spaces do not make two blocks of one.

    >>> block_key("North  Field 2") == block_key("north field 2")
    True
    >>> block_key("Row A-1") == block_key("Row A-11")
    False

    """
    return fold(block) or re.sub(r"\s+", " ", block.strip().casefold())


def place_grown(subdivision: str | None, growers_country: str) -> str | None:
    """The country of a lot whose grower names none: that of the subdivision, else the grower's own, if it is one.

    >>> place_grown("US-WA", "CA"), place_grown(None, "CA"), place_grown(None, "XX")
    ('US', 'CA', None)

    """
    if subdivision is not None:
        return subdivision[:2]
    return growers_country if country_fault(growers_country) is None else None


def origin_faults(country: str | None, subdivision: str | None) -> Iterator[tuple[str, str]]:
    """What cannot be of a place of origin.

    >>> list(origin_faults("CA", "US-WA"))
    [('origin_subdivision', 'US-WA lies in US, not in CA')]

    """
    fault = country_fault(country) if country else None
    if fault:
        yield "origin_country", fault
        return
    if subdivision is None:
        return
    if country is None:
        yield "origin_country", f"give the country of {subdivision} too"
    elif not subdivision.startswith(f"{country}-"):
        yield "origin_subdivision", f"{subdivision} lies in {subdivision[:2]}, not in {country}"


def certification_faults(certifications: Sequence[Certification]) -> Iterator[tuple[str, str]]:
    """What cannot be of a list of certifications: two that are one, or a scheme without a letter."""
    seen: set[tuple[str, str]] = set()
    for place, held in enumerate(certifications):
        named = held.key, held.number
        if not held.key:
            yield f"certifications/{place}/scheme", "a scheme's name holds letters or digits"
        elif named in seen:
            yield f"certifications/{place}", f"{held.scheme} {held.number} stands there already"
        seen.add(named)
