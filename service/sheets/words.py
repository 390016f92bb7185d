"""Every text of the sheets in one place, with dates and numbers as a language writes them.

Another language is another `Words` with the same keys. Names of methods, cautions and packings come from
the books and are kept there.
"""

import math
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from service.facts import Fact
from service.market.goods.lab_quantities import LAB_QUANTITIES
from service.science.customary import fahrenheit_from_celsius, lb_from_kg
from service.science.uncertainty import Estimate
from service.sheets.lot_statement_words import STATEMENT_TEXTS
from service.sheets.trade_words import TRADE_TEXTS

# Nothing on a sheet is known more finely.
LEAST_SHOWN = 0.0001


class Words(Fact, frozen=True, kw_only=True):
    """The texts of one language."""

    language: str
    months: Sequence[str]
    texts: Mapping[str, str]

    def say(self, text_key: str, /, **parts: object) -> str:
        """Give a text with its parts filled in.

        >>> ENGLISH.say("sampled", drawn="official sample", day="3 Sep 2026")
        'official sample, 3 Sep 2026'

        """
        return self.texts[text_key].format(**parts)

    def day(self, day: date) -> str:
        """Write a date so that no reader takes the month for the day.

        >>> ENGLISH.day(date(2026, 9, 3))
        '3 Sep 2026'

        """
        return f"{day.day} {self.months[day.month - 1]} {day.year}"

    def days(self, first: date | None, last: date | None) -> str | None:
        """Write a span of days; None where no end of it is known."""
        if first is None or last is None or first == last:
            known = first or last
            return self.day(known) if known else None
        return self.say("from_to", first=self.day(first), last=self.day(last))

    def number(self, value: float | Decimal, *, digits: int = 4) -> str:
        """Write a number with so many digits that count, never with an exponent, its minus a true one.

        >>> ENGLISH.number(5.4), ENGLISH.number(-18.0), ENGLISH.number(123456.7), ENGLISH.number(1e-7)
        ('5.4', '−18', '123457', '<0.0001')

        """
        if 0 < abs(float(value)) < LEAST_SHOWN:
            return self.say("under", limit=f"{LEAST_SHOWN:.4f}")
        rounded = Decimal(f"{value:.{digits}g}") if abs(value) < 10**digits else Decimal(round(value))
        plain = format(rounded, "f")
        if "." in plain:
            plain = plain.rstrip("0").rstrip(".")
        return plain.replace("-", "−")

    def fixed(self, value: float, *, places: int) -> str:
        """Write a number with so many decimals.

        >>> ENGLISH.fixed(0.3, places=2)
        '0.30'

        """
        return f"{value:.{places}f}".replace("-", "−")

    def mass(self, mass: Decimal) -> str:
        """Write a mass of goods to the gram, as the books keep it.

        >>> ENGLISH.mass(Decimal("120.500"))
        '120.5'

        """
        return format(mass.normalize(), "f")

    def kg_lb(self, mass_kg: Decimal) -> str:
        """Write a mass of goods in kilograms and in pounds.

        >>> ENGLISH.kg_lb(Decimal("20"))
        '20 kg (44.1 lb)'

        """
        lb = self.fixed(lb_from_kg(mass_kg=float(mass_kg)), places=1)
        return self.say("kg_lb", kg=self.mass(mass_kg), lb=lb)

    def celsius(self, temperature_c: float) -> str:
        """Write a temperature in both scales.

        >>> ENGLISH.celsius(-18.0)
        '−18 °C (−0.4 °F)'

        """
        fahrenheit = fahrenheit_from_celsius(temperature_c=temperature_c)
        return self.say("celsius", c=self.number(temperature_c), f=self.number(round(fahrenheit, 1)))

    def estimate(self, found: Estimate, *, places: int | None = None) -> str:
        """Write an estimate with its interval, to so many decimals or else to two digits that count.

        >>> ENGLISH.estimate(Estimate(84.71, 71.2, 103.9)), ENGLISH.estimate(Estimate(5.123, 4.61, 5.77), places=1)
        ('85 (71 to 104)', '5.1 (4.6 to 5.8)')

        """
        if places is None:
            places = min(4, max(0, 1 - math.floor(math.log10(max(found.estimate, LEAST_SHOWN)))))
        ends = [self.fixed(x, places=places) for x in (found.estimate, found.low, found.high)]
        return self.say("interval", middle=ends[0], low=ends[1], high=ends[2])


