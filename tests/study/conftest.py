"""A small sound study, and ways to change it and to say what is wrong with it."""

import copy
import re

import pytest
from pydantic import ValidationError

from lifetime.study.faults import schema_faults
from lifetime.study.schema import Study

SOUND = {
    "title": "Invented",
    "service": {"years": 10, "working_days_per_year": 250, "ambient_C": 20.0},
    "battery": {
        "cell": "lfp_naumann_2020",
        "series": 100,
        "parallel": 2,
        "start_soc": 0.9,
        "price": {"purchase_per_kWh": 150},
    },
    "ultracapacitor": {
        "cell": "edlc_3000F_10K_0p2V",
        "series": 100,
        "parallel": 1,
        "start_voltage_V": 200,
        "minimum_voltage_V": 120,
        "rest_voltage_V": 150,
        "price": {"purchase_per_farad_cell": 0.01},
    },
    "vehicle": {"mass_kg": 1500, "rolling_resistance": 0.01, "drag_area_m2": 0.6},
    "cost": {"currency": "EUR", "discount_rate": 0.05},
    "strategy": [
        {
            "name": "alone",
            "demand": {"file": "log.csv", "time": "t_s", "power": "p_W"},
            "split": {"rule": "battery_only"},
        }
    ],
}

GONE = object()
"""In place of a value: the key is taken out."""


def changed(changes):
    """The sound study with other values at paths such as ``strategy[1].name``."""
    data = copy.deepcopy(SOUND)
    for place, value in changes.items():
        *way, last = [int(step) - 1 if step.isdigit() else step for step in re.findall(r"\w+", place)]
        section = data
        for step in way:
            section = section[step] if isinstance(step, int) else section.setdefault(step, {})
        if value is GONE:
            del section[last]
        else:
            section[last] = copy.deepcopy(value)
    return data


def faults_of(changes):
    """Place and message of everything the schema finds in the study as changed."""
    try:
        Study.model_validate(changed(changes))
    except ValidationError as error:
        return {one.place: one.message for one in schema_faults(error)}
    return {}


@pytest.fixture(scope="session")
def gone():
    """The mark that takes a key out."""
    return GONE


@pytest.fixture(scope="session")
def change():
    """Function from changes by path to the study's plain data."""
    return changed


@pytest.fixture(scope="session")
def faults():
    """Function from changes by path to the schema's faults by place."""
    return faults_of


@pytest.fixture(scope="session")
def accept():
    """Function from changes by path to the study itself."""
    return lambda changes=None: Study.model_validate(changed(changes or {}))
