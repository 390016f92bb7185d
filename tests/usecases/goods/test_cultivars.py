"""What people ask about cultivars, over real records."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import pytest

from service.errors import AlreadyExists, InvalidRequest, NotAllowed, NotFound, PreconditionStale, TokenNeeded
from service.market.goods.cultivar_views import CultivarView, Position, position_of
from service.market.goods.cultivars import RegionalCultivar
from service.market.people.access import ANYONE, Caller
from service.records.goods import cultivars
from service.records.session import Records
from service.reference.cultivars import all_cultivars
from service.usecases.goods.cultivars import (
    list_cultivars,
    revise_cultivar,
    show_cultivar,
    welcome_cultivar,
)
from tests.factories import TODAY

SPECIALIST = Caller("specialist")
DWARF: dict[str, Any] = {
    "denomination": " Dwarf of the Valley ",
    "synonyms": ["Trial 7"],
    "role": "aroma",
    "source": "Valley trial of 2024",
    "figures": [],
    "availability": [
        {"country": "CA", "status": "public", "source": "the breeder", "checked_on": date(2026, 11, 1)}
    ],
}


def welcome(records: Records, **told: Any) -> CultivarView:
    return records.write(
        lambda session: welcome_cultivar(session, caller=SPECIALIST, asked={**DWARF, **told}, today=TODAY)
    )


def revise(
    records: Records, code: str, caller: Caller = SPECIALIST, seen: Any = lambda _: None, **changes: Any
) -> CultivarView:
    return records.write(
        lambda session: revise_cultivar(
            session, code, caller=caller, changes=changes, today=TODAY, unless_changed=seen
        )
    )


def show(records: Records, code: str) -> CultivarView:
    return records.read(lambda session: show_cultivar(session, code))


def listed(
    records: Records, name: str | None = None, after: Position | None = None, limit: int = 100
) -> tuple[Sequence[CultivarView], tuple[str, ...]]:
    return records.read(lambda session: list_cultivars(session, name=name, after=after, limit=limit))


def countries(view: CultivarView) -> list[tuple[str, str]]:
    return [(known.country, known.status) for known in view.availability]


def test_welcome_cultivar_keeps_it_with_its_findings(records: Records) -> None:
    view = welcome(records)

    assert (view.code, view.denomination) == ("DWARF-OF-THE-VALLEY", "Dwarf of the Valley")
    assert countries(view) == [("CA", "public")]
    assert show(records, "DWARF-OF-THE-VALLEY") == view


@pytest.mark.parametrize(
    ("caller", "refusal"), [(ANYONE, TokenNeeded), (Caller("grower", "ALDER"), NotAllowed)]
)
def test_only_the_specialist_writes(records: Records, caller: Caller, refusal: type[Exception]) -> None:
    with pytest.raises(refusal):
        records.write(lambda session: welcome_cultivar(session, caller=caller, asked=DWARF, today=TODAY))
    with pytest.raises(refusal):
        revise(records, "CASCADE", caller, availability=DWARF["availability"])

    assert records.read(cultivars.search) == []
    assert countries(show(records, "CASCADE")) == [("US", "public")]


def test_a_refused_cultivar_leaves_nothing_behind(records: Records) -> None:
    tomorrow_over = [{**DWARF["availability"][0], "checked_on": date(2026, 11, 27)}]

    with pytest.raises(InvalidRequest, match="in the future"):
        welcome(records, availability=tomorrow_over)
    with pytest.raises(AlreadyExists):
        welcome(records, synonyms=["Fuggle"])

    assert records.read(cultivars.search) == []
    assert records.read(lambda s: cultivars.search_statuses(s, "DWARF-OF-THE-VALLEY")) == []


def test_show_cultivar_knows_no_other_code(records: Records) -> None:
    with pytest.raises(NotFound):
        show(records, "DWARF-OF-THE-VALLEY")
    with pytest.raises(NotFound):
        revise(records, "DWARF-OF-THE-VALLEY", role="dual")


def test_list_cultivars_stands_shipped_and_regional_together_by_denomination(records: Records) -> None:
    welcome(records)

    views, cautions = listed(records)

    names = [view.denomination for view in views]
    assert len(views) == len(all_cultivars()) + 1
    assert names[names.index("Dwarf of the Valley") - 1 :][:3] == [
        "Crystal",
        "Dwarf of the Valley",
        "East Kent Golding",
    ]
    assert cautions == ()


def test_list_cultivars_gives_each_once_over_all_pages_and_its_findings(records: Records) -> None:
    welcome(records)
    revise(records, "FUGGLE", availability=DWARF["availability"])
    paged: list[CultivarView] = []
    after = None
    while page := listed(records, after=after, limit=7)[0]:
        paged += page
        after = position_of(page[-1])

    assert paged == list(listed(records)[0])
    with_findings = {view.code: countries(view) for view in paged if view.found}
    assert with_findings == {
        "DWARF-OF-THE-VALLEY": [("CA", "public")],
        "FUGGLE": [("CA", "public"), ("US", "public")],
    }


def test_list_cultivars_finds_by_denomination_and_synonym(records: Records) -> None:
    welcome(records)

    assert [view.code for view in listed(records, "saazer")[0]] == ["SAAZER"]
    assert [view.code for view in listed(records, "USDA 21092")[0]] == ["CASCADE"]
    assert [view.code for view in listed(records, "trial-7")[0]] == ["DWARF-OF-THE-VALLEY"]


def test_list_cultivars_gives_all_an_ambiguous_name_may_mean_and_says_so(records: Records) -> None:
    views, cautions = listed(records, "Tettnang")

    assert [view.denomination for view in views] == ["Tettnanger", "US Tettnanger"]
    assert len(cautions) == 1
    assert cautions[0].startswith("Tettnang may be Tettnanger or US Tettnanger: ")


def test_list_cultivars_gives_nothing_for_an_unknown_name_but_near_ones(records: Records) -> None:
    assert listed(records, "Cascadd") == (
        [],
        ("No cultivar here goes by the name Cascadd. Near names: Cascade.",),
    )


def test_a_code_that_came_to_be_shipped_shows_what_ships(records: Records) -> None:
    """The region may have had a cultivar before the service shipped it."""
    older = RegionalCultivar(
        code="CASCADE", denomination="Cascade", synonyms=(), role="dual", source="a register"
    )
    records.write(lambda session: cultivars.add(session, older))

    views, _ = listed(records, "Cascade")

    assert [(view.code, view.shipped, view.role) for view in views] == [("CASCADE", True, "aroma")]
    assert show(records, "CASCADE").shipped


def test_revise_cultivar_changes_everything_of_a_regional_one_but_its_code(records: Records) -> None:
    code = welcome(records).code

    changed = revise(records, code, denomination="Giant", synonyms=["Dwarf of the Valley"], role="dual")

    assert (changed.code, changed.denomination, changed.synonyms, changed.role) == (
        code,
        "Giant",
        ("Dwarf of the Valley",),
        "dual",
    )
    assert countries(changed) == [("CA", "public")]
    assert show(records, code) == changed


def test_revise_cultivar_removes_by_null(records: Records) -> None:
    code = welcome(records).code

    changed = revise(records, code, synonyms=None, figures=None, availability=None)

    assert (changed.synonyms, changed.figures, changed.availability) == ((), (), ())


def test_revise_cultivar_refuses_a_name_of_another(records: Records) -> None:
    code = welcome(records).code
    welcome(records, denomination="Giant", synonyms=[])

    with pytest.raises(AlreadyExists, match="Giant is a name of GIANT"):
        revise(records, code, synonyms=["Giant"])

    assert show(records, code).synonyms == ("Trial 7",)


def test_revise_cultivar_says_where_a_shipped_one_may_be_planted(records: Records) -> None:
    changed = revise(records, "CASCADE", availability=DWARF["availability"])

    assert countries(changed) == [("CA", "public"), ("US", "public")]
    assert countries(revise(records, "CASCADE", availability=[])) == [("US", "public")]


def test_revise_cultivar_never_changes_what_is_published(records: Records) -> None:
    before = show(records, "CASCADE")

    with pytest.raises(NotAllowed) as refusal:
        revise(records, "CASCADE", role="bittering", availability=DWARF["availability"])

    assert refusal.value.facts == {"fields": ["role"]}
    assert show(records, "CASCADE") == before


def test_revise_cultivar_refuses_a_finding_of_the_future(records: Records) -> None:
    tomorrow_over = [{**DWARF["availability"][0], "checked_on": date(2026, 11, 27)}]

    with pytest.raises(InvalidRequest, match="in the future"):
        revise(records, "CASCADE", availability=tomorrow_over)


def test_revise_cultivar_changes_nothing_when_the_record_is_not_the_one_that_was_read(
    records: Records,
) -> None:
    def stale(view: CultivarView) -> None:
        raise PreconditionStale(f"{view.code} changed")

    with pytest.raises(PreconditionStale, match="CASCADE changed"):
        revise(records, "CASCADE", seen=stale, availability=DWARF["availability"])

    assert countries(show(records, "CASCADE")) == [("US", "public")]
