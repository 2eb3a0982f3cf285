"""Leaving a law's range is said, with the share of time or throughput; staying inside is not."""

import numpy as np
import pytest

from lifetime.ageing.validity import Validity, outside_notices, percent, share_where


def codes(law, stress):
    return {notice.code for notice in law.range_notices(stress)}


INSIDE = {
    "lfp_naumann_2020": {},
    "lfp_schimpe_2018": {},
    "nmc_schmalstieg_2014": {"temperature_K": [310.0], "voltage_V": [3.7]},
    "nmc_ev_scaled": {"temperature_K": [310.0], "voltage_V": [3.7]},
    "lmo_xu_2018": {},
    "lfp_power_wang_2011": {"c_rate": [3.0]},
    "edlc_3000F_10K_0p2V": {"voltage_V": [2.4]},
}


@pytest.mark.parametrize("name", INSIDE)
def test_inside_the_range_nothing_is_said(laws, make_stress, name):
    assert codes(laws[name], make_stress(**INSIDE[name])) == set()


@pytest.mark.parametrize(
    ("name", "outside", "code"),
    [
        ("lfp_naumann_2020", {"temperature_K": [263.15]}, "temperature_below_range"),
        ("lfp_naumann_2020", {"temperature_K": [343.15]}, "temperature_above_range"),
        ("lfp_naumann_2020", {"c_rate": [1.5]}, "c_rate_held"),
        ("lfp_schimpe_2018", {"charge_c_rate": [3.0]}, "charge_c_rate_held"),
        (
            "lfp_schimpe_2018",
            {"cycle_temperature_K": [275.0], "mean_soc": [0.7], "depth": [0.4]},
            "cold_high_soc_charge_capped",
        ),
        ("nmc_schmalstieg_2014", {"voltage_V": [3.0], "temperature_K": [310.0]}, "calendar_voltage_held"),
        ("nmc_schmalstieg_2014", {"depth": [0.02], "temperature_K": [310.0]}, "cycle_resistance_floored"),
        ("nmc_ev_scaled", {"temperature_K": [280.0]}, "calendar_temperature_held"),
        ("lmo_xu_2018", {"depth": [0.005]}, "depth_below_range"),
        ("lmo_xu_2018", {"temperature_K": [280.0]}, "temperature_below_range"),
        ("lfp_power_wang_2011", {"c_rate": [0.5]}, "c_rate_factor_constant"),
        ("lfp_power_wang_2011", {"c_rate": [12.0]}, "c_rate_above_range"),
        ("edlc_3000F_10K_0p2V", {"voltage_V": [1.5]}, "voltage_below_range"),
        ("edlc_3000F_10K_0p2V", {"voltage_V": [2.8]}, "voltage_above_range"),
    ],
)
def test_outside_the_range_is_said(laws, make_stress, name, outside, code):
    assert code in codes(laws[name], make_stress(**outside))


def test_shares_are_weighed_by_time_and_throughput(make_stress):
    stress = make_stress(
        duration_s=[1.0, 3.0],
        temperature_K=[250.0, 300.0],
        soc=[0.5, 0.5],
        count=[1.0, 1.0, 2.0],
        depth=[0.5, 0.5, 0.5],
        c_rate=[0.5, 0.5, 2.0],
    )
    validity = Validity(temperature_K=(273.15, 333.15), c_rate=(0.0, 1.0))
    cold, fast = outside_notices(stress, validity, {})
    assert cold.message.startswith("25 % of the time has a temperature below the law's range (0 °C)")
    assert fast.message.startswith("50 % of the throughput has a C-rate above the law's range (1 C)")


def test_a_value_on_the_bound_is_inside(make_stress):
    validity = Validity(soc=(0.0, 1.0), c_rate=(0.2, 1.0))
    assert outside_notices(make_stress(soc=[1.0 + 1e-12], c_rate=[1.0]), validity, {}) == []


def test_share_without_weight_is_zero_and_broadcasts():
    assert share_where(np.array([True, False]), np.zeros(2)) == 0.0
    assert share_where(np.array([True, False]), np.array([[1.0, 1.0], [3.0, 1.0]])) == pytest.approx(4 / 6)


def test_small_share_never_reads_as_zero():
    assert percent(1e-7) == "Less than 0.1 %"
    assert percent(0.1234) == "12.3 %"
