"""How much each part of the score counts: house figures for each role, and what a request sets itself.

All weights are house figures; assumption, no source. The parts beside `profile` weigh 1 together; it counts only in a
request that wishes for an oil profile, by a tenth or, like oil, by a fifth.
"""

from collections.abc import Mapping

WEIGHTS: Mapping[str, Mapping[str, float]] = {
    "aroma": {
        "freshness": 0.25,
        "oil": 0.20,
        "price": 0.15,
        "distance": 0.10,
        "evidence": 0.10,
        "cultivar": 0.10,
        "role": 0.10,
        "profile": 0.20,
    },
    "bittering": {
        "freshness": 0.10,
        "oil": 0.0,
        "price": 0.40,
        "distance": 0.15,
        "evidence": 0.15,
        "cultivar": 0.10,
        "role": 0.10,
        "profile": 0.10,
    },
    "dual": {
        "freshness": 0.20,
        "oil": 0.10,
        "price": 0.25,
        "distance": 0.15,
        "evidence": 0.10,
        "cultivar": 0.10,
        "role": 0.10,
        "profile": 0.10,
    },
}


def chosen_weights(
    role: str, own: Mapping[str, float], *, names_cultivars: bool, names_oil: bool
) -> dict[str, float]:
    """The weights of the parts that can count, before they are brought to 1: a wish counts only where one is named."""
    chosen = {**WEIGHTS[role], **own}
    if not names_cultivars:
        del chosen["cultivar"]
    if not names_oil:
        del chosen["profile"]
    return chosen