ENGLISH = Words(
    language="en",
    months=("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
    texts={
        # Numbers and spans
        "under": "<{limit}",
        "interval": "{middle} ({low} to {high})",
        "from_to": "{first} to {last}",
        "celsius": "{c} °C ({f} °F)",
        "kg_lb": "{kg} kg ({lb} lb)",
        # Head
        "kind": "Lot spec sheet",
        "title": "Lot spec sheet {code}: {cultivar}",
        "subject": "Lot {code} of {grower}",
        "preview": "PREVIEW of {day}, not issued",
        "revision": "Revision {number}, issued {day}",
        "crop": "{year} crop",
        "crop_open": "crop to come",
        "crop_several": "several crops",
        "blend": "Blend",
        "blend_part": "{percent} % {cultivar}, {crop}",
        "made_by": "{step} {day}",
        "made_by_processor": "{step} {day} at {processor}",
        "form_whole_cone": "whole cones",
        "form_pellet": "pellets, type 90",
        "form_pellet_enriched": "enriched pellets, type 45",
        "form_wet_hop": "wet hops, undried",
        "role_aroma": "aroma hop",
        "role_bittering": "bittering hop",
        "role_dual": "dual-purpose hop",
        "role_marked": "{role} ({mark})",
        # What, whose and where, packages
        "what": "What it is",
        "cultivar_unknown": "{name}: as the grower names it, not in the books",
        "crop_form": "{crop}, {form}",
        "lot_crop_form": "Lot {code}: {crop_form}",
        "picked": "picked {days}",
        "to_be_picked": "to be picked {days}",
        "no_date": "picking not dated",
        "whose": "Whose, and where",
        "grower_code": "{name} [{code}]",
        "place": "{locality}; country {country}",
        "grown": "grown in {place}",
        "grown_block": "grown in {place}, block {block}",
        "block": "block {block}",
        "own_number": "grower's own number {own}",
        "packages": "Packages and net mass",
        "no_packages": "no list of packages recorded",
        "package_line": "{count} × {kind} of {mass}",
        "loose": "loose {mass}",
        "kind_bale": "bale",
        "kind_box": "box",
        "kind_foil": "foil pack",
        "net_mass": "net {mass}",
        "expected": "expected {mass}",
        "no_mass": "mass not recorded",
        # Figures
        "figures": "Measured",
        "figures_key": "Dark mark: this lot. Grey bar: published range of the cultivar. Ring: one published mean.",
        "published_by": "Published: {sources}.",
        **{quantity.name: quantity.label for quantity in LAB_QUANTITIES},
        **{f"unit_{quantity.name}": quantity.printed_unit for quantity in LAB_QUANTITIES},
        "not_measured": "not measured",
        "awaiting": "awaiting analysis",
        "no_method": "method not stated",
        "other_method": "another method: {note}",
        "as_is": "as is",
        "as_is_from_dry": "as is, reported dry",
        "without_basis": "a ratio, without basis",
        "of_alpha": "share of the alpha acids",
        "method_basis": "{basis}; {method}",
        "stated_sd": "{basis}; stated SD {sd}",
        "drawn_grower": "drawn by the grower",
        "drawn_laboratory": "drawn by the laboratory",
        "drawn_official": "official sample",
        "drawn_buyer": "drawn by a buyer",
        "sampled": "{drawn}, {day}",
        "cored": "{count} packages cored",
        "cored_one": "1 package cored",
        "cored_unknown": "packages cored not stated",
        "sample": "{report}: {sampled}; {cored}",
        "reports_count": "{count} lab reports on file.",
        "reports_one": "1 lab report on file.",
        "reports_none": "No lab report on file.",
        # Oil
        "oil_title": "Oil",
        "oil_shares": "Parts of the oil: {basis}; {method}; {report}",
        "oil_share": "{percent} % {name}",
        "oil_others": "{percent} % {count} others",
        "oil_rest": "{percent} % not named",
        "oil_basis_peak_area": "shares of the peak area",
        "oil_basis_mass": "shares by mass",
        "no_oil_shares": "Parts of the oil: not measured.",
        "oil_dose": "{oil} mL of oil per hL in each 100 g/hL dosed: oil in the hops, not in the beer.",
        # Storage
        "storage": "Storage since picking",
        "spell": "{first} on: {packing}, {temperature}",
        "spell_oxygen": "{line}, residual oxygen {oxygen} %",
        "more_spells": "{line}. Earlier storage on page 2.",
        "today": "By {day}: alpha {alpha} %, an estimate.",
        "today_index": "By {day}: alpha {alpha} %, Hop Storage Index {index}, estimates.",
        "to_come_title": "Storage to come",
        "to_come": "Alpha over the next 18 months, packed as now ({packing}): estimates, 90 % interval, % by weight. "
        "Temperatures: assumption, no source.",
        "storage_frozen": "frozen",
        "storage_cold": "cold",
        "storage_cellar": "cellar",
        "panel": "{storage}, {temperature}",
        "panel_end": "after {months} months {alpha} %",
        "without_wet_hop": "Wet hops are used within a day or two of picking: nothing is reckoned of their storage.",
        "without_announced": "Not picked yet: nothing is reckoned of its storage.",
        "without_no_alpha": "Alpha acids were not measured yet: nothing is reckoned of their loss.",
        "without_not_stored": "How the lot is stored is not recorded: nothing is reckoned of its loss.",
        "storage_method": "Method: {method}.",
        # Doses
        "doses": "For {ibu} IBU, an estimate",
        "dose_boil": "boiled {minutes} min",
        "dose_whirlpool": "whirlpool {minutes} min at {temperature}",
        "dose_metric": "{grams} g/hL",
        "dose_customary": "{ounces} oz/US bbl",
        "dose_terms": "Tinseth's utilization in wort of {plato} °P, per volume of beer, form factor 1.00; whirlpool: "
        "the boil's value slowed as isomerisation is (a derived convention). Alpha {alpha} %, {basis}; the interval "
        "is the alpha's alone.",
        "dose_estimated": "estimated for {day}",
        "dose_analysed": "as sampled {day}",
        "no_doses": "No dose is reckoned: alpha acids were not measured.",
        "low_alpha": "No dose is reckoned: there is hardly any alpha.",
        # Statements
        **STATEMENT_TEXTS,
        **TRADE_TEXTS,
        "cautions": "Cautions",
        "more": "and {count} more, on line",
        # Foot
        "certificate": "Not a certificate of analysis.",
        "certificate_words": "Measured figures are as the named laboratories reported them; all else was computed "
        "from them and is an estimate. No official inspection result.",
        "fingerprint": "Fingerprint of the facts (SHA-256): {fingerprint}",
        "page_of": "{code}  ·  page {page} of {pages}",
        "unprintable": "Signs that this sheet's font lacks are printed by their Unicode number: {numbers}.",
        "scan": "scan for the lot",
        # Page two
        "history": "History of lot {code}",
        "spells": "Storage",
        "spell_until": "{first} to {last}: {packing}, {temperature}",
        "reports": "Lab reports",
        "report_line": "{code}: {laboratory}; {sampled}; {cored}; analysed {day}; {figures}",
        "report_alpha": "alpha {value} %",
        "report_beta": "beta {value} %",
        "report_index": "HSI {value}",
        "report_none": "no acids",
        "report_basis_as_is": "as is",
        "report_basis_dry": "on the dry basis",
        "report_before_pelletizing": "{line}. Of the cones, before pelletizing",
        "report_corrected": "{line}. Corrected by {by}",
        "report_corrects": "{line}. Corrects {old}: {reason}",
        "more_history": "and {count} more, on line: {address}",
    },
)
