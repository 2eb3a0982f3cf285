"""What a study may say about a history, and what it may not."""

import pytest
from pydantic import ValidationError

from lifetime.history.record import CLEANING
from lifetime.history.spec import HistoryInput

LEAST = {"file": "log.csv", "time": "t_s", "current": "I_A"}


def test_defaults():
    spec = HistoryInput(**LEAST)
    assert (spec.discharge_is, spec.interpolation, spec.clean, spec.ambient_C) == ("positive", "linear", (), None)
    assert spec.columns() == {"time": ("t_s", "time"), "current": ("I_A", "current")}


def test_surrounding_white_space_of_a_column_does_not_count():
    assert HistoryInput(**(LEAST | {"time": " t_s "})).columns()["time"] == ("t_s", "time")


def test_every_cleaning_step_can_be_asked_for():
    for name in CLEANING:
        assert HistoryInput(**LEAST, clean=[name]).clean == (name,)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"power": "P_W"}, "exactly one"),
        ({"current": None}, "exactly one"),
        ({"colour": "v"}, "Extra inputs"),
        ({"discharge_is": "up"}, "positive"),
        ({"interpolation": "straight"}, "linear"),
        ({"clean": ["polish"]}, "drop_bad_rows"),
        ({"clean": ["sort_by_time", "sort_by_time"]}, "once"),
        ({"clean": ["bridge_gaps", "rest_in_gaps"]}, "contradict"),
        ({"current_unit": "V"}, "not a unit of current"),
        ({"current_unit": "amplitude"}, "known are A, µA, mA, kA"),
        ({"power_unit": "W"}, "no column for power"),
        ({"voltage": "I_A"}, "two quantities"),
        ({"ambient_C": 298.15}, "less than or equal to 60"),
        ({"ambient_C": float("nan")}, "ambient_C"),
        ({"file": ""}, "file"),
        ({"time": ""}, "time"),
    ],
)
def test_faults(change, expected):
    with pytest.raises(ValidationError) as caught:
        HistoryInput(**(LEAST | change))
    assert expected in str(caught.value)


def test_it_is_frozen():
    with pytest.raises(ValidationError):
        HistoryInput(**LEAST).file = "other.csv"
