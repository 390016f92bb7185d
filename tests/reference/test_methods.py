"""Laboratory methods: groups, families, and how far laboratories differ."""

import pytest

from service.errors import NotFound
from service.reference.methods import GROUPS, all_methods, find_method, get_method, methods_of


def test_every_group_has_methods_and_each_code_stands_once_in_it():
    codes = {group: [method.code for method in methods_of(group)] for group in GROUPS}

    assert codes == {
        "alpha_beta": ["asbc_hops_6", "asbc_hops_14", "ebc_7_4", "ebc_7_5", "ebc_7_7", "other"],
        "cohumulone": ["asbc_hops_14", "ebc_7_7", "other"],
        "hop_storage_index": ["asbc_hops_12", "ebc_7_13", "asbc_hops_6", "other"],
        "moisture": ["asbc_hops_4", "ebc_7_2", "other"],
        "oil": ["asbc_hops_13", "other"],
        "oil_shares": ["gas_chromatography_area", "mebak_r_300_07_151", "other"],
    }


def test_alpha_methods_belong_to_their_family():
    assert {method.code: method.family for method in methods_of("alpha_beta")} == {
        "asbc_hops_6": "spectrophotometric",
        "asbc_hops_14": "hplc",
        "ebc_7_4": "lead",
        "ebc_7_5": "lead",
        "ebc_7_7": "hplc",
        "other": "other",
    }


def test_cohumulone_comes_from_no_method_that_cannot_separate_it():
    assert {method.family for method in methods_of("cohumulone")} == {"hplc", "other"}


# G. B. Nickerson, S. T. Likens 1979, J. ASBC 37:184-187: 1.3 % within, 2.8 % between laboratories.
def test_the_storage_index_has_the_published_scatter():
    method = get_method("asbc_hops_12", group="hop_storage_index")

    assert (method.within_laboratory_cv_percent, method.between_laboratory_cv_percent) == (1.3, 2.8)
    assert (method.mark, method.family) == ("read", "spectrophotometric")


def test_every_other_scatter_is_marked_as_an_assumption():
    published = [method for method in all_methods() if method.mark != "assumption, no source"]

    assert {method.group for method in published} == {"hop_storage_index"}
    assert [
        method for method in all_methods() if method not in published and method.within_laboratory_cv_percent
    ] == []


def test_every_scatter_lies_inside_its_interval():
    assert all(0 < one.low < one.between_laboratory_cv_percent < one.high <= 30 for one in all_methods())


def test_get_method_refuses_a_method_of_another_group():
    with pytest.raises(NotFound) as caught:
        get_method("ebc_7_4", group="cohumulone")
    assert caught.value.facts == {
        "code": "ebc_7_4",
        "group": "cohumulone",
        "known": ["asbc_hops_14", "ebc_7_7", "other"],
    }


def test_find_method_gives_none_for_an_unknown_code_or_group():
    assert find_method("asbc_hops_99", group="alpha_beta") is None
    assert find_method("asbc_hops_14", group="colour") is None
