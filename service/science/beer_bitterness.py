"""Bitterness measured in beer, and when an estimate of it should be doubted."""

from service.science.checks import between

# BU = 50 A275 of acidified beer in iso-octane: ASBC Beer-23 A, MEBAK B-400.17.110.
BU_PER_ABSORBANCE = 50.0
# Pure iso-alpha acids: iso = 69.68 A275; BU is 5/7 of iso and its like: Peacock, quoted by J.-P. Hosom.
ISO_MG_PER_L_PER_ABSORBANCE = 69.68
BU_PER_ISO_MG_PER_L = 5 / 7

# Alpha acids dissolve to about 90 mg/L at pH 5.2 (Malowicki), about 200 (Maule), 250 (Hough), 300 in boiling
# wort (Spetsig), quoted but for the first; the warning stands at the second figure.
SOLUBILITY_WARNING_MG_PER_L = 200.0
ALPHA_SOLUBILITY_MG_PER_L = 90.0
# No primary source holds for a ceiling of 100; above it an estimate is called unlikely.
UNLIKELY_IBU = 100.0

AGED_HOPS_NOTE = (
    "In aged hops other bitter substances stand in for lost alpha acids: "
    "the measured BU of a beer may fall less than the alpha acids of its hops did."
)


def bu_from_absorbance(*, absorbance_275nm: float) -> float:
    """Give the bitterness units of a beer from its absorbance.

    BU = 50 A275, of the acidified beer's iso-octane extract.

    Args:
        absorbance_275nm: absorbance at 275 nm in a 1 cm cell. [-] 0..5

    Returns:
        The bitterness units. [BU]

    Raises:
        OutOfRange: the absorbance lies outside the range beside it.

    Source: ASBC Beer-23 A.

    >>> bu_from_absorbance(absorbance_275nm=0.622)
    31.1

    """
    between("absorbance_275nm", absorbance_275nm, 0, 5, "")
    return BU_PER_ABSORBANCE * absorbance_275nm


def absorbance_from_iso(*, iso_mg_per_l: float) -> float:
    """Give the absorbance that pure iso-alpha acids have.

    A275 = iso/69.68.

    Args:
        iso_mg_per_l: iso-alpha acids in beer. [mg/L] 0..300

    Returns:
        The absorbance at 275 nm, 1 cm cell, after the extraction of the BU method. [-]

    Raises:
        OutOfRange: the concentration lies outside the range beside it.

    Source: Peacock, quoted by J.-P. Hosom.

    >>> absorbance_from_iso(iso_mg_per_l=30)
    0.4305

    """
    between("iso_mg_per_l", iso_mg_per_l, 0, 300, "mg/L")
    return iso_mg_per_l / ISO_MG_PER_L_PER_ABSORBANCE


def bu_from_iso(*, iso_mg_per_l: float) -> float:
    """Give the bitterness units that iso-alpha acids alone show.

    BU = 5/7 iso; the same author's absorbances give 0.718, so it holds to about 3 %.

    Args:
        iso_mg_per_l: iso-alpha acids in beer. [mg/L] 0..300

    Returns:
        The bitterness units. [BU]

    Raises:
        OutOfRange: the concentration lies outside the range beside it.

    Source: Peacock, quoted by J.-P. Hosom.

    >>> bu_from_iso(iso_mg_per_l=10)
    7.14

    """
    between("iso_mg_per_l", iso_mg_per_l, 0, 300, "mg/L")
    return BU_PER_ISO_MG_PER_L * iso_mg_per_l


def alpha_added_mg_per_l(*, alpha_percent: float, mass_g: float, volume_l: float) -> float:
    """Give the alpha acids that an addition brings to a litre of wort.

    mg/L = 10 alpha m/V; sums over additions.

    Args:
        alpha_percent: alpha acids in the hops as they are dosed. [%] 0..100
        mass_g: mass of hops. [g] 0..10000000
        volume_l: volume of wort. [L] 0.1..10000000

    Returns:
        The alpha acids added. [mg/L]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: arithmetic; G. Tinseth, hop utilisation article, has 7490 mg/L for 1 oz in 1 US gal.

    >>> alpha_added_mg_per_l(alpha_percent=100, mass_g=28.349523125, volume_l=3.785411784)
    7489.15

    """
    between("alpha_percent", alpha_percent, 0, 100, "%")
    between("mass_g", mass_g, 0, 10_000_000, "g")
    between("volume_l", volume_l, 0.1, 10_000_000, "L")
    return 10 * alpha_percent * mass_g / volume_l


def is_above_solubility(*, alpha_added_mg_per_l: float) -> bool:
    """Tell whether so much alpha acid was added that some may not dissolve.

    Over 200 mg/L, the second lowest of the published figures (90, 200, 250, 300).

    Args:
        alpha_added_mg_per_l: alpha acids added in all. [mg/L] 0..1000000000

    Returns:
        True when a warning is due. [-]

    Raises:
        OutOfRange: the concentration lies outside the range beside it.

    Source: Maule, quoted; Malowicki, thesis, Oregon State University, has 90 mg/L at pH 5.2.

    >>> is_above_solubility(alpha_added_mg_per_l=250)
    True

    """
    between("alpha_added_mg_per_l", alpha_added_mg_per_l, 0, 1e9, "mg/L")
    return alpha_added_mg_per_l > SOLUBILITY_WARNING_MG_PER_L


def is_unlikely(*, estimated_ibu: float) -> bool:
    """Tell whether an estimated bitterness is unlikely to be reached.

    Over 100 IBU; a rule of the trade without a primary source.

    Args:
        estimated_ibu: estimated bitterness of the beer. [IBU] 0..1000000000

    Returns:
        True when the estimate should be called unlikely. [-]

    Raises:
        OutOfRange: the bitterness lies outside the range beside it.

    Source: common practice, no source.

    >>> is_unlikely(estimated_ibu=120)
    True

    """
    between("estimated_ibu", estimated_ibu, 0, 1e9, "IBU")
    return estimated_ibu > UNLIKELY_IBU
