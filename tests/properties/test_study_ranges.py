"""Numbers beyond anything built are refused by the schema, each with its place and its range."""

import tomllib

import pytest

from lifetime.errors import StudyError
from lifetime.packs.locate import profiles_folder
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
    ("strategy", 1, "split", "time_constant_s"): 1e300,
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
