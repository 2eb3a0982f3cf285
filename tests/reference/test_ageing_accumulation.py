"""Ageing under changing stress at hand-checked points.

``x = (sum k_i^(1/z) du_i)^z``: exact, and independent of order and step. Expected numbers were computed outside this
program from the printed equations, or by hand in closed form where it says so; the tolerance is half a unit of the
last printed digit. On combining ageing under varying conditions: Redondo-Iglesias, Venet, Pelissier, Batteries 6
(2020) 14, doi 10.3390/batteries6010014.
"""

from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from lifetime.ageing.accumulate import turn
from lifetime.ageing.arrhenius import arrhenius_factor
from lifetime.ageing.contract import Stress
from lifetime.packs.load import load_cell

DAY_S = 86400.0


def agrees(actual, printed):
    number = Decimal(printed)
    half = 0.5 * 10.0 ** number.as_tuple().exponent
    assert abs(float(actual) - float(number)) <= half * (1 + 1e-6), f"{float(actual)!r} against printed {printed}"


def law(profile):
    return load_cell(profile, "battery", Path()).law


def storage(days, T_C, *, s=0.5, V=3.667):
    one, none = np.ones(1), np.zeros(0)
    return Stress(
        duration_s=one * days * DAY_S,
        soc=one * s,
        temperature_K=one * (T_C + 273.15),
        voltage_V=one * V,
        count=none,
        depth=none,
        mean_soc=none,
        c_rate=none,
        charge_c_rate=none,
        discharge_c_rate=none,
        cycle_temperature_K=none,
        rms_voltage_V=none,
        throughput_fec=none,
        rms_current_A=np.zeros(()),
    )


def cycles(count, depth, mean_soc, *, C=0.5, Vm=3.667, T_C=25.0):
    count, depth, mean_soc = (np.asarray(x, dtype=float) for x in (count, depth, mean_soc))
    none, like = np.zeros(0), np.ones_like(depth)
    return Stress(
        duration_s=none,
        soc=none,
        temperature_K=none,
        voltage_V=none,
        count=count,
        depth=depth,
        mean_soc=mean_soc,
        c_rate=like * C,
        charge_c_rate=like * C,
        discharge_c_rate=like * C,
        cycle_temperature_K=like * (T_C + 273.15),
        rms_voltage_V=like * Vm,
        throughput_fec=count * depth,
        rms_current_A=np.zeros(()),
    )


def loss_percent(a_law, clocks):
    return 100 * (1 - a_law.fade(clocks).capacity_fraction)


def test_root_law_through_two_climates():
    # 180 d at 10 °C, s 0.5, then 185 d at 35 °C, s 0.8: k = 5.250524e-6 and 1.068718e-5 s^-0.5
    m2 = law("lfp_naumann_2020")
    first, second = m2.clocks(storage(180, 10)), m2.clocks(storage(185, 35, s=0.8))
    agrees(np.sqrt(first[0] / (180 * DAY_S)), "5.250524e-6")
    agrees(np.sqrt(second[0] / (185 * DAY_S)), "1.068718e-5")
    agrees(loss_percent(m2, first + second), "4.748012")
    agrees(loss_percent(m2, second + first), "4.748012")
    # the usual mistakes, for contrast
    k1, k2 = 5.250524e-6, 1.068718e-5
    agrees(100 * (k1 * 180 + k2 * 185) / 365 * np.sqrt(365 * DAY_S), "4.4960")
    agrees(100 * (k1 * np.sqrt(180 * DAY_S) + k2 * np.sqrt(185 * DAY_S)), "6.3433")


def test_three_quarter_law_through_two_climates():
    # M1: 180 d at 25 °C, 3.667 V, then 185 d at 40 °C, 3.9 V
    m1 = law("nmc_schmalstieg_2014")
    clocks = m1.clocks(storage(180, 25)) + m1.clocks(storage(185, 40, V=3.9))
    agrees(loss_percent(m1, clocks), "6.603391")


def test_cycles_of_two_depths():
    # M1: 500 FEC at depth 0.8 and 500 at 0.1; averaging the coefficient gives 16.625 %, adding roots 23.512 %
    m1 = law("nmc_schmalstieg_2014")
    deep, shallow = cycles([625], [0.8], [0.5]), cycles([5000], [0.1], [0.5])
    agrees(loss_percent(m1, m1.clocks(deep) + m1.clocks(shallow)), "18.975015")


def test_half_the_time_colder_half_hotter_costs_more_than_the_mean():
    m2 = law("lfp_naumann_2020")
    split = m2.clocks(storage(50, 15)) + m2.clocks(storage(50, 35))
    agrees(loss_percent(m2, split) / loss_percent(m2, m2.clocks(storage(100, 25))), "1.045")


