"""What alpha by HPLC may stand behind a lead conductance value: offered beside it, never put in its place."""

from service.errors import Refusal
from service.facts import Fact
from service.market.goods.lab_reports import Figures
from service.market.storage.storage_rates import sd_log
from service.reference.methods import get_method
from service.science.lab import alpha_percent_from_lead_conductance
from service.science.uncertainty import Estimate

# The one lead method that was compared with HPLC in print; for EBC 7.4 nothing was, so nothing is offered.
COMPARED = "ebc_7_5"
SOURCE = "Kvasny Prumysl 63 (2017) 241-247, doi 10.18832/kp201725; the line between its two ranges is derived"


class LeadCorrection(Fact, frozen=True, kw_only=True):
    """An offer: the alpha that HPLC may find in the same sample; None where it is refused, and `words` say why."""

    report: str
    method: str
    as_reported_percent: float
    alpha_percent: Estimate | None
    words: str
    source: str = SOURCE


def lead_correction(figures: Figures, *, form: str) -> LeadCorrection | None:
    """The correction offered for a lot whose alpha is a lead value of EBC 7.5; None for every other method."""
    alpha, index = figures.alpha_percent, figures.hop_storage_index
    if alpha is None or alpha.method != COMPARED:
        return None
    of_sample = index.value if index is not None and index.report == alpha.report else None
    name = get_method(COMPARED, group="alpha_beta").name
    offered = None
    try:
        estimate = alpha_percent_from_lead_conductance(
            method=COMPARED,
            lead_alpha_percent=alpha.value,
            hop_storage_index=of_sample,
            lab_sd_log=sd_log(alpha, name="alpha_percent", form=form),
        )
    except Refusal as refusal:
        words = f"No correction of the lead value is offered: {refusal.detail}."
    else:
        offered = estimate
        words = (
            f"{name} also answers to substances other than alpha. By its Hop Storage Index of {of_sample:g} HPLC may "
            f"find {estimate.estimate:.2f} % ({estimate.low:.2f} to {estimate.high:.2f} %) where it reads "
            f"{alpha.value:g} %. This is an offer: no figure, search or dose of this service counts with it."
        )
    return LeadCorrection(
        report=alpha.report,
        method=COMPARED,
        as_reported_percent=alpha.value,
        alpha_percent=offered,
        words=words,
    )
