"""Storage loss: laws, a general solver, the measured losses, and the refusals."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from service.errors import OutOfRange
from service.science.storage import (
    Spell,
    alpha_left_percent,
    alpha_left_percent_curve,
    effective_days_at_20_c,
    is_outside_model,
    log_loss,
    loss_rate_per_day,
    rate_per_day,
    temperature_factor,
)

losses = st.floats(0, 90)
temperatures = st.floats(-30, 40)
factors = st.floats(0, 1.2)
times = st.floats(0, 3000)
STORE = {"lost_6_months_percent": 50.0, "temperature_c": 20.0, "packing_factor": 1.0, "days": 180.0}


@given(start=st.floats(0, 25), lost=losses, temperature=temperatures, factor=factors, days=times)
def test_alpha_left_never_leaves_the_start_nor_falls_below_nothing(
    start: float, lost: float, temperature: float, factor: float, days: float
) -> None:
    left = alpha_left_percent(
        alpha_percent=start,
        lost_6_months_percent=lost,
        temperature_c=temperature,
        packing_factor=factor,
        days=days,
    )

    assert 0 <= left <= start


@pytest.mark.parametrize(
    ("argument", "values"),
    [
        ("days", st.floats(0, 3000)),
        ("temperature_c", temperatures),
        ("packing_factor", factors),
        ("lost_6_months_percent", losses),
    ],
    ids=["days", "temperature", "packing", "six months"],
)
def test_more_of_anything_leaves_no_more_alpha(argument: str, values: st.SearchStrategy[float]) -> None:
    @settings(max_examples=60)
    @given(one=values, other=values)
    def law(one: float, other: float) -> None:
        less, more = sorted((one, other))
        left = [alpha_left_percent(alpha_percent=10, **STORE | {argument: x}) for x in (less, more)]
        assert left[1] <= left[0]

    law()


@given(
    first=st.floats(0, 1000), second=st.floats(0, 1000), temperature=temperatures, factor=factors, lost=losses
)
def test_splitting_a_spell_changes_nothing(
    first: float, second: float, temperature: float, factor: float, lost: float
) -> None:
    whole = log_loss(spells=[Spell(first + second, temperature, factor)], lost_6_months_percent=lost)
    parts = log_loss(
        spells=[Spell(first, temperature, factor), Spell(second, temperature, factor)],
        lost_6_months_percent=lost,
    )

    assert parts == pytest.approx(whole, rel=1e-12, abs=1e-15)


@given(days=times, temperature=temperatures, factor=factors, lost=losses)
def test_one_spell_is_the_formula(days: float, temperature: float, factor: float, lost: float) -> None:
    exponent = log_loss(spells=[Spell(days, temperature, factor)], lost_6_months_percent=lost)

    assert 10 * math.exp(-exponent) == pytest.approx(
        alpha_left_percent(
            alpha_percent=10,
            lost_6_months_percent=lost,
            temperature_c=temperature,
            packing_factor=factor,
            days=days,
        ),
        rel=1e-12,
    )


def test_spells_agree_with_a_general_solver() -> None:
    # scipy.integrate.solve_ivp on dA/dt = -k TF SF A, spell after spell.
    spells = [Spell(40, 20, 1.0), Spell(120, 5, 0.75), Spell(300, -18, 0.5), Spell(10, 30, 1.0)]
    alpha = 10.0
    for spell in spells:
        rate = -math.log(1 - 0.35) / 180 * 2 ** ((spell.temperature_c - 20) / 15) * spell.packing_factor
        solved = solve_ivp(lambda _, a, r=rate: -r * a, (0, spell.days), [alpha], rtol=1e-11, atol=1e-13)
        alpha = float(solved.y[0, -1])

    left = 10 * math.exp(-log_loss(spells=spells, lost_6_months_percent=35))

    assert left == pytest.approx(alpha, rel=1e-9)


def test_no_spells_lose_nothing() -> None:
    assert log_loss(spells=[], lost_6_months_percent=50) == 0.0
    assert effective_days_at_20_c(spells=[]) == 0.0


def test_a_curve_is_its_scalar_twin() -> None:
    days = np.linspace(0, 3000, 101)
    store = {"lost_6_months_percent": 35.0, "temperature_c": 4.0, "packing_factor": 0.75}

    curve = alpha_left_percent_curve(alpha_percent=9.0, days=days, **store)

    assert curve.tolist() == pytest.approx(
        [alpha_left_percent(alpha_percent=9.0, days=day, **store) for day in days.tolist()], rel=1e-12
    )
    assert days[1] == 30.0


def test_the_cultivar_cascade_keeps_what_was_measured_after_six_months() -> None:
    # USDA-ARS accession 21092: alpha 6.3 %, 40 % of it retained after 6 months at room temperature (read).
    left = alpha_left_percent(alpha_percent=6.3, **STORE | {"lost_6_months_percent": 60.0})

    assert left == pytest.approx(0.40 * 6.3)


def test_two_years_warm_and_in_air_agree_with_the_measured_losses() -> None:
    # Rutnik, Ocvirk, Košir 2023, Plants 12:936: 63 to 99 % lost in two years, aerobic, room temperature
    # (read).
    modelled = [
        100 - alpha_left_percent(alpha_percent=100, **STORE | {"days": 730.5, "lost_6_months_percent": lost})
        for lost in (20.0, 60.0)
    ]

    assert modelled[0] == pytest.approx(63, abs=5)
    assert modelled[1] == pytest.approx(99, abs=5)


def test_known_gap_two_years_cold_without_oxygen_are_overestimated_about_two_times() -> None:
    # Rutnik, Ocvirk, Košir 2023, Plants 12:936: 10 to 35 % lost in two years, anaerobic, 4 °C (read). The
    # model with the customary factor 0.50 gives about twice that. Whoever mends the model must change this
    # test knowingly.
    cold = STORE | {"days": 730.5, "temperature_c": 4.0}
    modelled = [
        100
        - alpha_left_percent(
            alpha_percent=100, **cold | {"packing_factor": 0.5, "lost_6_months_percent": lost}
        )
        for lost in (20.0, 60.0)
    ]
    fitted = [
        100
        - alpha_left_percent(
            alpha_percent=100, **cold | {"packing_factor": 0.25, "lost_6_months_percent": lost}
        )
        for lost in (20.0, 60.0)
    ]

    assert 1.5 < modelled[0] / 10 < 2.5
    assert 1.5 < modelled[1] / 35 < 2.5
    # The fitted factor of packs with measured low oxygen comes close to both ends of the measured range.
    assert fitted == [pytest.approx(10, abs=1), pytest.approx(35, abs=2)]


@pytest.mark.parametrize(("temperature_c", "outside"), [(-30, False), (20, False), (20.01, True), (40, True)])
def test_above_20_c_is_flagged(temperature_c: float, outside: bool) -> None:
    assert is_outside_model(temperature_c=temperature_c) is outside


@pytest.mark.parametrize(
    ("argument", "wrong"),
    [
        ("alpha_percent", 101),
        ("alpha_percent", True),
        ("lost_6_months_percent", 99.5),
        ("lost_6_months_percent", -1),
        ("temperature_c", 40.1),
        ("temperature_c", -30.1),
        ("temperature_c", math.nan),
        ("packing_factor", -0.1),
        ("packing_factor", 2.5),
        ("days", -1),
        ("days", math.inf),
        ("days", "30"),
    ],
)
def test_alpha_left_refuses_what_lies_outside(argument: str, wrong: object) -> None:
    good: dict[str, object] = {"alpha_percent": 10.0, **STORE}

    with pytest.raises(OutOfRange) as refusal:
        alpha_left_percent(**good | {argument: wrong})  # type: ignore[arg-type]

    assert refusal.value.facts["name"] == argument


def test_a_curve_refuses_one_bad_element() -> None:
    store = {"lost_6_months_percent": 35.0, "temperature_c": 4.0, "packing_factor": 0.75}

    with pytest.raises(OutOfRange, match="days"):
        alpha_left_percent_curve(alpha_percent=9.0, days=np.array([1.0, math.nan]), **store)


@pytest.mark.parametrize(
    "spell", [Spell(-1, 20, 1), Spell(1, 50, 1), Spell(1, 20, 3)], ids=["days", "temperature", "packing"]
)
def test_a_spell_that_cannot_be_is_refused(spell: Spell) -> None:
    with pytest.raises(OutOfRange):
        log_loss(spells=[spell], lost_6_months_percent=50)


def test_the_rate_is_the_product_of_its_parts() -> None:
    rate = loss_rate_per_day(lost_6_months_percent=50, temperature_c=5, packing_factor=0.75)

    assert rate == rate_per_day(lost_6_months_percent=50) * temperature_factor(temperature_c=5) * 0.75
