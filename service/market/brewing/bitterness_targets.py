"""A bitterness that is wanted in a volume of beer, and the alpha acids it takes."""

from collections.abc import Iterator

from service.errors import OutOfRange
from service.facts import Fact
from service.market.brewing.brews import HOT
from service.science.bitterness import (
    ibu,
    tinseth_utilization_percent,
    tinseth_whirlpool_utilization_percent,
)


class BitternessTarget(Fact, frozen=True, kw_only=True):
    """A bitterness wanted in a volume of beer, and how the hops will be used."""

    ibu: float
    volume_l: float
    gravity_sg: float
    at: str = "boil"
    minutes: float = 60.0
    temperature_c: float | None = None

    @property
    def alpha_kg(self) -> float:
        """The alpha acids it takes, by the published utilization; first wort counts as boil."""
        if self.at == "whirlpool" and self.temperature_c is not None:
            used_percent = tinseth_whirlpool_utilization_percent(
                gravity_sg=self.gravity_sg, minutes=self.minutes, temperature_c=self.temperature_c
            )
        else:
            used_percent = tinseth_utilization_percent(gravity_sg=self.gravity_sg, minutes=self.minutes)
        per_gram = ibu(
            utilization_percent=used_percent, alpha_percent=100.0, mass_g=1.0, volume_l=self.volume_l
        )
        return self.ibu / per_gram / 1000


def target_faults(target: BitternessTarget, where: str) -> Iterator[tuple[str, str]]:
    """What cannot be of a bitterness that is wanted, each with where it stands."""
    if target.at not in HOT:
        yield f"{where}/at", f"no bitterness can be estimated for hops in the {target.at.replace('_', ' ')}"
        return
    if (target.at == "whirlpool") != (target.temperature_c is not None):
        yield f"{where}/temperature_c", "a whirlpool addition has its temperature, the others boil"
        return
    if target.minutes <= 0:
        yield f"{where}/minutes", "hops that are not heated give no bitterness to reckon with"
        return
    try:
        needed_kg = target.alpha_kg
    except OutOfRange as refusal:
        yield f"{where}/{refusal.facts.get('name', '')}", refusal.detail
        return
    if not 0 < needed_kg < 10_000_000:
        yield f"{where}/ibu", f"that takes {needed_kg:.3g} kg of alpha acids, which nobody has"
