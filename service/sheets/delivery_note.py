"""The delivery note: what is handed over, how, and lines to sign on."""

from service.market.people.parties import Party
from service.market.trade.delivery_notes import DeliveryNoteFacts, NotedParcel
from service.sheets.lot_goods import crop_form, cultivar_name
from service.sheets.pages import Column, PagesLines, PartLines, render_pages
from service.sheets.words import ENGLISH, Words


def render_delivery_note(facts: DeliveryNoteFacts, *, paper: str = "a4", words: Words = ENGLISH) -> bytes:
    """Print a delivery note.

    Raises:
        OutOfRange: there is no paper of that name.

    """
    return render_pages(delivery_note_lines(facts, words=words), paper=paper, words=words)


def delivery_note_lines(facts: DeliveryNoteFacts, *, words: Words = ENGLISH) -> PagesLines:
    """Put a delivery note into words."""
    say = words.say
    code = facts.parcels[0].promise.code
    names = {"grower": facts.grower.name, "brewery": facts.brewery.name}
    return PagesLines(
        kind=say("note_kind"),
        title=say("note_title", code=code),
        subject=say("note_subject", **names),
        author=facts.grower.name,
        language=words.language,
        status=say("note_delivered" if facts.is_delivered else "note_open"),
        headline=say("note_headline", **names),
        under_headline=say("note_printed", day=words.day(facts.printed_on)),
        parts=(
            PartLines(
                heading=say("note_parties"),
                texts=(
                    say("note_from", party=_party(facts.grower, words)),
                    say("note_to", party=_party(facts.brewery, words)),
                ),
            ),
            PartLines(heading=say("note_how"), texts=_how(facts, words)),
            _goods(facts, words),
            PartLines(
                heading=say("note_receipt"),
                texts=(say("note_receipt_words"),),
                signatures=(
                    say("note_sign_grower", name=facts.grower.name),
                    say("note_sign_brewery", name=facts.brewery.name),
                ),
            ),
        ),
        foot=(say("note_foot"),),
        code=code,
        url=facts.public_url,
        scan=code,
    )


def _party(party: Party, words: Words) -> str:
    who = words.say("grower_code", name=party.name, code=party.code)
    return f"{who}, {words.say('place', locality=party.locality, country=party.country)}"


def _how(facts: DeliveryNoteFacts, words: Words) -> tuple[str, ...]:
    handover = "note_handover_open" if facts.handover is None else f"note_{facts.handover}"
    cold = {None: "note_cold_open", True: "note_cold", False: "note_not_cold"}[facts.is_cold]
    return words.say(handover), words.say(cold)


def _goods(facts: DeliveryNoteFacts, words: Words) -> PartLines:
    say = words.say
    columns = (
        Column(say("note_lot"), 1.5),
        Column(say("note_hops"), 1.6),
        Column(say("note_packages"), 1.8),
        Column(say("note_numbers"), 1.0),
        Column(say("note_net"), 1.2, "right"),
        Column(say("note_gross"), 1.2, "right"),
    )
    gross = say("blank") if facts.gross_kg is None else words.kg_lb(facts.gross_kg)
    rows = [_row(parcel, words) for parcel in facts.parcels]
    rows.append((say("note_sum"), "", "", "", words.kg_lb(facts.net_kg), gross))
    return PartLines(heading=say("note_goods"), columns=columns, rows=tuple(rows), last_row_is_sum=True)


def _row(parcel: NotedParcel, words: Words) -> tuple[str, ...]:
    say, promise, lot = words.say, parcel.promise, parcel.lot
    packages = [
        say(
            "package_line",
            count=p.count,
            kind=say(f"kind_{p.kind}"),
            mass=words.kg_lb(p.net_kg),
        )
        for p in lot.packages
    ]
    day = f"; {say('note_day', day=words.day(promise.delivered_on))}" if promise.delivered_on else ""
    return (
        f"{lot.code} ({promise.code}{day})",
        f"{cultivar_name(lot, words)}, {crop_form(lot, words)}",
        "; ".join(packages) or say("no_packages"),
        parcel.package_numbers or say("blank"),
        words.kg_lb(parcel.net_kg),
        say("blank") if parcel.gross_kg is None else words.kg_lb(parcel.gross_kg),
    )
