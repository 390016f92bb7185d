"""Every formula over HTTP: listed, computed, refused with its range and unit."""

import importlib
import inspect
import math
import pkgutil
from typing import Any

import pytest
from flask.testing import FlaskClient

import service.science
from service.api.calculations.formulas import Formula, all_formulas

# Guards of the formulas; they answer nothing.
GUARDS = ("between", "between_all", "check_hop_storage_index", "check_constants", "check_same_ground")
# What others are made of; nobody outside would ask for them.
PARTS = ("temperature_days", "factor_integrals", "spans_above_20_c")
SIMPLE = (float, int, str, float | None)


def public_functions() -> list[str]:
    """The public functions of science."""
    found = []
    for module in pkgutil.iter_modules(service.science.__path__):
        name = f"service.science.{module.name}"
        for function in vars(importlib.import_module(name)).values():
            if not inspect.isfunction(function) or function.__module__ != name:
                continue
            if not function.__name__.startswith("_") and function.__name__ not in (*GUARDS, *PARTS):
                found.append(function.__name__)
    return found


def with_example() -> list[Formula]:
    return [formula for formula in all_formulas().values() if formula.example is not None]


def test_every_public_formula_is_listed_with_its_twin_over_arrays() -> None:
    assert sorted(set(public_functions()) - set(all_formulas())) == []
    assert len([name for name in all_formulas() if name.endswith("_curve")]) == 6


def test_no_guard_and_no_mere_part_is_listed() -> None:
    assert [n for n in all_formulas() if n.startswith("_") or n in (*GUARDS, *PARTS)] == []


def test_a_twin_over_arrays_gives_what_the_formula_gives(client: FlaskClient) -> None:
    told = {"alpha_percent": 10, "lost_6_months_percent": 50, "temperature_c": 4, "packing_factor": 0.5}
    many = client.post("/v1/calculations/alpha_left_percent_curve", json={**told, "days": [0, 180, 365]})
    one = client.post("/v1/calculations/alpha_left_percent", json={**told, "days": 365})

    assert many.json is not None
    assert one.json is not None
    assert len(many.json["result"]) == 3
    assert many.json["result"][2] == pytest.approx(one.json["result"], rel=1e-12)
    assert many.json["inputs"]["days"] == [0, 180, 365]


@pytest.mark.parametrize(
    ("days", "pointer"), [([0, "a"], "#/days/1"), ([0, 8000], "#/days/1"), (3, "#/days"), ([[1]], "#/days/0")]
)
def test_an_array_is_refused_at_the_element_that_is_wrong(
    client: FlaskClient, days: Any, pointer: str
) -> None:
    told = {"alpha_percent": 10, "lost_6_months_percent": 50, "temperature_c": 4, "packing_factor": 0.5}
    answer = client.post("/v1/calculations/alpha_left_percent_curve", json={**told, "days": days})

    assert answer.status_code == 422
    assert answer.json is not None
    assert pointer in (answer.json.get("pointer"), *(e["pointer"] for e in answer.json.get("errors", ())))


def test_arrays_of_several_lengths_and_of_none_are_refused(client: FlaskClient) -> None:
    path = "/v1/calculations/tinseth_utilization_percent_curve"
    uneven = client.post(path, json={"gravity_sg": [1.05, 1.06], "minutes": [60]})
    empty = client.post(path, json={"gravity_sg": [], "minutes": []})

    assert (uneven.status_code, empty.status_code) == (422, 422)
    assert uneven.json is not None
    assert "gravity_sg has 2, minutes has 1" in uneven.json["detail"]


@pytest.mark.parametrize("at_s", [[0, 86400], [1e300, 2e300], [0], [], [5, 5], [-1e11, 1e11]])
def test_a_loggers_readings_are_summed_up_or_refused(client: FlaskClient, at_s: list[float]) -> None:
    body = {"at_s": at_s, "temperature_c": [5.0] * len(at_s)}
    answer = client.post("/v1/calculations/temperature_history", json=body)

    assert answer.status_code == (200 if at_s == [0, 86400] else 422)


