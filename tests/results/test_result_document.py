"""The result document: strict JSON that its published schema allows, whatever version stored it.

The judge of the schema is ``jsonschema_rs``, an independent implementation of JSON Schema draft 2020-12.
"""

import json
import math
from pathlib import Path

import jsonschema_rs
import pytest
from pydantic import ValidationError

from lifetime.assessment.run import assess
from lifetime.errors import InputError
from lifetime.packs.locate import profiles_folder
from lifetime.packs.read import parse_profile
from lifetime.results.document import SCHEMA_VERSION, ResultDocument
from lifetime.results.row import source_rows
from lifetime.results.upgrade import study_as_assessed, upgrade, upgrade_parameter_set, upgrade_study
from lifetime.study.load import Folder, read_toml, resolve_study

STORED = Path(__file__).parent / "version_1"
DEMO = profiles_folder() / "demo"


def stored(name):
    row = json.loads((STORED / f"{name}.json").read_text(encoding="utf-8"))["assessments"][0]
    return {"document": row["document"], "detail": row["detail"]}


@pytest.fixture(scope="module")
def schema():
    return jsonschema_rs.validator_for(ResultDocument.model_json_schema(mode="serialization"))


@pytest.fixture(scope="module")
def fresh():
    data = read_toml(DEMO / "yard_tractor.toml")
    data["strategy"] = data["strategy"][:2]
    data["service"]["day"]["drive_repeats"] = 1
    return ResultDocument.of(assess(resolve_study(data, "study", Folder(DEMO))))


def short_lived(capacity):
    """The demo's battery alone with a capacity limit so near 1 that it is passed on the first day."""
    data = read_toml(DEMO / "yard_tractor.toml")
    data["strategy"] = data["strategy"][:1]
    data["end_of_life"]["battery_capacity"] = capacity
    return ResultDocument.of(assess(resolve_study(data, "study", Folder(DEMO))))


def test_a_fresh_document_keeps_to_the_schema_and_survives_the_way_there_and_back(fresh, schema):
    text = fresh.to_json()
    data = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    schema.validate(data)
    assert ResultDocument.model_validate_json(text) == fresh
    assert upgrade(data) == fresh


@pytest.mark.parametrize("name", ["demo", "histories"])
def test_a_document_of_version_1_keeps_to_the_schema(schema, name):
    schema.validate(json.loads(upgrade(stored(name)).to_json()))


def test_the_schema_refuses_what_is_not_a_result(fresh, schema):
    data = json.loads(fresh.to_json())
    data["strategies"][0]["battery"]["life_state"] = "cannot_deliver"
    assert not schema.is_valid(data)
    assert not schema.is_valid({**json.loads(fresh.to_json()), "surprise": 1})


def test_no_number_is_nan(fresh):
    with pytest.raises(ValidationError, match="finite"):
        ResultDocument.model_validate(
            {**fresh.model_dump(), "study": {**fresh.study.model_dump(), "service_years": math.nan}}
        )


def test_every_strategy_with_a_demand_has_its_day_and_modes(fresh):
    for one in fresh.strategies:
        assert {row.source for row in one.day.modes} == set(one.sources)
        # A day's modes follow one another, so each source's durations sum to the driving time (definition).
        for part in one.sources:
            driven = sum(row.duration_s for row in one.day.modes if row.source == part)
            assert driven == pytest.approx(one.trip.driving_duration_s_per_day, rel=1e-9)
        assert [use.role for use in one.histories] == ["demand"]


def test_rows_hold_one_source_each_and_the_strategy_s_cost(fresh):
    rows = source_rows(fresh)
    assert [(row.strategy, row.source) for row in rows] == [
        (one.name, part) for one in fresh.strategies for part in one.sources
    ]
    costs = {one.name: one.cost.net_present_cost for one in fresh.strategies}
    assert all(row.strategy_net_present_cost_currency == costs[row.strategy] for row in rows)


