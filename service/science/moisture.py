"""A value at another moisture, the dry basis, and the weights of a kiln charge.

Moisture is on the wet basis throughout: mass of water over mass of the hops as they are.
"""

from service.errors import OutOfRange
from service.science.checks import between

WETTEST_PERCENT = 99.0
LARGEST_MASS = 1e9


def percent_at_moisture(
    *, value_percent: float, sample_moisture_percent: float, wanted_moisture_percent: float
) -> float:
    """Restate a mass percentage at another moisture content.

    Drying takes water and leaves the rest, so the dry matter that carries the value
    is conserved: x2 = x1 (100 - w2)/(100 - w1). Never convert twice: keep the basis beside the value.

    Args:
        value_percent: content of the sample as measured, not over its dry matter. [%] 0..100
        sample_moisture_percent: moisture of that sample; 0 if the value is on the dry basis. [%] 0..99
        wanted_moisture_percent: moisture to restate at; 0 is the dry basis. [%] 0..99

    Returns:
        The content at the wanted moisture. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the value exceeds the dry matter.

    Source: mass balance; no empirical constant.

    >>> percent_at_moisture(
    ...     value_percent=12.0, sample_moisture_percent=8.0, wanted_moisture_percent=10.0)
    11.739

    """
    between("sample_moisture_percent", sample_moisture_percent, 0, WETTEST_PERCENT, "%")
    between("wanted_moisture_percent", wanted_moisture_percent, 0, WETTEST_PERCENT, "%")
    between("value_percent", value_percent, 0, 100 - sample_moisture_percent, "%")
    return value_percent * ((100 - wanted_moisture_percent) / (100 - sample_moisture_percent))


def dry_percent_from_as_is(*, as_is_percent: float, moisture_percent: float) -> float:
    """Restate a content as a percentage of the dry matter.

    c_dry = c/(1 - w/100).

    Args:
        as_is_percent: content of the sample as it is, not over its dry matter. [%] 0..100
        moisture_percent: moisture of that sample. [%] 0..99

    Returns:
        The content of the dry matter. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the content exceeds the dry matter.

    Source: mass balance; no empirical constant.

    >>> dry_percent_from_as_is(as_is_percent=12.0, moisture_percent=9.0)
    13.1868

    """
    return percent_at_moisture(
        value_percent=as_is_percent, sample_moisture_percent=moisture_percent, wanted_moisture_percent=0
    )


def as_is_percent_from_dry(*, dry_percent: float, moisture_percent: float) -> float:
    """Restate a percentage of the dry matter as a content of the hops as they are.

    c = c_dry (1 - w/100).

    Args:
        dry_percent: content of the dry matter. [%] 0..100
        moisture_percent: moisture to restate at. [%] 0..99

    Returns:
        The content as is. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: mass balance; no empirical constant.

    >>> as_is_percent_from_dry(dry_percent=13.1868, moisture_percent=9.0)
    12.000

    """
    return percent_at_moisture(
        value_percent=dry_percent, sample_moisture_percent=0, wanted_moisture_percent=moisture_percent
    )


def dry_matter_percent(*, tare_g: float, green_g: float, dry_g: float) -> float:
    """Give the dry matter of a sample weighed in its dish before and after drying to constant weight.

    DM = 100 (dry - tare)/(green - tare); the moisture is 100 less that.

    Args:
        tare_g: the empty dish. [g] 0..1e9
        green_g: dish and green sample, over the dish. [g] 0..1e9
        dry_g: dish and dried sample, over the dish and not over the green. [g] 0..1e9

    Returns:
        The dry matter. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or nothing was left after drying.

    Source: Oregon Hop Commission dry-matter method; mass balance.

    >>> dry_matter_percent(tare_g=12.0, green_g=112.0, dry_g=35.0)
    23.0

    """
    between("tare_g", tare_g, 0, LARGEST_MASS, "g")
    between("green_g", green_g, tare_g, LARGEST_MASS, "g")
    between("dry_g", dry_g, tare_g, green_g, "g")
    if dry_g <= tare_g:
        raise OutOfRange(
            f"dry_g {dry_g:g} g leaves no hops over the dish of {tare_g:g} g",
            name="dry_g",
            value=dry_g,
            low=tare_g,
            high=green_g,
            unit="g",
        )
    return 100 * (dry_g - tare_g) / (green_g - tare_g)


