"""The methods that need nothing but the brew, by name; a brewery's own is made on one of them."""

from service.market.brewing.brews import Brew, accept_brew
from service.market.brewing.kinetic import KINETIC
from service.market.brewing.methods import Method, utilizations_of_brewhouse
from service.market.brewing.tinseth import TINSETH
from service.science.bitterness import ibu

BASE_METHODS = {method.code: method for method in (TINSETH, KINETIC)}
BASE_MODELS = tuple(BASE_METHODS)
# What is taken where nobody names a method, or what a brewery's own stands on.
DEFAULT_MODEL = TINSETH.code
BREWHOUSE = "brewhouse"
METHODS = (*BASE_MODELS, BREWHOUSE)


def base_ibus(brew: Brew, *, base: Method) -> tuple[float, float]:
    """What a base method gives for first wort and boil, and for the whirlpool, of one of a brewery's own brews.

    The losses that the brewery's factor stands for are left out.

    Raises:
        InvalidRequest: an addition lacks its time or its temperature.
        OutOfRange: a figure outside what the method reaches.

    """
    accept_brew(brew, reach=base.reach)
    boil = whirlpool = 0.0
    for addition, used in zip(brew.additions, utilizations_of_brewhouse(brew, base), strict=True):
        if used.percent is None:
            continue
        given = addition.form_factor * ibu(
            utilization_percent=used.percent,
            alpha_percent=addition.alpha.percent,
            mass_g=addition.mass_g,
            volume_l=brew.wort.volume_l,
        )
        if addition.at == "whirlpool":
            whirlpool += given
        else:
            boil += given
    return boil, whirlpool