def test_the_list_tells_inputs_units_ranges_and_source(client: FlaskClient) -> None:
    answer = client.get("/v1/calculations")

    assert answer.status_code == 200
    assert answer.json is not None
    assert answer.json["next"] is None
    by_name = {item["name"]: item for item in answer.json["items"]}
    assert by_name["mass_g_for_share"]["inputs"][1] == {
        "name": "share_percent",
        "meaning": "share of it that this addition shall give",
        "unit": "%",
        "low": 0,
        "high": 100,
        "kind": "number",
        "is_required": True,
        "default": None,
    }
    assert by_name["tinseth_utilization_percent"] == {
        "name": "tinseth_utilization_percent",
        "topic": "bitterness",
        "summary": "Estimate how much of the alpha acids of a boil addition becomes bitterness in the beer.",
        "explanation": (
            "U = 100 * 1.65 * 0.000125^(G - 1) * (1 - exp(-0.04 t))/4.15; one small brewery's measurements, fitted."
        ),
        "inputs": [
            {
                "name": "gravity_sg",
                "meaning": "gravity of the wort, the mean over the boil where it is known",
                "unit": "20/20 °C",
                "low": 1,
                "high": 1.15,
                "kind": "number",
                "is_required": True,
                "default": None,
            },
            {
                "name": "minutes",
                "meaning": "time the hops boil",
                "unit": "min",
                "low": 0,
                "high": 240,
                "kind": "number",
                "is_required": True,
                "default": None,
            },
        ],
        "result": "The utilization, losses up to the finished beer included",
        "unit": "%",
        "source": "G. Tinseth, hop utilisation article; table reprinted in J. Palmer, How to Brew",
        "example": {"gravity_sg": 1.05, "minutes": 60},
    }


def test_every_formula_says_where_it_comes_from() -> None:
    assert [f.name for f in all_formulas().values() if not (f.source and f.summary and f.result)] == []
    assert [(f.name, i.name) for f in all_formulas().values() for i in f.inputs if not i.meaning] == []


def test_one_formula_answers_with_source_and_cautions(client: FlaskClient) -> None:
    # Published table of the utilization: 0.231 at 1.050 and 60 minutes (J. Palmer, How to Brew, quoted).
    answer = client.post(
        "/v1/calculations/tinseth_utilization_percent", json={"gravity_sg": 1.050, "minutes": 60}
    )

    assert answer.status_code == 200
    assert answer.json == {
        "name": "tinseth_utilization_percent",
        "result": pytest.approx(23.1, abs=0.05),
        "unit": "%",
        "inputs": {"gravity_sg": 1.05, "minutes": 60.0},
        "source": "G. Tinseth, hop utilisation article; table reprinted in J. Palmer, How to Brew",
        "cautions": [],
    }


def test_an_extrapolated_input_is_cautioned(client: FlaskClient) -> None:
    path = "/v1/calculations/isomerization_rate_per_minute"

    inside = client.post(path, json={"temperature_c": 100})
    outside = client.post(path, json={"temperature_c": 80})

    assert inside.json is not None
    assert outside.json is not None
    assert inside.json["cautions"] == []
    assert outside.json["cautions"] == [
        "temperature_c of 80 °C lies outside of what was measured (90 to 130): extrapolated."
    ]


def test_a_convention_is_named_as_one(client: FlaskClient) -> None:
    answer = client.post("/v1/calculations/similarity", json={"distance": 1})

    assert answer.json is not None
    assert answer.json["cautions"] == [
        "Not measurement alone stands behind this: common practice, no source; convention."
    ]


@pytest.mark.parametrize("formula", with_example(), ids=lambda formula: formula.name)
def test_the_example_of_each_formula_is_answered(client: FlaskClient, formula: Formula) -> None:
    answer = client.post(f"/v1/calculations/{formula.name}", json=formula.example)

    assert answer.status_code == 200, answer.text
    assert answer.json is not None
    simple = all(i.hint in SIMPLE for i in formula.inputs)
    expected = formula.function(**(formula.example or {})) if simple else answer.json["result"]
    if isinstance(expected, int | float | str | None):
        assert answer.json["result"] == expected


@pytest.mark.parametrize("end", ["low", "high"])
def test_no_formula_breaks_at_the_ends_of_its_ranges(client: FlaskClient, end: str) -> None:
    statuses = {}
    for formula in all_formulas().values():
        inputs = {**(formula.example or {})}
        inputs |= {
            i.name: getattr(i, end)
            for i in formula.inputs
            if getattr(i, end) is not None and i.kind == "number"
        }
        statuses[formula.name] = client.post(f"/v1/calculations/{formula.name}", json=inputs).status_code

    assert {name: status for name, status in statuses.items() if status not in (200, 422)} == {}
    assert list(statuses.values()).count(200) > 60


