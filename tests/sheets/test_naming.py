"""What the car's wires are called in sentences: words, no ids, no two the same."""

from __future__ import annotations

import re

import pytest

from sheets.pages import shop
from startwright.records import Vehicle, WholeJob
from startwright.records.words import FUNCTIONS
from startwright.sheets.bench import sheet_data
from startwright.sheets.labels import function_words
from startwright.sheets.naming import article, in_words, names


@pytest.fixture(scope="module")
def job() -> WholeJob:
    return shop("two-starters-small-unit")[0]


def car(*circuits: dict[str, object]) -> Vehicle:
    return Vehicle.model_validate(
        {
            "format": "startwright/vehicle/1",
            "id": "car",
            "gearbox": "automatic",
            "circuits": list(circuits),
        }
    )


def test_wires_of_one_name_are_told_apart_by_colour_else_by_id() -> None:
    feeds = [
        {"id": "batt_1", "function": "battery", "live": ["off"], "colour": "RD"},
        {"id": "batt_2", "function": "battery", "live": ["off"], "colour": "RD/WH"},
        {"id": "door_1", "function": "door", "active": "ground", "colour": "BK"},
        {"id": "door_2", "function": "door", "active": "ground", "colour": "BK"},
        {"id": "hood", "function": "hood", "active": "ground"},
    ]
    assert names(car(*feeds)) == {
        "batt_1": "battery RD",
        "batt_2": "battery RD/WH",
        "door_1": "door door_1",
        "door_2": "door door_2",
        "hood": "hood",
    }


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("starter_1 fed as the key does it", "the starter 1 wire fed as the key does it"),
        ("starter_1 is only told.", "The starter 1 wire is only told."),
        ("start works starter_1 straight", "start works the starter 1 wire straight"),
        ("park_neutral sensed", "the park/neutral wire sensed"),
        ("ground for gnd", "ground for lead gnd"),
        ("what else hangs on lamps; 2.5 mm²", "what else hangs on lead lamps; 2.5 mm²"),
        ("ign_2 from ign through a relay", "the ignition 2 wire from lead ign through a relay"),
        ("the horn is to sound for the hood", "the horn is to sound for the hood"),
        ("say `ign_1` or vehicle.ign_1, ign_1.load", "say `ign_1` or vehicle.ign_1, ign_1.load"),
        ("starter_12 and ign_1_b", "starter_12 and ign_1_b"),
    ],
)
def test_ids_are_said_in_words(job: WholeJob, text: str, says: str) -> None:
    assert in_words(job, text) == says


def test_a_head_has_the_name_alone(job: WholeJob) -> None:
    assert in_words(job, "the car's fuse of starter_1", bare=True) == "the car's fuse of starter 1"
    assert in_words(job, "ground for gnd", bare=True) == "ground for gnd"


def test_an_article_has_its_name_from_the_shelf(job: WholeJob) -> None:
    assert article(job, "hood-pin") == "hood pin switch"
    assert article(job, "F1") == "F1"
    assert article(job, "some_switch") == "some switch"


def test_functions_have_one_name_each() -> None:
    said = [function_words(f) for f in FUNCTIONS]
    assert len(set(said)) == len(said)
    assert not any("_" in words for words in said)
    assert function_words("park_neutral") == "park/neutral"


@pytest.mark.parametrize("name", ["two-starters-small-unit", "two-starters"])
def test_the_bench_sheet_names_no_circuit_by_its_id(name: str) -> None:
    """Needs, reasons, joints, cuts and warnings; the lines to be typed keep their words."""
    job, plan, size, proof = shop(name)
    data = sheet_data(job, plan, size, proof, "a4")
    told = [n[k] for n in data["needs"] for k in ("need", "because")]
    told += [r[k] for r in data["runs"] for k in ("from", "to", "why")]
    told += [j[k] for group in data["joints"] for j in group["rows"] for k in ("from", "to")]
    told += [w for stop in data["stops"] for row in stop["rows"] for w in row["why"]]
    told += [*data["warnings"], *data["cuts"], *(p["why"] for p in data["parts"])]
    told += [*(s["why"] for s in data["settings"]), *data["proof"]["assumes"]]
    told += [r["says"] for r in data["proof"]["rules"]]
    ids = [c.id for c in job.vehicle.circuits if "_" in c.id]
    assert len(ids) > 8
    raw = [t for t in told for id in ids if re.search(rf"(?<![\w]){id}(?!\w)", t)]
    assert raw == []
