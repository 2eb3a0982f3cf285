"""Laws of limits and losses through a whole assessment: breaking, resisting and losing never pays."""

import copy

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.assessment.run import assess
from lifetime.study.load import Folder, resolve_study

LAW = settings(max_examples=6, deadline=None)
HIGHEST_C = {"discharge": 2.0, "charge": 4.0 / 3.0}
"""180 A and -120 A of 90 Ah, 30 strings of 3 Ah."""
DEMAND = {"file": "p.csv", "time": "t_s", "power": "p_W", "interpolation": "zero_order_hold"}
CURRENT = {"file": "i.csv", "time": "t_s", "current": "i_A", "interpolation": "zero_order_hold"}
LOW_PASS = {
    "rule": "low_pass",
    "time_constant_s": 12.0,
    "ultracapacitor_setpoint_V": 470.0,
    "ultracapacitor_setpoint_time_constant_s": 90.0,
}


@pytest.fixture(scope="module", autouse=True)
def _where(tmp_path_factory):
    """Two minutes of 90 kW, 15 kW, -60 kW and rest, and the same as a current."""
    global FOLDER  # noqa: PLW0603 - hypothesis gives no fixtures per example
    path = tmp_path_factory.mktemp("limits")
    FOLDER = Folder(path)
    time = np.arange(121.0)
    of_period = time % 40.0
    power = np.select([of_period < 10, of_period < 25, of_period < 32], [90e3, 15e3, -60e3], 0.0)
    for name, column, values in (("p", "p_W", power), ("i", "i_A", power / 500.0)):
        table = np.column_stack([time, values])
        np.savetxt(path / f"{name}.csv", table, delimiter=",", header=f"t_s,{column}", comments="", fmt="%.3f")


ALONE = {"demand": DEMAND, "split": {"rule": "battery_only"}}
WITH_BANK = {"demand": DEMAND, "split": LOW_PASS}
LOG = {"battery": CURRENT}


def study(*strategies, **battery):
    return {
        "title": "limits",
        "service": {
            "years": 10.0,
            "working_days_per_year": 250.0,
            "ambient_C": 20.0,
            "day": {"drive_repeats": 10, "charge_c_rate": 0.3, "charge_to_soc": 0.85},
        },
        "battery": {
            "cell": "lfp_naumann_2020",
            "series": 160,
            "parallel": 30,
            "start_soc": 0.85,
            "resistance_ohm": 0.05,
            "price": {"purchase": 15000.0},
            **battery,
        },
        "ultracapacitor": {
            "cell": "edlc_3000F_10K_0p1V",
            "series": 200,
            "parallel": 2,
            "start_voltage_V": 470.0,
            "minimum_voltage_V": 260.0,
            "maximum_voltage_V": 530.0,
            "rest_voltage_V": 470.0,
            "price": {"purchase": 7000.0},
        },
        "cost": {
            "currency": "EUR",
            "discount_rate": 0.05,
            "electricity_per_kWh": 0.2,
            "rank_unequal_duty": True,
        },
        "strategy": [{"name": str(place), **one} for place, one in enumerate(strategies)],
    }


def assessed(document):
    found = assess(resolve_study(copy.deepcopy(document), "study", FOLDER), in_detail=False).strategies
    return sorted(found, key=lambda one: one.name)


@LAW
@given(side=st.sampled_from(["discharge", "charge"]), over=st.floats(0.2, 0.85) | st.floats(1.02, 2.0))
def test_no_strategy_gains_by_breaking_a_limit(side, over):
    """A limit in parts of the log's highest current: the log that breaks it has no rank, and one that keeps it has.

    A demand, of a power that takes up to 10 % less current, is served within the limit: traction that is then missing
    costs the rank beyond 0.1 %, braking is bought again.
    """
    limits = {side: {"temperature_C": [-40.0], "pulse_1s": [over * HIGHEST_C[side]]}}
    alone, log = assessed(study(ALONE, LOG, limits=limits))
    assert log.breaks_limit == (over < 1.0)
    assert (log.rank is None) == log.breaks_limit
    new = alone.feasibility[0]
    assert (alone.breaks_limit, alone.rank is None) == (False, not new.is_met)
    assert (new.unserved_kWh > 0.0) == (over < 1.0 and side == "discharge")
    assert (new.friction_kWh > 0.0) == (over < 1.0 and side == "charge")
    assert alone.energy.friction_kWh_per_year == pytest.approx(250.0 * new.friction_kWh / 0.92, rel=1e-9)


@settings(LAW, max_examples=4)
@given(resistance_ohm=st.floats(0.05, 1.0), factor=st.floats(1.0, 3.0))
def test_more_resistance_never_raises_what_can_be_delivered(resistance_ohm, factor):
    """A pack that may fall to 460 of 530 V and rise to 560 V, alone and with a bank."""
    bounds = {"minimum_voltage_V": 460.0, "maximum_voltage_V": 560.0}
    low, high = (
        [one.feasibility[0] for one in assessed(study(ALONE, WITH_BANK, resistance_ohm=ohm, **bounds))]
        for ohm in (resistance_ohm, resistance_ohm * factor)
    )
    for less, more in zip(low, high, strict=True):
        assert more.unserved_kWh >= less.unserved_kWh * (1.0 - 1e-9)
        assert more.friction_kWh >= less.friction_kWh * (1.0 - 1e-9)


LOSSES = st.one_of(
    st.fixed_dictionaries({"efficiency": st.floats(0.7, 0.99)}),
    st.fixed_dictionaries({"fixed_W": st.floats(10.0, 500.0)}),
    st.fixed_dictionaries({"linear_V": st.floats(0.1, 3.0), "voltage_V": st.just(500.0)}),
    st.fixed_dictionaries({"quadratic_ohm": st.floats(1e-3, 0.1), "voltage_V": st.just(500.0)}),
)


@LAW
@given(place=st.sampled_from(["battery_loss", "ultracapacitor_loss", "inverter_loss"]), loss=LOSSES)
def test_adding_a_loss_never_lowers_cost(place, loss):
    split = LOW_PASS | {"topology": "two_converters"}
    (free,) = assessed(study({"demand": DEMAND, "split": split}))
    (lossy,) = assessed(study({"demand": DEMAND, "split": split | {place: loss}}))
    assert lossy.life_cycle_cost.net_present_cost > free.life_cycle_cost.net_present_cost
    assert lossy.energy.total_kWh_per_year > free.energy.total_kWh_per_year
