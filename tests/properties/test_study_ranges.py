"""Numbers beyond anything built are refused by the schema, each with its place and its range."""

import tomllib

import pytest

from lifetime.assessment.run import assess
from lifetime.errors import AssessmentError, StudyError
from lifetime.packs.locate import profiles_folder
from lifetime.results.document import ResultDocument
from lifetime.study.load import Folder, resolve_study

DEMO = profiles_folder() / "demo"

EXTREMES = {
    ("service", "day", "charge_c_rate"): 1e6,
    ("service", "years"): 5e-324,
    ("battery", "thermal", "resistance_K_per_W"): 1e9,
    ("battery", "thermal", "heat_capacity_J_per_K"): 5e-324,
    ("ultracapacitor", "thermal", "resistance_K_per_W"): 1e9,
    ("ultracapacitor", "thermal", "heat_capacity_J_per_K"): 5e-324,
    ("battery", "cell_capacity_Ah"): 1e-6,
    ("battery", "resistance_ohm"): 1e300,
    ("battery", "price", "purchase_per_kWh"): 1e300,
    ("ultracapacitor", "maximum_current_A"): 1e300,
    ("strategy", 1, "split", "battery_loss"): {"efficiency": 5e-324},
    ("strategy", 3, "split", "time_constant_s"): 1e300,
}


@pytest.mark.parametrize("place", EXTREMES, ids=lambda place: ".".join(map(str, place)))
def test_a_value_beyond_anything_built_is_refused_with_its_place(place):
    """Each of these ended a worker, or asked for gigabytes; the schema says the range."""
    study = tomllib.loads((DEMO / "yard_tractor.toml").read_text(encoding="utf-8"))
    for source in ("battery", "ultracapacitor"):
        study[source]["thermal"] = {"resistance_K_per_W": 0.02, "heat_capacity_J_per_K": 1e5}
    target = study
    for key in place[:-1]:
        target = target[key]
    target[place[-1]] = EXTREMES[place]
    with pytest.raises(StudyError) as caught:
        resolve_study(study, "study", Folder(DEMO))
    assert any(str(place[-1]) in one.place and one.message.startswith("must be ") for one in caught.value.faults)


def demo(**changes):
    """The demo with one strategy and keys changed, by path."""
    study = tomllib.loads((DEMO / "yard_tractor.toml").read_text(encoding="utf-8"))
    study["strategy"] = study["strategy"][1:2]
    for path, value in changes.items():
        *sections, key = path.split(".")
        target = study
        for name in sections:
            target = target.setdefault(name, {})
        target[key] = value
    return study


def test_a_pack_that_warms_within_a_second_is_a_fault_of_units():
    """0.004 K/W times 0.001 J/K are 4e-6 s; every interval was cut into 64 pieces for that, for minutes."""
    with pytest.raises(StudyError) as caught:
        resolve_study(demo(**{"battery.thermal.heat_capacity_J_per_K": 1e-3}), "study", Folder(DEMO))
    (fault,) = caught.value.faults
    assert fault.place == "battery.thermal"
    assert "time constant of 4e-06 s" in fault.message


BEYOND = {
    "thermal resistance": {"ultracapacitor.thermal.resistance_K_per_W": 1e4},
    "resistance": {"battery.resistance_ohm": 1e6},
    "charging": {"service.day.charge_c_rate": 1e3, "battery.thermal.resistance_K_per_W": 1e4},
}


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("changes", BEYOND.values(), ids=BEYOND)
def test_the_ends_of_the_ranges_are_answered_or_refused_in_words(changes):
    """Within the ranges nothing overflows: some of these are a requirement not met, others say what is too hot."""
    loaded = resolve_study(demo(**changes), "study", Folder(DEMO))
    try:
        ResultDocument.of(assess(loaded))
    except AssessmentError as error:
        assert "beyond any cell" in str(error)  # noqa: PT017 - either outcome is right, anything else is not


def test_a_vehicle_that_never_works_has_its_distance_all_the_same(tmp_path):
    """Two seconds at 10 m/s from a constant speed are 20 m, whatever the number of working days."""
    (tmp_path / "speed.csv").write_text("t_s,v\n0,10\n1,10\n2,10\n", encoding="utf-8")
    study = demo(**{"service.working_days_per_year": 0.0, "service.day.drive_repeats": 1})
    study["service"]["distance_km_per_day"] = 60
    study["vehicle"] = {"mass_kg": 1500, "rolling_resistance": 0.01, "drag_area_m2": 0.6}
    study["strategy"][0]["demand"] = {"file": "speed.csv", "time": "t_s", "speed": "v", "speed_unit": "m/s"}
    result = assess(resolve_study(study, "study", Folder(tmp_path)))
    said = [one.message for one in result.strategies[0].notices if "0.02 km" in one.message]
    assert len(said) == 1, [one.message for one in result.strategies[0].notices]
