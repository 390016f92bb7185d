"""The shipped classes of cones."""

from service.reference.cone_classes import shipped_cone_classes


def test_cones_are_sorted_by_ripeness_and_damage() -> None:
    assert [one.code for one in shipped_cone_classes()] == [
        "ripe",
        "under_ripe",
        "over_ripe",
        "mechanically_damaged",
        "pest_or_disease_damaged",
    ]
    assert all(one.words for one in shipped_cone_classes())
