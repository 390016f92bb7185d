"""Who may act for whom."""

import pytest

from service.errors import InvalidRequest, NotAllowed, TokenNeeded
from service.market.people.access import ANYONE, Caller, acting_party, require_known, require_specialist

GROWER, BREWERY, SPECIALIST = Caller("grower", "ALDER"), Caller("brewery", "FINCH"), Caller("specialist")


def test_a_caller_is_written_by_role_and_code() -> None:
    assert (GROWER.name, SPECIALIST.name, ANYONE.name) == ("grower:ALDER", "specialist", "anyone")


def test_the_specialist_acts_for_everybody_and_a_party_for_itself() -> None:
    assert SPECIALIST.acts_for("grower", "ALDER")
    assert GROWER.acts_for("grower", "ALDER")
    assert not GROWER.acts_for("grower", "ROWAN")
    assert not BREWERY.acts_for("grower", "FINCH")


def test_strangers_are_asked_for_a_token() -> None:
    require_known(GROWER)
    require_specialist(SPECIALIST)
    with pytest.raises(TokenNeeded):
        require_known(ANYONE)
    with pytest.raises(TokenNeeded):
        require_specialist(ANYONE)
    with pytest.raises(NotAllowed):
        require_specialist(GROWER)


def test_a_party_may_name_itself_or_nobody() -> None:
    assert acting_party(GROWER, kind="grower", named=None) == "ALDER"
    assert acting_party(GROWER, kind="grower", named="ALDER") == "ALDER"
    assert acting_party(SPECIALIST, kind="grower", named="ROWAN") == "ROWAN"
    with pytest.raises(NotAllowed):
        acting_party(GROWER, kind="grower", named="ROWAN")
    with pytest.raises(NotAllowed):
        acting_party(BREWERY, kind="grower", named=None)
    with pytest.raises(InvalidRequest):
        acting_party(SPECIALIST, kind="grower", named=None)
