"""Strategies with a design of their own: what they see, and where their faults stand."""

import pytest

from lifetime.errors import StudyError
from lifetime.study.load import resolve_study
from tests.study.test_load import Shelf

ALONE = {
    "name": "more cells",
    "demand": {"file": "log.csv", "time": "t_s", "power": "p_W"},
    "split": {"rule": "battery_only"},
}


@pytest.fixture
def resolve(change):
    """Function from the design of a second strategy to the study loaded, and the shelf it took things from."""

    def _resolve(design, **more):
        shelf = Shelf()
        first = change({})["strategy"][0]
        data = change({"strategy": [first, {**ALONE, **more, "design": design}]})
        return resolve_study(data, "study.toml", shelf), shelf

    return _resolve


def test_only_what_differs_differs(resolve):
    loaded, _ = resolve({"battery": {"parallel": 3, "price": {"replacement_labour": 7}}, "day": {"drive_repeats": 2}})
    seen = loaded.seen_by("more cells").study
    assert (seen.battery.parallel, loaded.study.battery.parallel) == (3, 2)
    assert (seen.service.day.drive_repeats, loaded.study.service.day.drive_repeats) == (2, 1)
    # A table within a table is laid over: the price per kWh of the study stays.
    assert (seen.battery.price.purchase_per_kWh, seen.battery.price.replacement_labour) == (150, 7)
    assert seen.battery.series == loaded.study.battery.series
    assert loaded.seen_by("alone") is loaded


def test_its_cell_is_loaded_and_its_history_opened_once(resolve):
    loaded, shelf = resolve({"battery": {"cell": "nmc_schmalstieg_2014"}})
    assert loaded.seen_by("more cells").battery.id == "nmc_schmalstieg_2014"
    assert [cell.id for cell in loaded.cells] == ["lfp_naumann_2020", "edlc_3000F_10K_0p2V", "nmc_schmalstieg_2014"]
    assert len(shelf.of("history")) == 1


def test_a_history_of_one_cell_is_opened_for_each_number_of_cells(resolve):
    spec = {"file": "log.csv", "time": "t_s", "current": "i_A", "quantities_of": "cell"}
    _, shelf = resolve({"battery": {"parallel": 3}}, battery=spec, demand=None, split=None)
    assert [asked[1:] for asked in shelf.of("history") if asked[0] == "log.csv"][-2:] == [(100, 2), (100, 3)]


@pytest.mark.parametrize(
    ("design", "place", "message"),
    [
        ({"battery": {"parallel": 0}}, "strategy[2].design.battery.parallel", "1"),
        ({"battery": {"paralel": 4}}, "strategy[2].design.battery.paralel", "is not a key"),
        ({"day": {"charge_c_rate": 0.1}}, "strategy[2].design.day", "belong together"),
        ({"ultracapacitor": {"start_voltage_V": 9000}}, "strategy[2].design.ultracapacitor.start_voltage_V", "V"),
        ({"service": {"years": 3}}, "strategy[2].design.service", "is not a key"),
        ({"battery": {}}, "strategy[2].design", "names no key that differs"),
        ({"battery": {"cell": "?"}}, "strategy[2].design.battery.cell", "yours to fill in"),
    ],
)
def test_a_fault_stands_where_the_design_is(resolve, design, place, message):
    with pytest.raises(StudyError) as caught:
        resolve(design)
    assert {fault.place: message in fault.message for fault in caught.value.faults} == {place: True}


def test_a_voltage_by_cell_needs_no_other_value_where_the_series_differs(resolve):
    """150 capacitors at 2.6, 1.3, 1.5 and 2.7 V each; the setpoint of 2 V is one of a cell, too."""
    by_cell = {
        "voltages_of": "cell",
        "start_voltage_V": 2.6,
        "minimum_voltage_V": 1.3,
        "maximum_voltage_V": 2.7,
        "rest_voltage_V": 1.5,
    }
    regulated = {"ultracapacitor_setpoint_V": 2.0, "ultracapacitor_setpoint_time_constant_s": 60.0}
    split = {"rule": "low_pass", "time_constant_s": 5.0, **regulated}
    loaded, _ = resolve({"ultracapacitor": {**by_cell, "series": 150}}, split=split)
    seen = loaded.seen_by("more cells").study.ultracapacitor.of_bank()
    assert (seen.start_voltage_V, seen.minimum_voltage_V, seen.rest_voltage_V) == pytest.approx((390.0, 195.0, 225.0))
    assert seen.maximum_voltage_V == pytest.approx(405.0)
    assert seen.of_bank() is seen


@pytest.mark.parametrize(
    ("changes", "place", "words"),
    [
        ({"start_voltage_V": 2.75}, "strategy[2].design.ultracapacitor.start_voltage_V", 'voltages_of = "cell"'),
        ({"maximum_voltage_V": 540.0}, "strategy[2].design.ultracapacitor.maximum_voltage_V", "Use a lower voltage"),
    ],
)
def test_a_voltage_by_cell_is_held_against_one_cell(resolve, changes, place, words):
    by_cell = {"voltages_of": "cell", "start_voltage_V": 2.6, "minimum_voltage_V": 1.3, "rest_voltage_V": 1.5}
    with pytest.raises(StudyError) as caught:
        resolve({"ultracapacitor": {**by_cell, "maximum_voltage_V": 2.7, **changes}})
    assert any(fault.place == place and words in fault.message for fault in caught.value.faults), caught.value.faults
