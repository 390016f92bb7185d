"""What a lot is, whose it is, and how much of it there is, in words."""

from decimal import Decimal

from service.market.goods.lots import Lot
from service.market.sheet.sheet_facts import LotSheetFacts
from service.sheets.words import Words


def crop_form(lot: Lot, words: Words) -> str:
    """The crop year and the form."""
    return words.say("crop_form", crop=_crop(lot, words), form=words.say(f"form_{lot.form}"))


def _crop(lot: Lot, words: Words) -> str:
    if lot.crop_year:
        return words.say("crop", year=lot.crop_year)
    return words.say("crop_several" if lot.harvested_on else "crop_open")


def cultivar_name(lot: Lot, words: Words) -> str:
    """The cultivar's name; of several, that it is a blend."""
    return words.say("blend") if lot.is_blend else lot.cultivar


def _cultivars(facts: LotSheetFacts, words: Words) -> list[str]:
    """The cultivar, or each of several with its percent."""
    lot = facts.view.lot
    if facts.view.label_parts:
        return [
            words.say(
                "blend_part",
                percent=words.fixed(part.share_percent, places=1),
                cultivar=part.cultivar or words.say("blend"),
                crop=words.say("crop", year=part.crop_year) if part.crop_year else words.say("crop_several"),
            )
            for part in facts.view.label_parts
        ]
    if lot.known or lot.is_blend:
        return [cultivar_name(lot, words)]
    return [words.say("cultivar_unknown", name=lot.cultivar)]


def _making(facts: LotSheetFacts, words: Words) -> list[str]:
    """By which step the lot was made, when, and where."""
    step = facts.view.step
    if step is None:
        return []
    words_of_step = {"step": step.kind, "day": words.day(step.done_on)}
    if step.processor is None:
        return [words.say("made_by", **words_of_step)]
    return [words.say("made_by_processor", **words_of_step, processor=step.processor)]


def what_it_is(facts: LotSheetFacts, words: Words) -> list[str]:
    """Cultivar, crop, picking and role."""
    lot = facts.view.lot
    role = words.say(f"role_{lot.role}")
    if facts.view.role_mark:
        role = words.say("role_marked", role=role, mark=facts.view.role_mark)
    picked = words.days(lot.harvested_on, lot.picked_until)
    window = words.days(lot.harvest_window_from, lot.harvest_window_to)
    return [
        *_cultivars(facts, words),
        crop_form(lot, words),
        words.say("picked", days=picked)
        if picked
        else words.say("to_be_picked", days=window)
        if window
        else words.say("no_date"),
        *_making(facts, words),
        role,
    ]


def whose_and_where(facts: LotSheetFacts, words: Words) -> list[str]:
    """The grower, the place, and the grower's own number of the lot."""
    lot, grower = facts.view.lot, facts.view.grower
    said = [
        words.say("grower_code", name=grower.name, code=grower.code),
        words.say("place", locality=grower.locality, country=grower.country),
    ]
    place = lot.origin_subdivision or lot.origin_country
    if place and (lot.block or place != grower.country):
        key = "grown_block" if lot.block else "grown"
        said.append(words.say(key, place=place, block=lot.block))
    elif lot.block:
        said.append(words.say("block", block=lot.block))
    return [*said, words.say("own_number", own=lot.own_lot_number)] if lot.own_lot_number else said


def goods(lot: Lot, words: Words) -> list[str]:
    """The net mass first, then package by package, then what lies loose."""
    said = []
    for package in lot.packages:
        kind = words.say(f"kind_{package.kind}")
        each = words.kg_lb(package.net_kg)
        said.append(words.say("package_line", count=package.count, kind=kind, mass=each))
    packed = sum((p.count * p.net_kg for p in lot.packages), Decimal(0))
    if lot.packages and lot.mass_kg and lot.mass_kg > packed:
        said.append(words.say("loose", mass=words.kg_lb(lot.mass_kg - packed)))
    if lot.mass_kg is not None:
        net = words.say("net_mass", mass=words.kg_lb(lot.mass_kg))
    elif lot.expected_kg is not None:
        net = words.say("expected", mass=words.kg_lb(lot.expected_kg))
    else:
        net = words.say("no_mass")
    return [net, *(said or [words.say("no_packages")])]
