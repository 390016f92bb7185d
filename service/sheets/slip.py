"""The slip that goes with a sample: by it the laboratory's result finds its lot."""

from service.market.goods.submissions import SlipFacts
from service.sheets.lot_goods import crop_form, cultivar_name
from service.sheets.pages import Column, PagesLines, PartLines, render_pages
from service.sheets.words import ENGLISH, Words


def render_slip(facts: SlipFacts, *, paper: str = "a4", words: Words = ENGLISH) -> bytes:
    """Print a submission slip.

    Raises:
        OutOfRange: there is no paper of that name.

    """
    return render_pages(slip_lines(facts, words=words), paper=paper, words=words)


def slip_lines(facts: SlipFacts, *, words: Words = ENGLISH) -> PagesLines:
    """Put a submission slip into words."""
    say, sent, lot = words.say, facts.submission, facts.lot
    code = f"{lot.code} {sent.code}"
    rows = (
        (say("slip_lot"), lot.code),
        (say("slip_own_number"), lot.own_lot_number or say("blank")),
        (say("slip_hops"), f"{cultivar_name(lot, words)}, {crop_form(lot, words)}"),
        (say("slip_mass"), say("slip_grams", mass=sent.mass_g)),
        (say("slip_picked"), words.day(lot.harvested_on) if lot.harvested_on else say("blank")),
        (say("slip_sent"), words.day(sent.sent_on)),
    )
    wanted = tuple((say(f"slip_{test}"), say("blank"), say("blank")) for test in sent.tests)
    return PagesLines(
        kind=say("slip_kind"),
        title=say("slip_title", code=code),
        subject=say("slip_subject", lot=lot.code, laboratory=sent.laboratory),
        author=facts.grower.name,
        language=words.language,
        status=say("slip_status", code=sent.code),
        headline=say("slip_headline", laboratory=sent.laboratory),
        under_headline=say("slip_from", grower=facts.grower.name, locality=facts.grower.locality),
        parts=(
            PartLines(
                heading=say("slip_sample"),
                columns=(Column(say("slip_what"), 1.0), Column(say("slip_told"), 2.4)),
                rows=rows,
            ),
            PartLines(
                heading=say("slip_wanted"),
                texts=(sent.note,) if sent.note else (),
                columns=(
                    Column(say("slip_test"), 1.6),
                    Column(say("slip_method"), 1.4),
                    Column(say("slip_result"), 1.0),
                ),
                rows=wanted,
            ),
            PartLines(heading=say("slip_back"), texts=(say("slip_back_words", lot=lot.code),)),
        ),
        foot=(say("slip_foot"),),
        code=lot.code,
        url=facts.public_url,
        scan=code,
    )
