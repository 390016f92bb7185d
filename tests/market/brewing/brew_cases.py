"""Brews for tests of the market: a test says only what it is about."""

from typing import Any

from service.market.brewing.brews import Addition, Alpha, Brew, Kettle, Recoveries, Wort
from service.science.brewhouse import BrewhouseFit
from service.science.uncertainty import HalfWidths

SCATTER = {"measurement": HalfWidths(0.1, 0.1)}


def an_alpha(percent: float = 10.0, **told: Any) -> Alpha:
    """Alpha of hops that nobody named."""
    return Alpha(percent=percent, **{"scatter": SCATTER, **told})


def an_addition(alpha_percent: float = 10.0, **told: Any) -> Addition:
    """An hour of boil with 30 g."""
    alpha = told.pop("alpha", None) or an_alpha(alpha_percent)
    return Addition(alpha=alpha, **{"mass_g": 30.0, "at": "boil", "minutes": 60.0, **told})


def a_brew(*additions: Addition, **told: Any) -> Brew:
    """Twenty litres at 1.050; whatever is told beside kettle and recoveries belongs to the wort."""
    kettle, recoveries = told.pop("kettle", Kettle()), told.pop("recoveries", Recoveries())
    return Brew(
        wort=Wort(**{"volume_l": 20.0, "gravity_sg": 1.050, **told}),
        additions=additions or (an_addition(),),
        kettle=kettle,
        recoveries=recoveries,
    )


def a_fit(**told: Any) -> BrewhouseFit:
    """Six brews that gave 1.2 times the boil and 0.8 times the whirlpool of the base method."""
    return BrewhouseFit(
        **{
            "base_model": "tinseth",
            "alpha_basis": "estimated",
            "factor": 1.2,
            "whirlpool_factor": 0.8,
            "has_own_whirlpool_factor": True,
            "brews": 6,
            "left_out_error_log": 0.05,
            "sd_log": 0.05,
            "doubt": (0.2, -0.05, 0.3),
            **told,
        }
    )