@pytest.mark.parametrize("capacity", [0.99995, 0.999999])
def test_a_life_below_a_day_is_not_told_as_a_requirement_not_met(capacity):
    (one,) = short_lived(capacity).strategies
    assert one.battery.life_state == "reached"
    assert 0.0 < one.battery.life_years < 1.0 / 365.0
    assert one.cost.reason.startswith("the battery reaches its end of life (capacity) after ")
    assert one.cost.reason.endswith("a life shorter than a day has no cost")


def test_a_newer_document_is_refused_with_what_to_do():
    with pytest.raises(InputError, match=rf"schema version {SCHEMA_VERSION + 1}.*Open it with the program"):
        upgrade({"schema_version": SCHEMA_VERSION + 1})


OLD_STUDY = {
    "vehicle": {"rotating_mass_share": 0.1, "recuperation_share": 0.6},
    "counting": {"smallest_battery_cycle_soc": 0.01},
    "strategy": [
        {
            "demand": {"interpolation": "straight"},
            "split": {"bank_target_voltage_V": 1.0, "bank_loss": {"fixed_W": 2.0}},
        },
        {"battery": {"interpolation": "held"}, "split": {"recovered_share": 0.5, "pull_time_constant_s": 3.0}},
        {"split": {"bank_voltage_V": [1.0, 2.0], "battery_share": [[0.1, 0.2]], "bank_pull_time_constant_s": 4.0}},
        {"name": "held", "split": {"rows": [{"battery_share": 1.0}]}},
    ],
}
NEW_STUDY = {
    "vehicle": {"rotating_mass_fraction": 0.1, "recuperation_fraction": 0.6},
    "counting": {"smallest_battery_depth_of_discharge": 0.01},
    "strategy": [
        {
            "demand": {"interpolation": "linear"},
            "split": {"ultracapacitor_setpoint_V": 1.0, "ultracapacitor_loss": {"fixed_W": 2.0}},
        },
        {
            "battery": {"interpolation": "zero_order_hold"},
            "split": {"recovered_fraction": 0.5, "setpoint_time_constant_s": 3.0},
        },
        {
            "split": {
                "ultracapacitor_voltage_V": [1.0, 2.0],
                "battery_fraction": [[0.1, 0.2]],
                "ultracapacitor_setpoint_time_constant_s": 4.0,
            }
        },
        {"name": "held", "split": {"rows": [{"battery_fraction": 1.0}]}},
    ],
}
"""The same study before and after the renames, both written by hand."""


def test_a_stored_study_gets_the_keys_and_words_of_today():
    assert upgrade_study(OLD_STUDY) == NEW_STUDY
    assert upgrade_study(NEW_STUDY) == NEW_STUDY


def test_a_stored_study_of_today_stays_as_it_is():
    data = read_toml(DEMO / "yard_tractor.toml")
    today = upgrade_study(data)
    assert upgrade_study(today) == today
    assert today["service"] == data["service"]


def test_a_study_is_run_again_with_the_resistance_growth_of_its_result(fresh):
    """Results stored without one had none; a ratio that the study gives is its own."""
    keys = ("resistance_per_calendar_loss", "resistance_per_cyclic_loss")
    older = fresh.model_copy(update={"study": fresh.study.model_copy(update={"resistance_growth": None})})
    data = read_toml(DEMO / "yard_tractor.toml")
    assert [study_as_assessed(data, older)["battery"][key] for key in keys] == [0.0, 0.0]
    assert [study_as_assessed(data, fresh)["battery"][key] for key in keys] == [2.0, 2.0]
    data["battery"]["resistance_per_cyclic_loss"] = 3.0
    assert [study_as_assessed(data, older)["battery"][key] for key in keys] == [0.0, 3.0]


def test_old_grades_of_a_stored_set_are_read():
    text = json.loads((STORED / "histories.json").read_text(encoding="utf-8"))["parameter_sets"][0]["document"]
    assert 'grade = "from memory"' in text
    today = upgrade_parameter_set(text)
    parse_profile(today, "own_cell.toml")
    assert upgrade_parameter_set(today) == today
    # Only the grades are replaced: a remark that says so keeps its words.
    assert "#   from memory   recalled, not confirmed" in today
    assert today.count('grade = "unverified"') == text.count('grade = "from memory"')
