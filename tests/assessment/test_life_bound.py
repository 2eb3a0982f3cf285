"""Where a life is a bound, what a model gives without its limits, and the words for both; worked by hand."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from lifetime.ageing.contract import Stress
from lifetime.ageing.validity import Validity, share_inside
from lifetime.assessment.life_bound import life_bound
from lifetime.packs.load import load_cell
from lifetime.report.words import bounded_life, life_words


def stress(**given):
    """Two equal stretches of time and two equal shares of throughput, inside every range unless said."""
    two = np.ones(2)
    values = {
        "duration_s": two,
        "soc": 0.5 * two,
        "temperature_K": 303.15 * two,
        "voltage_V": 3.6 * two,
        "count": two,
        "depth": 0.5 * two,
        "mean_soc": 0.5 * two,
        "c_rate": 0.5 * two,
        "charge_c_rate": 0.5 * two,
        "discharge_c_rate": 0.5 * two,
        "cycle_temperature_K": 303.15 * two,
        "rms_voltage_V": 3.6 * two,
        "throughput_fec": 0.5 * two,
        "rms_current_A": np.zeros(()),
    }
    return Stress(**(values | {name: np.asarray(value, dtype=np.float64) for name, value in given.items()}))


def law(name, kind="battery"):
    return load_cell(name, kind, Path()).law


def test_share_inside_is_the_smaller_of_times_and_throughputs():
    validity = Validity(temperature_K=(273.15, 333.15), soc=(0.1, 0.9), c_rate=(0.2, 1.0))
    # A quarter of the time is too hot, and half of the throughput is too fast.
    block = stress(duration_s=[3.0, 1.0], temperature_K=[300.0, 340.0], c_rate=[0.5, 2.0])
    assert share_inside(block, validity) == pytest.approx(0.5)
    # Outside in two ways is outside once; outside in one way each, both are.
    assert share_inside(stress(temperature_K=[300.0, 340.0], soc=[0.5, 0.95]), validity) == pytest.approx(0.5)
    assert share_inside(stress(temperature_K=[340.0, 300.0], soc=[0.5, 0.95]), validity) == 0.0
    assert share_inside(stress(), validity) == 1.0


@pytest.mark.parametrize(
    ("name", "given", "bound"),
    [
        ("lfp_naumann_2020", {"c_rate": [1.5, 2.0]}, "at_most"),
        ("lfp_schimpe_2018", {"charge_c_rate": [3.0, 3.0]}, "at_most"),
        ("nmc_schmalstieg_2014", {"temperature_K": [270.0, 270.0]}, "at_least"),
        ("lfp_naumann_2020", {"temperature_K": [260.0, 260.0]}, "about"),
    ],
)
def test_a_held_model_errs_one_way_and_an_extrapolated_one_either_way(name, given, bound):
    assert life_bound(law(name), stress(**given)) == bound


@pytest.mark.parametrize(
    ("bound", "years", "words"),
    [
        ("at_most", 8.2, "at most 9 years"),
        ("at_least", 8.9, "at least 8 years"),
        ("about", 8.4, "about 8 years"),
        ("at_most", 0.4, "at most 1 year"),
        ("at_least", 0.4, "0.4 years"),
    ],
)
def test_a_bound_has_no_decimals(bound, years, words):
    assert bounded_life(bound, years) == words


def test_a_bank_that_its_model_does_not_limit_has_no_number():
    bank = SimpleNamespace(life_state="not_limited_by_model", life_years=23.4, life_bound="about")
    assert life_words(bank) == "not limited by this model"


def test_without_limits_naumanns_coefficient_at_2_C_is_1_394_of_that_at_1_C():
    # (0.0630 * 2 + 0.0971) / (0.0630 + 0.0971) = 1.394; the clock holds its square.
    held = law("lfp_naumann_2020")
    free = held.without_limits()
    at = {rate: free.clocks(stress(c_rate=[rate, rate]))[2] for rate in (1.0, 2.0)}
    assert at[2.0] / at[1.0] == pytest.approx(1.394**2, rel=1e-3)
    assert held.clocks(stress(c_rate=[2.0, 2.0]))[2] == held.clocks(stress(c_rate=[1.0, 1.0]))[2]


def test_without_limits_schimpes_charging_at_3_C_is_196_4_times_that_at_1_C():
    free = law("lfp_schimpe_2018").without_limits()
    at = {rate: free.clocks(stress(charge_c_rate=[rate, rate]))[2] for rate in (1.0, 3.0)}
    assert at[3.0] / at[1.0] == pytest.approx(196.4**2, rel=1e-3)


def test_a_model_that_is_held_nowhere_is_its_own():
    xu = law("lmo_xu_2018")
    assert xu.without_limits() is xu
