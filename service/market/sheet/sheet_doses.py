"""How much of a lot gives 10 IBU: the doses that a spec sheet prints."""

from service.facts import Fact
from service.science.bitterness import (
    LEAST_PERCENT,
    mass_g_for_ibu,
    sg_from_plato,
    tinseth_utilization_percent,
    tinseth_whirlpool_utilization_percent,
)
from service.science.customary_doses import oz_per_us_barrel_from_g_per_hl
from service.science.uncertainty import Estimate

WANTED_IBU = 10.0
WORT_PLATO = 12.0
# The doses printed: where, minutes, temperature.
DOSED = (("boil", 60.0, None), ("boil", 15.0, None), ("whirlpool", 20.0, 80.0))


class Dose(Fact, frozen=True, kw_only=True):
    """How much of the lot gives 10 IBU; the interval is that of the alpha alone."""

    at: str
    minutes: float
    temperature_c: float | None
    utilization_percent: float
    g_per_hl: Estimate
    oz_per_us_barrel: Estimate


def doses_for(alpha: Estimate) -> tuple[Dose, ...]:
    """How much gives 10 IBU in wort of 12 °P, at each place of `DOSED`; nothing where there is no alpha to speak of.

    >>> doses_for(Estimate(5.0, 4.0, 6.0))[0].g_per_hl.estimate
    85.5

    """
    if alpha.low < LEAST_PERCENT:
        return ()
    return tuple(_dose(at, minutes, temperature_c, alpha) for at, minutes, temperature_c in DOSED)


def _dose(at: str, minutes: float, temperature_c: float | None, alpha: Estimate) -> Dose:
    gravity_sg = sg_from_plato(gravity_plato=WORT_PLATO)
    used = (
        tinseth_utilization_percent(gravity_sg=gravity_sg, minutes=minutes)
        if temperature_c is None
        else tinseth_whirlpool_utilization_percent(
            gravity_sg=gravity_sg, minutes=minutes, temperature_c=temperature_c
        )
    )

    def grams(alpha_percent: float) -> float:
        return mass_g_for_ibu(
            wanted_ibu=WANTED_IBU, utilization_percent=used, alpha_percent=alpha_percent, volume_l=100.0
        )

    # The less alpha, the more hops: the ends change places.
    metric = [grams(alpha.estimate), grams(alpha.high), grams(alpha.low)]
    customary = [oz_per_us_barrel_from_g_per_hl(dose_g_per_hl=g) for g in metric]
    return Dose(
        at=at,
        minutes=minutes,
        temperature_c=temperature_c,
        utilization_percent=used,
        g_per_hl=Estimate(metric[0], metric[1], metric[2], alpha.confidence),
        oz_per_us_barrel=Estimate(customary[0], customary[1], customary[2], alpha.confidence),
    )
