"""The study form and the study document say the same, and what cannot be read finds its field."""

import tomllib

import pytest

from lifetime.packs.locate import profiles_folder
from lifetime.study.schema import Study
from webapi.pages.study_fields import groups
from webapi.pages.study_form import empty_form, fill_form, input_numbers, not_shown, read_form, strategy_numbers

GROUPS = groups(["lfp_naumann_2020"], ["edlc_3000F_10K_0p2V"], ["temperate"])


@pytest.fixture
def study():
    data = tomllib.loads((profiles_folder() / "demo" / "yard_tractor.toml").read_text(encoding="utf-8"))
    for strategy in data["strategy"]:
        strategy["demand"]["discharge_is"] = "positive"
    return data


def _as_checked(document):
    return Study.model_validate(document).model_dump(mode="json")


def test_a_study_goes_through_the_form_unchanged(study):
    values = fill_form(study, GROUPS)
    read = read_form(values, GROUPS)
    assert read.faults == ()
    assert _as_checked(read.document) == _as_checked(study)
    assert not_shown(study, GROUPS) == []
    # One file with one mapping stands in the form once.
    assert input_numbers(values) == [1]
    assert strategy_numbers(values) == [1, 2, 3, 4, 5]


def test_histories_already_split_and_monthly_means(study):
    del study["service"]["climate"]
    study["service"]["ambient_C"] = [1.0, 2.5, 6, 10, 14, 18, 20, 19, 15, 10, 5, 2]
    study["cost"]["residual_value"] = False
    run = {"file": "f" * 64, "time": "Time [s]", "current": "I_bat [A]", "discharge_is": "negative"}
    run |= {"interpolation": "zero_order_hold", "clean": ["bridge_gaps"], "ambient_C": 21.5}
    bank = {**run, "current": "I_uc [A]", "current_unit": "mA"}
    study["strategy"] = [{"name": "Bench", "battery": run, "ultracapacitor": bank}]
    values = fill_form(study, GROUPS)
    assert input_numbers(values) == [1, 2]
    read = read_form(values, GROUPS)
    assert read.faults == ()
    assert _as_checked(read.document) == _as_checked(study)


def test_keys_without_a_field_are_named(study):
    study["battery"]["open_circuit"] = {"soc": [0.0, 1.0], "voltage_V": [3.0, 3.6]}
    assert not_shown(study, GROUPS) == ["battery.open_circuit.soc", "battery.open_circuit.voltage_V"]


def test_what_cannot_be_read_is_named_by_its_field(study):
    values = fill_form(study, GROUPS)
    values |= {"service.years": "ten", "battery.series": "1.5", "strategy[2].split.time_constant_s": "5,5"}
    del values["input[1].discharge_is"]
    faults = {fault.place: fault.message for fault in read_form(values, GROUPS).faults}
    assert set(faults) == {
        "service.years",
        "battery.series",
        "strategy[2].split.time_constant_s",
        "input[1].discharge_is",
    }
    assert "ten" in faults["service.years"]


def test_a_strategy_without_a_choice_is_a_fault():
    values = {**empty_form(GROUPS), "strategy[1].name": "x", "strategy[1].way": ""}
    places = [fault.place for fault in read_form(values, GROUPS).faults]
    assert places == ["strategy[1].demand", "strategy[1].way"]


def test_nothing_is_preset_but_the_schemas_own_defaults():
    values = empty_form(GROUPS)
    assert set(values) == {
        "service.day.drive_repeats",
        "end_of_life.battery_capacity",
        "end_of_life.battery_resistance",
        "end_of_life.ultracapacitor_capacitance",
        "end_of_life.ultracapacitor_esr",
        "counting.smallest_battery_cycle_soc",
        "cost.residual_value",
    }
    given = read_form(values, GROUPS).document
    assert given["end_of_life"] == Study.model_fields["end_of_life"].default.model_dump()


def test_fields_of_another_rule_are_ignored(study):
    values = fill_form(study, GROUPS)
    values["strategy[1].split.time_constant_s"] = "7"
    assert read_form(values, GROUPS).document["strategy"][0]["split"] == {"rule": "battery_only"}
