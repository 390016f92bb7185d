"""Formulas read from their docstrings."""

import pytest

from service.api.calculations.formulas import all_formulas, is_formula, read_formula


def halved_percent(*, share_percent: float, steps: int = 1, limit_percent: float | None = None) -> float:
    """Halve a share.

    share/2^steps, where
    each step halves.

    Args:
        share_percent: the share, which a long meaning carries over
            to a second line. [%] 0..100
        steps: how often. [-] 1..inf
        limit_percent: the least, or None. [%] any

    Returns:
        What is left; exact. [%]

    Raises:
        OutOfRange: never.

    Source: arithmetic.

    >>> halved_percent(share_percent=50)
    25.0

    """
    return float(share_percent / 2**steps)


def unsaid(*, share_percent: float) -> float:
    """Forget the unit.

    Args:
        share_percent: the share.

    Returns:
        It. [%]

    Source: none.
    """
    return share_percent


def unit_free(*, share_percent: float) -> float:
    """Forget the unit of the result.

    Args:
        share_percent: the share. [%] 0..1

    Returns:
        It.

    Source: none.
    """
    return share_percent


def test_a_docstring_is_read_whole() -> None:
    found = read_formula(halved_percent, topic="halves")

    assert (found.name, found.topic, found.summary) == ("halved_percent", "halves", "Halve a share.")
    assert found.explanation == "share/2^steps, where each step halves."
    assert (found.result, found.unit, found.source) == ("What is left; exact", "%", "arithmetic")
    assert found.example == {"share_percent": 50}
    assert [(i.name, i.unit, i.low, i.high, i.kind, i.is_required, i.default) for i in found.inputs] == [
        ("share_percent", "%", 0.0, 100.0, "number", True, None),
        ("steps", "", 1.0, None, "integer", False, 1),
        ("limit_percent", "%", None, None, "number", False, None),
    ]
    assert found.inputs[0].meaning == "the share, which a long meaning carries over to a second line"


@pytest.mark.parametrize(
    ("function", "said"), [(unsaid, "does not tell of share_percent"), (unit_free, "Returns has no unit")]
)
def test_a_docstring_without_units_is_a_fault_of_ours(function: object, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        read_formula(function, topic="halves")  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["_halved_percent", "check_halves"])
def test_private_names_and_guards_are_no_formulas(name: str) -> None:
    assert is_formula("halved_percent", halved_percent)
    assert not is_formula(name, halved_percent)


def test_names_are_given_once() -> None:
    assert all(name == formula.name for name, formula in all_formulas().items())
    assert len(all_formulas()) > 120


def test_an_example_of_objects_is_told_as_json() -> None:
    assert all_formulas()["kettle_yields"].example == {
        "profile": [{"minutes": 60, "temperature_c": 100}],
        "added_at_minutes": [0],
    }
    assert all_formulas()["classic_ibu"].example == {}
    # Its inputs stand in lines of their own before the call.
    assert all_formulas()["total_estimate"].example is None
