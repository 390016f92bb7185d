"""Names fold, so that a search finds them however they are written."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.reference.names import fold, folds


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Mt. Hood", "mount hood"),
        ("Mt Hood", "MOUNT-HOOD"),
        ("Brewer's Gold", "Brewers Gold"),
        ("Žatecký poloraný červeňák", "zatecky polorany cervenak"),
        ("W415-90", "w 415 90"),
        ("Lubelski-Puławy", "lubelski pulawy"),
    ],
)
def test_fold_does_not_count_case_accents_and_punctuation(one, other):
    assert fold(one) == fold(other)


def test_folds_take_an_umlaut_as_plain_and_as_spelt_out():
    assert folds("Hallertauer Mittelfrüh") == ("hallertauermittelfruh", "hallertauermittelfrueh")


def test_folds_take_a_decomposed_umlaut_like_a_composed_one():
    assert folds("fru\u0308h") == folds("früh")


@given(st.text(max_size=40))
def test_fold_changes_nothing_the_second_time_but_the_abbreviation(name):
    once = fold(name)

    assert fold(once) == once or once == "mt"


@given(st.text(alphabet=" .,-'’_/()", max_size=20))
def test_fold_of_punctuation_alone_is_empty(name):
    assert fold(name) == ""
