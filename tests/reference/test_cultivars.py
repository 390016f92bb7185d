"""A cultivar is found by any of its names, and a vague name picks nobody."""

import pytest

from service.reference.cultivars import all_cultivars, ambiguity, ambiguous_names, find_cultivar, suggest

DENOMINATIONS = {cultivar.denomination for cultivar in all_cultivars()}


@pytest.mark.parametrize("cultivar", all_cultivars(), ids=lambda cultivar: cultivar.code)
def test_find_cultivar_finds_the_denomination_and_every_synonym(cultivar):
    names = (cultivar.denomination, *cultivar.synonyms)

    assert {name: find_cultivar(name) for name in names} == dict.fromkeys(names, cultivar)


@pytest.mark.parametrize(
    ("name", "denomination"),
    [
        ("SAAZER", "Saazer"),
        ("saaz", "Saazer"),
        ("zatecky polorany cervenak", "Saazer"),
        ("Mittelfrüh", "Hallertauer Mittelfrueh"),
        ("hallertauer mittelfruh", "Hallertauer Mittelfrueh"),
        ("Mount Hood", "Mt. Hood"),
        ("mt hood", "Mt. Hood"),
        ("Savinjski golding", "Savinja Golding"),
        ("styrian-golding", "Savinja Golding"),
        ("Elsässer", "Strisselspalt"),
        ("  brewers   gold ", "Brewer's Gold"),
        ("magnum", "Hallertauer Magnum"),
        ("Tettnanger", "Tettnanger"),
        ("US Tettnanger", "US Tettnanger"),
    ],
)
def test_find_cultivar_does_not_count_case_accents_and_punctuation(name, denomination):
    assert find_cultivar(name).denomination == denomination


@pytest.mark.parametrize("name", ["", "  ", "...", "Unheard Of", "casc"])
def test_find_cultivar_gives_nobody_for_a_name_that_is_none(name):
    assert find_cultivar(name) is None


@pytest.mark.parametrize("name", ["Hallertau", "HALLERTAUER", "Styrian", "Goldings", "tettnang"])
def test_find_cultivar_picks_nobody_for_a_name_that_fits_several(name):
    assert find_cultivar(name) is None
    assert len(ambiguity(name).candidates) > 1


def test_a_name_of_one_cultivar_is_not_ambiguous():
    assert [name for name in DENOMINATIONS if ambiguity(name)] == []


def test_every_candidate_of_an_ambiguous_name_is_in_the_books():
    candidates = {candidate for vague in ambiguous_names() for candidate in vague.candidates}

    assert candidates - DENOMINATIONS == set()


@pytest.mark.parametrize(
    ("name", "suggested"),
    [
        ("Cascad", ("Cascade",)),
        ("Willamete", ("Willamette",)),
        ("Sazer", ("Saazer",)),
        ("Nuget", ("Nugget",)),
        ("Hallertau", ("Hallertauer Mittelfrueh", "Hallertauer Magnum", "Hallertauer Tradition")),
        ("", ()),
        ("qqqqqq", ()),
    ],
)
def test_suggest_gives_the_denominations_that_may_be_meant(name, suggested):
    assert suggest(name) == suggested
