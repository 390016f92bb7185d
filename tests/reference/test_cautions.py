"""Cautions: each with words, mark and source."""

import pytest

from service.errors import NotFound
from service.reference.cautions import all_cautions, get_caution


def test_every_code_stands_once():
    codes = [caution.code for caution in all_cautions()]

    assert len(codes) == len(set(codes))


@pytest.mark.parametrize(
    "code",
    [
        "hop_creep",
        "dogs",
        "inert_gas",
        "mould",
        "moisture_low",
        "moisture_high",
        "bale_moisture",
        "self_heating",
        "dust",
        "residues",
        "harvest_interval",
        "plant_rights",
        "aged_hops",
        "estimate",
        "not_a_certificate",
    ],
)
def test_the_dangers_of_the_trade_are_told(code):
    caution = get_caution(code)

    assert caution.code == code
    assert caution.words.endswith(".")


# Kirkpatrick & Shellhammer 2018, J. Agric. Food Chem.: 2 °P in 40 days, 4.75 volumes of CO2, 1.3 % alcohol.
def test_hop_creep_tells_what_was_measured():
    words = get_caution("hop_creep").words

    assert all(figure in words for figure in ("2 °P in 40 days", "4.75 volumes", "1.3 % alcohol"))


# Vent & Rybka, Agronomy Research.
def test_bale_moisture_tells_the_classes():
    words = get_caution("bale_moisture").words

    assert all(figure in words for figure in ("9 to 10 %", "28 %", "11 to 12 %", "12.3 %", "13 %"))


@pytest.mark.parametrize(
    "code", ["residues", "harvest_interval", "inert_gas", "plant_rights", "self_heating"]
)
def test_a_caution_about_law_leaves_the_decision_to_it(code):
    words = get_caution(code).words

    assert any(who in words for who in ("label", "local law", "local fire code", "plant variety office"))


def test_get_caution_refuses_an_unknown_code():
    with pytest.raises(NotFound) as caught:
        get_caution("dragons")
    assert caught.value.facts == {"code": "dragons"}