@pytest.mark.parametrize(
    ("value", "said"), [(1.2, 1.2), ("hot", None), (True, None), (None, None), ([1], None), (-1, -1.0)]
)
def test_a_faulty_figure_is_refused_with_name_range_and_unit(
    client: FlaskClient, value: Any, said: float | None
) -> None:
    answer = client.post(
        "/v1/calculations/tinseth_utilization_percent", json={"gravity_sg": value, "minutes": 60}
    )

    assert answer.status_code == 422
    assert answer.json is not None
    facts = {name: answer.json[name] for name in ("type", "name", "value", "low", "high", "unit", "pointer")}
    assert facts == {
        "type": "/problems/out-of-range",
        "name": "gravity_sg",
        "value": said,
        "low": 1.0,
        "high": 1.15,
        "unit": "20/20 °C",
        "pointer": "#/gravity_sg",
    }


@pytest.mark.parametrize("text", ["NaN", "Infinity", "-Infinity"])
def test_what_is_no_json_number_cannot_be_read(client: FlaskClient, text: str) -> None:
    answer = client.post(
        "/v1/calculations/similarity", data=f'{{"distance": {text}}}', content_type="application/json"
    )

    assert answer.status_code == 400


def test_an_absurd_magnitude_is_refused(client: FlaskClient) -> None:
    answer = client.post(
        "/v1/calculations/similarity", data='{"distance": 1e400}', content_type="application/json"
    )

    assert answer.status_code == 422
    assert answer.json is not None
    assert (answer.json["name"], answer.json["value"]) == ("distance", None)


def test_unknown_and_missing_inputs_are_named_together(client: FlaskClient) -> None:
    answer = client.post(
        "/v1/calculations/tinseth_utilization_percent", json={"gravity": 1.05, "minutes": 60}
    )

    assert answer.status_code == 422
    assert answer.json is not None
    assert answer.json["errors"] == [
        {"pointer": "#/gravity", "detail": "This field is not known here."},
        {
            "pointer": "#/gravity_sg",
            "detail": (
                "This is needed: gravity of the wort, the mean over the boil where it is known, in 20/20 °C."
            ),
        },
    ]


def test_a_formula_over_a_series_takes_an_array(client: FlaskClient) -> None:
    answer = client.post("/v1/calculations/combine_sd_log", json={"sds_log": [0.03, 0.04]})

    assert answer.json is not None
    assert answer.json["result"] == pytest.approx(0.05)


def test_a_kettle_is_told_as_objects(client: FlaskClient) -> None:
    body = {
        "profile": [
            {"minutes": 60, "temperature_c": 100},
            {"minutes": 10, "from_c": 100, "to_c": 80},
        ],
        "added_at_minutes": [0, 60],
    }
    answer = client.post("/v1/calculations/kettle_yields", json=body)

    assert answer.status_code == 200
    assert answer.json is not None
    first, late = answer.json["result"]
    assert math.fsum(
        first[n] for n in ("alpha_fraction", "iso_fraction", "losses_fraction")
    ) == pytest.approx(1)
    assert late["iso_fraction"] < first["iso_fraction"]
    assert answer.json["inputs"]["profile"][1] == {"minutes": 10.0, "from_c": 100.0, "to_c": 80.0}


@pytest.mark.parametrize(
    ("profile", "pointer"),
    [
        ("boil", "#/profile"),
        ([60], "#/profile/0"),
        ([{"minutes": 60}], "#/profile/0"),
        ([{"minutes": 60, "temperature_c": "hot"}], "#/profile/0/temperature_c"),
    ],
)
def test_a_kettle_told_wrongly_is_refused_where_it_is_wrong(
    client: FlaskClient, profile: Any, pointer: str
) -> None:
    answer = client.post("/v1/calculations/kettle_yields", json={"profile": profile, "added_at_minutes": [0]})

    assert answer.status_code == 422
    assert answer.json is not None
    found = answer.json["errors"][0]["pointer"] if "errors" in answer.json else answer.json["pointer"]
    assert found == pointer


def test_an_unknown_calculation_is_not_found(client: FlaskClient) -> None:
    assert client.post("/v1/calculations/between", json={}).status_code == 404
    assert client.post("/v1/calculations/tinseth", json={}).status_code == 404
