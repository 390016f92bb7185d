"""What a lot is, whose, and how much: each mass of the facts is on the sheet in kilograms and pounds."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.facts import replace
from service.market.goods.lots import BLEND, Package, Step
from service.market.processing.composition import LabelPart
from service.sheets.lot_goods import crop_form, cultivar_name, goods, what_it_is, whose_and_where
from service.sheets.words import ENGLISH
from tests.factories import NOW, TODAY
from tests.sheets.made import analysed, announced, facts_of


@given(
    count=st.integers(1, 500),
    net_kg=st.decimals(Decimal("0.5"), Decimal(120), places=3),
    loose_kg=st.decimals(Decimal(0), Decimal(50), places=3),
)
@settings(max_examples=30)
def test_packages_and_what_is_loose_add_up_to_the_net_mass(
    count: int, net_kg: Decimal, loose_kg: Decimal
) -> None:
    mass_kg = count * net_kg + loose_kg
    lot = analysed(mass_kg=mass_kg, packages=(Package(kind="bale", count=count, net_kg=net_kg),))
    net, packages, *loose = goods(lot, ENGLISH)

    assert Decimal(net.split()[1]) == mass_kg
    assert packages.startswith(f"{count} × bale of ")
    assert Decimal(packages.split()[4]) == net_kg
    assert [Decimal(line.split()[1]) for line in loose] == ([loose_kg] if loose_kg else [])


def test_a_pound_is_the_avoirdupois_one() -> None:
    # 0.45359237 kg by definition (NIST Handbook 44, Appendix C).
    assert goods(analysed(mass_kg=Decimal("45.359"), packages=()), ENGLISH)[0] == "net 45.359 kg (100.0 lb)"


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ("whole_cone", "2026 crop, whole cones"),
        ("pellet", "2026 crop, pellets, type 90"),
        ("pellet_enriched", "2026 crop, enriched pellets, type 45"),
        ("wet_hop", "2026 crop, wet hops, undried"),
    ],
)
def test_each_form_has_its_name(form: str, said: str) -> None:
    assert crop_form(analysed(form=form), ENGLISH) == said


def test_a_crop_to_come_has_no_year_yet() -> None:
    assert what_it_is(facts_of(announced()), ENGLISH)[1] == "crop to come, whole cones"


def test_a_grower_without_a_number_of_its_own_has_none_on_the_sheet() -> None:
    facts = facts_of(analysed(own_lot_number=None))

    assert whose_and_where(facts, ENGLISH) == ["Alderbrook Hop Yard [ALDER]", "Alder Brook; country CA"]


def test_a_blend_names_each_cultivar_with_its_percent_and_a_run_its_place() -> None:
    facts = facts_of(analysed(cultivar=BLEND, cultivar_code=None, crop_year=None))
    step = Step(
        lot_code=facts.view.lot.code,
        kind="pelletizing",
        began_on=TODAY,
        done_on=TODAY,
        processor="Weir Street Pellets",
        made_at=NOW,
        made_by="grower:ALDER",
    )
    parts = (
        LabelPart(cultivar="Willamette", crop_year=2026, share_percent=66.66),
        LabelPart(cultivar="Fuggle", crop_year=2025, share_percent=33.34),
    )

    said = what_it_is(replace(facts, view=replace(facts.view, step=step, label_parts=parts)), ENGLISH)

    assert said[:3] == [
        "66.7 % Willamette, 2026 crop",
        "33.3 % Fuggle, 2025 crop",
        "several crops, whole cones",
    ]
    assert said[4] == "pelletizing 25 Nov 2026 at Weir Street Pellets"
    assert cultivar_name(facts.view.lot, ENGLISH) == "Blend"
    assert cultivar_name(analysed(), ENGLISH) != "Blend"