# cycles counted from 0.9 0.5 0.6 0.3 0.45 0.2 0.7 0.65 0.8 0.4 0.9 (ASTM E1049 three-point rule)
TRACE = ([1, 1, 1, 1, 0.5, 0.5], [0.10, 0.15, 0.05, 0.40, 0.70, 0.70], [0.55, 0.375, 0.675, 0.60, 0.55, 0.55])


def test_counted_trace():
    trace = cycles(*TRACE)
    agrees(trace.throughput_fec.sum(), "1.4")
    m5, m3 = law("lmo_xu_2018"), law("lfp_naumann_2020")
    agrees(m5.clocks(trace).sum(), "4.431826e-5")
    agrees(m3.clocks(trace)[2] * 1e4, "0.02337578")
    agrees(loss_percent(m3, m3.clocks(trace)), "0.152891")


def test_counted_trace_a_thousand_times():
    m5, m3 = law("lmo_xu_2018"), law("lfp_naumann_2020")
    agrees(loss_percent(m3, 1000 * m3.clocks(cycles(*TRACE))), "4.834850")
    agrees(loss_percent(m5, 1000 * m5.clocks(cycles(*TRACE))), "9.808828")


def root_law_percent(*steps):
    k, time = (np.array(column, dtype=float) for column in zip(*steps, strict=True))
    return np.sqrt(turn(k**2, time))


def test_root_law_with_changing_rate_by_hand():
    # closed form: sqrt(1^2 1 + 2^2 1) = 2.236; 2 sqrt(1 + 3) = 4; twelve monthly steps of one rate make no difference
    agrees(root_law_percent((1, 1), (2, 1)), "2.236")
    agrees(root_law_percent((2, 1), (1, 1)), "2.236")
    agrees(root_law_percent((1, 4), (2, 3)), "4.0")
    agrees(root_law_percent(*[(1, 1 / 12)] * 12), "1.0")


def test_extrapolating_a_root_law_by_hand():
    # closed form: 2.5 % after 10 months is 2.5 sqrt(12) = 8.66 % after 10 years, not 30 %
    m2 = law("lfp_naumann_2020")
    ten_months = m2.clocks(storage(300, 25))
    ratio = loss_percent(m2, 12 * ten_months) / loss_percent(m2, ten_months)
    agrees(2.5 * ratio, "8.66")


def factor(T_C):
    return arrhenius_factor(
        np.asarray(T_C, dtype=float) + 273.15,
        activation_J_per_mol=50e3,
        gas_constant_J_per_mol_K=8.314462618,
        reference_temperature_K=298.15,
    )


def test_mean_rate_is_not_the_rate_at_the_mean_temperature():
    # Arrhenius in closed form, 50 kJ/mol: 12 h at 10 °C and 12 h at 50 °C; then twelve monthly means
    cold, hot = factor([10, 50])
    agrees(cold, "0.3435")
    agrees(hot, "4.7607")
    agrees((cold + hot) / 2, "2.552")
    agrees(factor(30), "1.395")
    agrees((cold + hot) / 2 / factor(30), "1.83")
    equivalent_K = 1 / (1 / 298.15 - 8.314462618 / 50e3 * np.log((cold + hot) / 2))
    agrees(equivalent_K - 273.15, "39.5")
    months = [-2, 0, 5, 10, 15, 20, 23, 22, 17, 11, 5, 0]
    agrees(factor(months).mean(), "0.4249")
    agrees(factor(np.mean(months)), "0.3566")


@pytest.mark.parametrize(
    "profile", ["lfp_naumann_2020", "lfp_schimpe_2018", "nmc_schmalstieg_2014", "lmo_xu_2018", "lfp_power_wang_2011"]
)
def test_depth_zero_does_nothing_and_depth_above_one_stays_finite(profile):
    # by definition: no swing, no wear, and no division by zero
    a_law = law(profile)
    assert (a_law.clocks(cycles([1], [0.0], [0.5])) == 0.0).all()
    tiny = a_law.clocks(cycles([1], [1e-12], [0.5]))
    assert (tiny >= 0.0).all()
    assert (tiny < 1e-9).all()
    beyond = a_law.clocks(cycles([1], [1.3], [0.5]))
    assert np.isfinite(beyond).all()
    assert (beyond >= 0.0).all()


@pytest.mark.parametrize("profile", ["lfp_naumann_2020", "nmc_schmalstieg_2014", "lmo_xu_2018"])
def test_depth_above_one_is_announced(profile):
    notices = law(profile).range_notices(cycles([1, 1], [0.5, 1.3], [0.5, 0.5]))
    (notice,) = [notice for notice in notices if notice.code == "depth_above_range"]
    assert "72.2 % of the throughput" in notice.message  # 1.3 of 1.8, by hand
