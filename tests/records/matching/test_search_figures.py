"""Finding lots whose figures older sums kept."""

from sqlalchemy.orm import Session

from service.market.matching.search import FIGURES_VERSION
from service.records.matching.search_figures import outdated
from tests.factories import LotRowFactory, PartyRowFactory


def test_listed_lots_without_this_version_are_found_in_their_order(session: Session) -> None:
    grower = PartyRowFactory()
    versions = (None, FIGURES_VERSION, FIGURES_VERSION - 1)
    codes = [LotRowFactory(grower_id=grower.id, search_version=version).code for version in versions]
    LotRowFactory(grower_id=grower.id, state="draft", search_version=None)

    assert outdated(session, limit=10) == sorted([codes[0], codes[2]])
    assert len(outdated(session, limit=1)) == 1