def wet_dry_ratio(*, green_moisture_percent: float, dry_moisture_percent: float) -> float:
    """Give how many times its dried weight a green charge weighs.

    ratio = (1 - Mt)/(1 - M0).

    Args:
        green_moisture_percent: moisture at picking, over `dry_moisture_percent`. [%] 0..99
        dry_moisture_percent: moisture after drying. [%] 0..99

    Returns:
        Wet weight over dry weight. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the dried hops are not drier.

    Source: mass balance; no empirical constant.

    >>> wet_dry_ratio(green_moisture_percent=77, dry_moisture_percent=8)
    4.0

    """
    _check_drying(green_moisture_percent, dry_moisture_percent)
    return (100 - dry_moisture_percent) / (100 - green_moisture_percent)


def dried_weight_kg(*, green_kg: float, green_moisture_percent: float, dry_moisture_percent: float) -> float:
    """Give what a green charge weighs when it has reached a moisture.

    W_t = W_0 (1 - M0)/(1 - Mt).

    Args:
        green_kg: the charge as picked. [kg] 0..1e9
        green_moisture_percent: its moisture, over `dry_moisture_percent`. [%] 0..99
        dry_moisture_percent: moisture to dry to. [%] 0..99

    Returns:
        The dried weight. [kg]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the dried hops are not drier.

    Source: mass balance; no empirical constant.

    >>> dried_weight_kg(green_kg=100, green_moisture_percent=80, dry_moisture_percent=10)
    22.222

    """
    between("green_kg", green_kg, 0, LARGEST_MASS, "kg")
    return green_kg / wet_dry_ratio(
        green_moisture_percent=green_moisture_percent, dry_moisture_percent=dry_moisture_percent
    )


def bag_reading_g(
    *, green_g: float, green_moisture_percent: float, dry_moisture_percent: float, bag_g: float
) -> float:
    """Give what the weighing bag in the kiln reads when its hops have reached a moisture.

    reading = W_0 (1 - M0)/(1 - Mt) + bag.

    Args:
        green_g: green hops put into the bag. [g] 0..1e9
        green_moisture_percent: their moisture, over `dry_moisture_percent`. [%] 0..99
        dry_moisture_percent: moisture to dry to. [%] 0..99
        bag_g: the empty bag. [g] 0..1e9

    Returns:
        What the scale shows for bag and hops. [g]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the dried hops are not drier.

    Source: mass balance; no empirical constant.

    >>> bag_reading_g(green_g=500, green_moisture_percent=78, dry_moisture_percent=9, bag_g=42)
    162.88

    """
    between("green_g", green_g, 0, LARGEST_MASS, "g")
    between("bag_g", bag_g, 0, LARGEST_MASS, "g")
    ratio = wet_dry_ratio(
        green_moisture_percent=green_moisture_percent, dry_moisture_percent=dry_moisture_percent
    )
    return green_g / ratio + bag_g


def moisture_now_percent(
    *, green_g: float, green_moisture_percent: float, bag_g: float, reading_g: float
) -> float:
    """Give the present moisture of the hops in a weighing bag.

    M_now = 1 - W_0 (1 - M0)/W_now.

    Args:
        green_g: green hops put into the bag. [g] 0..1e9
        green_moisture_percent: their moisture. [%] 0..99
        bag_g: the empty bag. [g] 0..1e9
        reading_g: what the scale shows now for bag and hops; from bag and dry matter to the first weight.
            [g] 0..2e9

    Returns:
        The moisture now. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the reading is under the dry matter.

    Source: mass balance; no empirical constant.

    >>> moisture_now_percent(green_g=500, green_moisture_percent=78, bag_g=42, reading_g=175)
    17.29

    """
    between("green_g", green_g, 1e-6, LARGEST_MASS, "g")
    between("green_moisture_percent", green_moisture_percent, 0, WETTEST_PERCENT, "%")
    between("bag_g", bag_g, 0, LARGEST_MASS, "g")
    dry_matter_g = green_g * (100 - green_moisture_percent) / 100
    between("reading_g", reading_g, bag_g + dry_matter_g, bag_g + green_g, "g")
    return 100 * (1 - dry_matter_g / (reading_g - bag_g))


def _check_drying(green_moisture_percent: float, dry_moisture_percent: float) -> None:
    between("green_moisture_percent", green_moisture_percent, 0, WETTEST_PERCENT, "%")
    between("dry_moisture_percent", dry_moisture_percent, 0, WETTEST_PERCENT, "%")
    if dry_moisture_percent >= green_moisture_percent:
        raise OutOfRange(
            f"dry_moisture_percent {dry_moisture_percent:g} % is not drier than the green hops'"
            f" {green_moisture_percent:g} %",
            name="dry_moisture_percent",
            value=dry_moisture_percent,
            low=0,
            high=green_moisture_percent,
            unit="%",
        )
