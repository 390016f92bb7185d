"""The whole main job on figures that none of us wrote; moisture, dates and masses are the test's own."""

import csv
import io
from pathlib import Path
from typing import Any

import pypdf
import pytest

from service.science.customary import g_from_oz, l_from_us_gallon
from tests.builders import World

DATA = Path(__file__).resolve().parents[1] / "data"
# Nobody published these of the sample; they only make the report complete.
OURS = {"moisture_percent": 9.0, "sampled_on": "2026-09-03", "analysed_on": "2026-09-08", "packages_cored": 5}
OPEN_AT_ROOM_TEMPERATURE = {"packing": "open", "stored_at_c": 20.0, "harvested_on": "2026-09-01"}


def published(name: str) -> dict[str, float]:
    """The published figures of one sample, by quantity."""
    with (DATA / "published_lots.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["id"] == name]
    assert all(row["source"] and row["mark"] in ("read", "quoted", "derived") for row in rows)
    return {row["quantity"]: float(row["value"]) for row in rows}


def worked_examples() -> list[dict[str, Any]]:
    """The published worked examples of bitterness."""
    with (DATA / "published_bitterness.csv").open(encoding="utf-8", newline="") as file:
        return [
            {name: value if name in ("id", "source", "mark") else float(value) for name, value in row.items()}
            for row in csv.DictReader(file)
        ]


@pytest.fixture
def cascade(world: World) -> str:
    """A listed lot with the means that the USDA published of Cascade, accession 21092."""
    figures = published("cascade-21092")
    world.grower("ALDER")
    world.brewery("FINCH")
    return world.listed(
        cultivar="Cascade",
        report={
            **OURS,
            "alpha_percent": figures["alpha_percent"],
            "beta_percent": figures["beta_percent"],
            "oil_ml_per_100g": figures["oil_ml_per_100g"],
            "hop_storage_index": None,
            "methods": {"alpha_beta": "asbc_hops_6", "oil": "asbc_hops_13"},
        },
        **OPEN_AT_ROOM_TEMPERATURE,
    )


def test_storage_leaves_what_the_usda_measured(world: World, cascade: str) -> None:
    figures = published("cascade-21092")
    kept = figures["alpha_percent"] * figures["alpha_kept_after_six_months_percent"] / 100

    # 180 days after the sampling, open at 20 °C: 2.52 % of alpha left (accession 21092: 40 % of 6.3 %).
    answer = world.get(f"/v1/lots/{cascade}/storage", on="2027-03-02")

    assert kept == pytest.approx(2.52)
    assert answer.json["inputs"]["days"] == 180
    assert answer.json["alpha_percent"]["estimate"] == pytest.approx(kept, abs=1e-9)
    assert answer.json["alpha_loss_percent"]["estimate"] == pytest.approx(60)
    assert any("21092" in row["source"] for row in answer.json["inputs"]["six_month_rows"])


def test_the_search_finds_it_until_storage_takes_it_below_the_limit(world: World, cascade: str) -> None:
    for day, limit, found in (
        ("2027-03-02", 2.519, [cascade]),
        ("2027-03-02", 2.521, []),
        ("2027-09-01", 2.519, []),
    ):
        answer = world.get("/v1/lots", cultivar="USDA 21092", on=day, alpha_percent_min=limit)
        assert [line["code"] for line in answer.json["items"]] == found, (day, limit)
    assert world.get("/v1/lots", oil_ml_per_100g_min=1.24).json["items"][0]["oil_ml_per_100g"] == 1.24
    assert world.get("/v1/lots", oil_ml_per_100g_min=1.25).json["items"] == []


@pytest.mark.parametrize("example", worked_examples(), ids=lambda example: example["id"])
def test_bitterness_is_that_of_the_published_worked_example(world: World, example: dict[str, Any]) -> None:
    answer = world.post("/v1/bitterness", brew([example]))

    assert answer.status_code == 200
    assert answer.json["ibu"]["estimate"] == pytest.approx(example["ibu"], abs=example["tolerance"])


def test_bitterness_adds_up_as_published(world: World) -> None:
    # J. Palmer, How to Brew, chapter 5: 25 and 6 give 31 IBU.
    answer = world.post("/v1/bitterness", brew(worked_examples()))

    assert answer.json["ibu"]["estimate"] == pytest.approx(31, abs=0.5)


def brew(examples: list[dict[str, Any]]) -> dict[str, Any]:
    """The body of a brew with the additions of published examples."""
    return {
        "method": "tinseth",
        "brewed_on": "2026-11-25",
        "alpha_basis": "as_analysed",
        "wort": {
            "volume_l": l_from_us_gallon(volume_us_gallon=examples[0]["us_gal"]),
            "gravity_sg": examples[0]["gravity_sg"],
        },
        "additions": [
            {
                "alpha_percent": one["alpha_percent"],
                "form": "whole_cone",
                "mass_g": g_from_oz(mass_oz=one["oz"]),
                "at": "boil",
                "minutes": one["minutes"],
            }
            for one in examples
        ],
    }


def test_bitterness_of_the_lot_counts_with_the_published_alpha(world: World, cascade: str) -> None:
    # 100 g of 6.3 % alpha in 50 L boiled 60 minutes at 1.050: 6.3 g x 0.231 (Tinseth's table) / 50 L = 29.1 mg/L.
    body = {
        "method": "tinseth",
        "alpha_basis": "as_analysed",
        "brewed_on": "2026-11-25",
        "wort": {"volume_l": 50.0, "gravity_sg": 1.050},
        "additions": [{"lot_code": cascade, "mass_g": 100.0, "at": "boil", "minutes": 60}],
    }

    answer = world.post("/v1/bitterness", body)

    assert answer.json["additions"][0]["alpha_percent_used"] == pytest.approx(6.3)
    assert answer.json["additions"][0]["utilization_percent"] == pytest.approx(23.1, abs=0.05)
    assert answer.json["ibu"]["estimate"] == pytest.approx(29.1, abs=0.1)


def test_the_spec_sheet_prints_the_published_figures(world: World, cascade: str) -> None:
    answer = world.get(f"/v1/lots/{cascade}/sheet.pdf")
    reader = pypdf.PdfReader(io.BytesIO(answer.data))
    text = " ".join(reader.pages[0].extract_text().split())

    assert len(reader.pages) == 1
    for words in (
        "Cascade",
        "6.3",
        "5.6",
        "1.24",
        "ASBC Hops-6",
        "Quarry Lane Laboratory",
        "Not a certificate",
    ):
        assert words in text, words


def test_the_published_absorbances_give_the_published_acids(world: World) -> None:
    figures = published("asbc-hops-6-example")
    world.grower("ALDER")
    code = world.draft(cultivar="Galena", **OPEN_AT_ROOM_TEMPERATURE)
    volumes = {
        "extract_ml": 100,
        "sample_g": 5,
        "volume_a_ml": 100,
        "volume_b_ml": 50,
        "aliquot_extract_ml": 5,
        "aliquot_a_ml": 3,
    }

    answer = world.post(
        f"/v1/lots/{code}/lab-reports",
        {
            "laboratory": "Quarry Lane Laboratory",
            "drawn_by": "grower",
            **OURS,
            "absorbance": {**{name: figures[name] for name in ("a275", "a325", "a355")}, "dilution": volumes},
            "methods": {"alpha_beta": "asbc_hops_6"},
        },
        who="ALDER",
    )

    assert answer.status_code == 201
    assert answer.json["alpha_percent"] == pytest.approx(figures["alpha_percent"], abs=0.05)
    assert answer.json["beta_percent"] == pytest.approx(figures["beta_percent"], abs=0.05)
    assert answer.json["hop_storage_index"] == pytest.approx(figures["hop_storage_index"], abs=1e-4)
    flags = world.get(f"/v1/lots/{code}", who="ALDER").json["cautions"]
    assert "hop-storage-index-low" in [flag["code"] for flag in flags]
