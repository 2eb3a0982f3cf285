"""Published battery laws at hand-checked points.

Every expected number was computed from the printed equation of the cited paper (coefficients identical in at least two
unrelated published reproductions of it) outside this program; the tolerance is half a unit of its last printed digit.
Sources: M1 Schmalstieg et al. 2014, doi 10.1016/j.jpowsour.2014.02.012; M2 Naumann et al. 2018,
doi 10.1016/j.est.2018.01.019; M3 Naumann et al. 2020, doi 10.1016/j.jpowsour.2019.227666; M4 Schimpe et al. 2018,
doi 10.1149/2.1181714jes; M5 Xu et al. 2018, doi 10.1109/TSG.2016.2578950; M6 Wang et al. 2011,
doi 10.1016/j.jpowsour.2010.11.134.
"""

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from lifetime.ageing import naumann, schimpe, schmalstieg, wang, xu
from lifetime.ageing.contract import Stress
from lifetime.packs.load import load_cell

DAY_S = 86400.0
YEAR_D = 365.0


def agrees(actual, printed):
    number = Decimal(printed)
    half = 0.5 * 10.0 ** number.as_tuple().exponent
    assert abs(float(actual) - float(number)) <= half * (1 + 1e-6), f"{float(actual)!r} against printed {printed}"


def law(profile):
    return load_cell(profile, "battery", Path()).law


def block(*, days=0.0, T_C=25.0, s=0.5, V=3.667, fec=0.0, d=0.8, C=1.0, charge_C=1.0, Vm=3.667, mean=0.5):
    """One state and one class of cycles."""
    one = np.ones(1)
    return Stress(
        duration_s=one * days * DAY_S,
        soc=one * s,
        temperature_K=one * (T_C + 273.15),
        voltage_V=one * V,
        count=one * fec / d,
        depth=one * d,
        mean_soc=one * mean,
        c_rate=one * C,
        charge_c_rate=one * charge_C,
        discharge_c_rate=one * C,
        cycle_temperature_K=one * (T_C + 273.15),
        rms_voltage_V=one * Vm,
        throughput_fec=one * fec,
        rms_current_A=np.zeros(()),
    )


def losses_percent(profile_or_law, stress):
    a_law = law(profile_or_law) if isinstance(profile_or_law, str) else profile_or_law
    loss = a_law.capacity_loss_by_mechanism(a_law.clocks(stress))
    return {m.name: 100 * loss[i] for i, m in enumerate(a_law.mechanisms)}


def growth_percent(a_law, stress):
    return 100 * (a_law.fade(a_law.clocks(stress)).resistance_ratio - 1)


# ---- M1 Schmalstieg -------------------------------------------------------------------------------------------------


def test_M1_calendar_coefficients():
    m1 = law("nmc_schmalstieg_2014")
    V, T = np.array([3.667, 3.667, 3.9, 4.1]), np.array([25.0, 35.0, 50.0, 25.0]) + 273.15
    a_cap = m1.calendar_capacity_coefficient(V, T)
    for value, printed in zip(a_cap, ("2.696126e-4", "5.760989e-4", "2.388227e-3", "4.948162e-4"), strict=True):
        agrees(value, printed)
    agrees(m1.calendar_resistance_coefficient(V, T)[0], "5.734101e-4")


@pytest.mark.parametrize(
    ("V", "T_C", "days", "loss", "growth"),
    [
        (3.667, 25, 365, "2.2514", "4.7883"),
        (3.667, 35, 365, "4.8108", "9.1864"),
        (3.9, 50, 200, "12.7013", "20.3044"),
        (4.1, 25, 3650, "23.2361", "47.3736"),
    ],
)
def test_M1_calendar(V, T_C, days, loss, growth):
    stress = block(days=days, T_C=T_C, V=V)
    agrees(losses_percent("nmc_schmalstieg_2014", stress)["calendar_capacity"], loss)
    agrees(growth_percent(law("nmc_schmalstieg_2014"), stress), growth)


@pytest.mark.parametrize(
    ("Vm", "d", "fec", "b_cap", "loss", "growth"),
    [
        (3.667, 0.8, 1000, "4.024800e-3", "25.7713", "85.835"),
        (3.667, 0.1, 1000, "1.168100e-3", "7.4795", "6.150"),  # b_res 1.349e-5 is lifted to its floor 1.5e-5
        (3.95, 0.5, 500, "3.388994e-3", "15.3443", "27.796"),
    ],
)
def test_M1_cycle(Vm, d, fec, b_cap, loss, growth):
    m1 = law("nmc_schmalstieg_2014")
    stress = block(fec=fec, d=d, Vm=Vm)
    agrees(m1.cycle_capacity_coefficient(np.array([Vm]), np.array([d]))[0], b_cap)
    agrees(losses_percent(m1, stress)["cycle_capacity"], loss)
    agrees(growth_percent(m1, stress), growth)


def test_M1_cycle_resistance_coefficient_and_floor():
    m1 = law("nmc_schmalstieg_2014")
    agrees(m1.cycle_resistance_coefficient(np.array([3.667]), np.array([0.8]))[0], "2.093543e-4")
    agrees(m1.unfloored_cycle_resistance(np.array([3.667]), np.array([0.1]))[0], "1.349e-5")
    # negative below a depth of 0.054 at the voltage of least wear
    shallow, deeper = m1.unfloored_cycle_resistance(np.array([3.725, 3.725]), np.array([0.0535, 0.0545]))
    assert shallow < 0 < deeper


@pytest.mark.parametrize(
    ("d", "fec"), [(0.05, "10497"), (0.1, "7150"), (0.2, "3927"), (0.5, "1244"), (0.8, "602"), (1.0, "416")]
)
def test_M1_throughput_to_20_percent(d, fec):
    b_cap = law("nmc_schmalstieg_2014").cycle_capacity_coefficient(np.array([3.667]), np.array([d]))[0]
    agrees((0.20 / b_cap) ** 2 / 4.10, fec)


def test_M1_sign_changes_and_voltage_sensitivity():
    m1 = law("nmc_schmalstieg_2014")
    agrees(-m1.calendar_capacity_voltage_intercept / m1.calendar_capacity_voltage_slope, "3.1486")
    agrees(-m1.calendar_resistance_voltage_intercept / m1.calendar_resistance_voltage_slope, "3.0968")
    at, more = m1.calendar_capacity_coefficient(np.array([3.7, 3.75]), np.array([298.15, 298.15]))
    agrees(100 * (more / at - 1), "9.1")
    agrees(8.314e-3 * m1.calendar_capacity_activation_K, "58.0")
    agrees(8.314e-3 * m1.calendar_resistance_activation_K, "49.8")


def test_M1_half_the_time_at_15_and_35_against_25_degrees():
    # without the floor at 25 °C, which is not part of the equation
    m1 = replace(law("nmc_schmalstieg_2014"), calendar_temperature_floor_K=200.0)
    split = m1.clocks(block(days=50, T_C=15)) + m1.clocks(block(days=50, T_C=35))
    mean = m1.clocks(block(days=100, T_C=25))
    agrees((1 - m1.fade(split).capacity_fraction) / (1 - m1.fade(mean).capacity_fraction), "1.386")


def scaled_to_a_vehicle_cell():
    """M1 with factors on its coefficients (one published code); a set of them was shipped once."""
    m1 = law("nmc_schmalstieg_2014")
    return replace(m1, capacity_scale=0.425271804835512, resistance_scale=0.115328129947322)


def test_M1b_scaled_to_a_vehicle_cell():
    scaled = scaled_to_a_vehicle_cell()
    agrees(losses_percent(scaled, block(days=3650))["calendar_capacity"], "5.384")
    cycled = block(fec=1000, d=0.8)
    agrees(losses_percent(scaled, cycled)["cycle_capacity"], "10.960")
    agrees(growth_percent(scaled, cycled), "9.899")
    five_years = losses_percent(scaled, block(days=5 * YEAR_D, V=3.75, fec=300, d=0.3, Vm=3.75))
    agrees(five_years["calendar_capacity"], "3.714")
    agrees(five_years["cycle_capacity"], "3.035")


# ---- M2 and M3 Naumann ----------------------------------------------------------------------------------------------


def naumann_k_q(T_C, s):
    m2 = law("lfp_naumann_2020")
    return naumann.calendar_capacity_coefficient(
        np.array([T_C + 273.15]),
        np.array([s]),
        k_ref=m2.calendar_capacity_rate,
        Ea=m2.calendar_capacity_activation_J_per_mol,
        R=m2.gas_constant_J_per_mol_K,
        T_ref=m2.reference_temperature_K,
        a=m2.calendar_capacity_soc_cubic,
        s0=m2.calendar_soc_centre,
        c=m2.calendar_capacity_soc_constant,
    )[0]


@pytest.mark.parametrize(
    ("T_C", "s", "days", "k_q", "loss", "growth"),
    [
        (25, 0.5, 365, "7.570885e-6", "4.2516", "1.6824"),
        (25, 1.0, 365, "1.206109e-5", "6.7731", "2.5963"),
        (40, 0.5, 885, "1.054056e-5", "9.2171", "16.3435"),
        (60, 1.0, 885, "2.492268e-5", "21.7933", "132.13"),
        (25, 0.5, 3650, "7.570885e-6", "13.4447", "16.82"),
    ],
)
def test_M2_calendar(T_C, s, days, k_q, loss, growth):
    # As the equation was first reproduced; the shipped set has the other sign.
    plus_sign = replace(law("lfp_naumann_2020"), calendar_resistance_soc_quadratic=3.3903)
    stress = block(days=days, T_C=T_C, s=s)
    agrees(naumann_k_q(T_C, s), k_q)
    agrees(losses_percent(plus_sign, stress)["calendar_capacity"], loss)
    agrees(growth_percent(plus_sign, stress), growth)


def test_M2_resistance_is_shipped_with_the_sign_of_the_authors_own_cells():
    """Growth is greatest at half charge in the open storage data, doi 10.17632/kxh42bfgtj.1; by hand
    3.419e-10 * 31,536,000 * (1.5604 - 3.3903 / 4) = 0.769 %."""
    shipped = law("lfp_naumann_2020")
    for s, printed in ((0.0, "0.769"), (0.5, "1.682"), (1.0, "0.769")):
        agrees(growth_percent(shipped, block(days=365, s=s)), printed)


def test_M2_sign_of_the_quadratic_term_matters_at_the_ends():
    m2 = law("lfp_naumann_2020")
    for quadratic, printed in ((3.3903, "2.408"), (m2.calendar_resistance_soc_quadratic, "0.713")):
        rate = naumann.calendar_resistance_rate(
            np.array([298.15]),
            np.array([0.0]),
            k_ref=1.0,
            Ea=0.0,
            R=8.314,
            T_ref=298.15,
            quadratic=quadratic,
            s0=0.5,
            constant=m2.calendar_resistance_soc_constant,
        )
        agrees(rate[0], printed)


@pytest.mark.parametrize(
    ("T_C", "s", "naumann_loss", "schimpe_loss"),
    [
        (10, 0.5, "2.95", "2.53"),
        (25, 0.5, "4.25", "3.93"),
        (45, 0.5, "6.56", "6.63"),
        (60, 0.5, "8.79", "9.41"),
        (25, 1.0, "6.77", "6.47"),
    ],
)
def test_M2_and_M4_agree_on_one_year_of_storage(T_C, s, naumann_loss, schimpe_loss):
    stress = block(days=365, T_C=T_C, s=s)
    agrees(losses_percent("lfp_naumann_2020", stress)["calendar_capacity"], naumann_loss)
    agrees(losses_percent("lfp_schimpe_2018", stress)["calendar_capacity"], schimpe_loss)


def naumann_k_c(C, d):
    m3 = law("lfp_naumann_2020")
    return naumann.cycle_coefficient_percent(
        np.array([C]),
        np.array([d]),
        slope=m3.cycle_capacity_rate_slope,
        intercept=m3.cycle_capacity_rate_constant,
        cubic_term=m3.cycle_capacity_depth_cubic,
        centre=m3.cycle_capacity_depth_centre,
        constant=m3.cycle_capacity_depth_constant,
    )[0]


@pytest.mark.parametrize(
    ("C", "d", "fec", "k", "loss", "growth_a", "growth_b"),
    [
        # by hand 1e-4 * (6.8477 * 0.125 + 0.91882) * 1000 = 0.177478; the note we work from prints 0.178, rounded twice
        (1, 1.0, 1000, "0.216122", "6.8344", "0.887", "0.1775"),
        (1, 0.8, 1000, "0.180033", "5.6931", "0.552", "0.110"),
        (0.5, 0.8, 1000, "0.144611", "4.5730", "1.545", "1.214"),
        # by hand (6.8477 * 0.027 + 0.91882) (0.0023 - 0.2 * 0.0018) 1000 and (0.0021 - 0.2 * 0.0020)
        (0.2, 0.8, 1000, "0.123358", "3.9009", "2.141", "1.876"),
        (1, 0.2, 1000, "0.133632", "4.2258", "0.367", "0.073"),
        (0.5, 0.1, 5000, "0.075763", "5.3573", "3.364", "2.643"),
    ],
)
def test_M3_cycle(C, d, fec, k, loss, growth_a, growth_b):
    m3 = law("lfp_naumann_2020")
    stress = block(fec=fec, d=d, C=C)
    agrees(naumann_k_c(C, d), k)
    agrees(losses_percent(m3, stress)["cycle_capacity"], loss)
    agrees(growth_percent(m3, stress), growth_a)
    version_b = replace(m3, cycle_resistance_rate_slope=-0.0020, cycle_resistance_rate_constant=0.0021)
    agrees(growth_percent(version_b, stress), growth_b)


def test_M3_depth_factor():
    m3 = law("lfp_naumann_2020")
    d = np.array([0, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0])
    factor = naumann.cubic(
        d,
        cubic_term=m3.cycle_capacity_depth_cubic,
        centre=m3.cycle_capacity_depth_centre,
        constant=m3.cycle_capacity_depth_constant,
    )
    printed = ("0.2228", "0.4226", "0.5891", "0.8347", "1.0601", "1.0923", "1.1245", "1.3499")
    for value, text in zip(factor, printed, strict=True):
        agrees(value, text)


@pytest.mark.parametrize(("C", "d", "fec"), [(0.5, 0.8, "19127"), (1, 0.8, "12341"), (1, 1.0, "8564")])
def test_M3_throughput_to_20_percent(C, d, fec):
    agrees((20.0 / naumann_k_c(C, d)) ** 2, fec)


def test_M3_beyond_the_tested_rate():
    agrees(naumann_k_c(2.0, 0.8) / naumann_k_c(1.0, 0.8), "1.394")
    agrees((naumann_k_c(2.0, 0.8) / naumann_k_c(1.0, 0.8)) ** 2, "1.94")
    held = losses_percent("lfp_naumann_2020", block(fec=1000, C=2.0))["cycle_capacity"]
    agrees(held, "5.6931")  # the 1 C row above: the law is held there
    # the resistance line turns negative above 1.28 C (version A) or 1.05 C (version B) and is floored at 0
    for slope, intercept, crossing in ((-0.0018, 0.0023, "1.28"), (-0.0020, 0.0021, "1.05")):
        agrees(-intercept / slope, crossing)
        k = naumann.cycle_coefficient_percent(
            np.array([2.0]), np.array([0.8]), slope=slope, intercept=intercept, cubic_term=0.0, centre=0.0, constant=1.0
        )
        assert k[0] == 0.0


def test_ten_years_of_storage_and_daily_cycles_add():
    # separate states, added: 13.44 + 8.74 = 22.18 % (the multiplicative rule would give 21.01 %)
    both = losses_percent("lfp_naumann_2020", block(days=3650, fec=3650, d=0.8, C=0.5))
    agrees(both["calendar_capacity"], "13.44")
    agrees(both["cycle_capacity"], "8.74")
    agrees(sum(both.values()), "22.18")


# ---- M4 Schimpe -----------------------------------------------------------------------------------------------------


def test_M4_anode_potential():
    s = np.array([0, 0.1, 0.25, 0.5, 0.7, 0.9, 1.0])
    printed = ("0.68435", "0.23325", "0.16388", "0.12330", "0.10839", "0.08818", "0.08638")
    for value, text in zip(law("lfp_schimpe_2018").anode_potential_V(s), printed, strict=True):
        agrees(value, text)


def test_M4_calendar_coefficient():
    s = np.array([0, 0.25, 0.5, 0.9, 1.0])
    k_cal = law("lfp_schimpe_2018").calendar_coefficient(np.full(5, 298.15), s)
    printed = ("5.2539e-5", "2.5298e-4", "4.2018e-4", "6.7403e-4", "6.9100e-4")
    for value, text in zip(k_cal, printed, strict=True):
        agrees(value, text)


@pytest.mark.parametrize(
    ("T_C", "s", "days", "loss"),
    [
        (25, 0.5, 365, "3.9327"),
        (25, 0.5, 3650, "12.4362"),
        (25, 1.0, 365, "6.4674"),
        (45, 0.5, 365, "6.6296"),
        (10, 0.5, 365, "2.5326"),
    ],
)
def test_M4_calendar(T_C, s, days, loss):
    agrees(losses_percent("lfp_schimpe_2018", block(days=days, T_C=T_C, s=s))["calendar_capacity"], loss)


@pytest.mark.parametrize(
    ("T_C", "high", "low"), [(25, "1.1278", "2.1958"), (45, "2.5845", "0.5368"), (10, "0.5607", "7.1968")]
)
def test_M4_throughput_terms(T_C, high, low):
    loss = losses_percent("lfp_schimpe_2018", block(fec=1000, T_C=T_C))
    agrees(loss["high_temperature_capacity"], high)
    agrees(loss["low_temperature_capacity"], low)


@pytest.mark.parametrize(("charge_C", "low"), [(1.0, "17.0725"), (0.5, "4.5607"), (0.25, "2.3572")])
def test_M4_charging_at_the_freezing_point(charge_C, low):
    loss = losses_percent("lfp_schimpe_2018", block(fec=1000, T_C=0.0, charge_C=charge_C))
    agrees(loss["low_temperature_capacity"], low)


def test_M4_high_charge_term_explodes_in_the_cold():
    m4 = law("lfp_schimpe_2018")
    uncapped = replace(m4, high_soc_temperature_floor_K=200.0)
    # 1000 FEC are 3000 Ah of charge, 18 % of it above the threshold
    share = 0.18
    k_10, k_0 = uncapped.high_soc_coefficient(np.array([283.15, 273.15]), np.ones(2))
    agrees(100 * k_10 * 3000 * share, "15.9")
    # by hand 2.031e-6 exp[2.33e5/8.314 (1/273.15 - 1/298.15)] 540 = 5.9750: printed 597 with the half cut off
    agrees(100 * k_0 * 3000 * share, "597.5")
    # a cycle between 0 and 1 spends 18 % of its charge above 0.82
    agrees(losses_percent(m4, block(fec=1000, T_C=10, d=1.0))["low_temperature_high_soc_capacity"], "15.9")
    # the shipped set holds the term at 10 °C below that
    agrees(losses_percent(m4, block(fec=1000, T_C=0, d=1.0))["low_temperature_high_soc_capacity"], "15.9")


def test_M4_instantaneous_pulses_do_not_belong_in_the_exponent():
    rates = np.array([3.0])
    agrees(schimpe.charge_rate_factor(rates, beta=2.64, reference=1.0)[0], "196")
    agrees(schimpe.charge_rate_factor(rates, beta=7.84, reference=1.0)[0] / 1e6, "6.5")


# ---- M5 Xu ----------------------------------------------------------------------------------------------------------


def test_M5_depth_stress():
    m5 = law("lmo_xu_2018")
    d = np.array([0.01, 0.05, 0.1, 0.2, 0.5, 0.8, 1.0])
    stress = xu.depth_stress(d, k1=m5.depth_k1, k2=m5.depth_k2, k3=m5.depth_k3)
    printed = ("7.7914e-7", "1.98029e-6", "3.11780e-6", "5.24786e-6", "1.33108e-5", "2.97977e-5", "5.88235e-5")
    for value, text in zip(stress, printed, strict=True):
        agrees(value, text)
    agrees(stress[5], "2.9797653244e-5")  # also a literal in one published reproduction


def test_M5_temperature_and_charge_stress():
    m5 = law("lmo_xu_2018")
    T = np.array([10.0, 35.0, 45.0]) + 273.15
    stress = xu.temperature_stress(T, k=m5.temperature_sensitivity_per_K, T_ref=m5.temperature_reference_K)
    for value, text in zip(stress, ("0.334684", "1.955236", "3.665157"), strict=True):
        agrees(value, text)
    agrees(xu.soc_stress(np.array([0.7]), k=m5.soc_sensitivity, s_ref=m5.soc_reference)[0], "1.231213")


@pytest.mark.parametrize(
    ("years", "index", "loss"), [(1, "0.013056", "5.7879"), (5, "0.065280", "11.7039"), (10, "0.130559", "17.2858")]
)
def test_M5_calendar(years, index, loss):
    stress = block(days=years * YEAR_D)
    agrees(law("lmo_xu_2018").clocks(stress).sum(), index)
    agrees(sum(losses_percent("lmo_xu_2018", stress).values()), loss)


def test_M5_cycles():
    stress = block(fec=800, d=0.8)  # 1000 cycles
    agrees(law("lmo_xu_2018").clocks(stress).sum(), "0.029798")
    agrees(sum(losses_percent("lmo_xu_2018", stress).values()), "8.3608")


@pytest.mark.parametrize(("T_C", "loss"), [(25, "25.8099"), (35, "40.9714")])
def test_M5_ten_years_of_daily_cycles(T_C, loss):
    stress = block(days=3650, T_C=T_C, fec=3650 * 0.8, d=0.8)
    agrees(sum(losses_percent("lmo_xu_2018", stress).values()), loss)


def test_M5_index_at_20_percent():
    m5 = law("lmo_xu_2018")
    loss = xu.capacity_loss(np.array([0.163924]), a_sei=m5.sei_share, b_sei=m5.sei_rate)
    agrees(100 * loss[0], "20.0000")


@pytest.mark.parametrize(("d", "ratio"), [(0.05, "1.06"), (0.02, "1.54"), (0.01, "2.09"), (0.005, "2.88")])
def test_M5_tiny_cycles_wear_more_per_throughput(d, ratio):
    m5 = law("lmo_xu_2018")
    tiny, deep = (m5.clocks(block(fec=1, d=depth)).sum() for depth in (d, 0.8))
    agrees(tiny / deep, ratio)


def test_M1_and_M3_tiny_cycles_wear_less_per_throughput():
    # "throughput at d = 0.01 wears 4 % of d = 0.8" (M1), 5.6 % (M3)
    for profile, percent in (("nmc_schmalstieg_2014", "4"), ("lfp_naumann_2020", "5.6")):
        a_law = law(profile)
        tiny, deep = (a_law.clocks(block(fec=1, d=depth))[2] for depth in (0.01, 0.8))
        agrees(100 * tiny / deep, percent)


# ---- M6 Wang --------------------------------------------------------------------------------------------------------


def wang_percent(B, C, T_C, Ah, *, Ea=31700.0, slope=370.3, z=0.55):
    k = wang.coefficient_percent(B, np.array([C]), np.array([T_C + 273.15]), Ea=Ea, slope=slope, R=8.314)
    return k[0] * Ah**z


@pytest.mark.parametrize(
    ("C", "T_C", "Ah", "table", "smooth", "half"),
    [
        (0.5, 25, 2000, "6.2258", "6.1160", "6.0978"),
        (2, 25, 2000, "5.3394", "4.8206", None),
        (6, 25, 2000, "5.7897", "6.0753", None),
        (10, 25, 2000, "12.6212", "9.3138", None),
        (2, 45, 2000, "11.7077", "10.5701", None),
        (0.5, 60, 1533, "20.4527", "20.0921", "20.0089"),
    ],
)
def test_M6_equation(C, T_C, Ah, table, smooth, half):
    m6 = law("lfp_power_wang_2011")
    B = wang.pre_exponential(np.array([C]), c_rates=m6.pre_exponential_c_rates, table=m6.pre_exponential_percent)[0]
    agrees(wang_percent(B, C, T_C, Ah), table)
    agrees(wang_percent(10000 * (15 / C) ** (1 / 3), C, T_C, Ah), smooth)
    if half:
        agrees(wang_percent(30330.0, C, T_C, Ah, Ea=31500.0, slope=0.0, z=0.552), half)


@pytest.mark.parametrize(
    ("C", "T_C", "Ah", "loss"),
    [
        (0.5, 25, 2000, "6.2258"),
        (2, 25, 2000, "5.3394"),
        (6, 25, 2000, "5.7897"),
        (10, 25, 2000, "12.6212"),
        (2, 45, 2000, "11.7077"),
        (0.5, 60, 1533, "20.4527"),
    ],
)
def test_M6_law_counts_discharged_ampere_hours(C, T_C, Ah, loss):
    as_printed = replace(law("lfp_power_wang_2011"), c_rate_hold=0.5)
    # The paper's 1 C is 2 A of discharge of its 2.2 Ah cell (unverified).
    agrees(losses_percent(as_printed, block(fec=Ah / 2.2, C=C * 2.0 / 2.2, T_C=T_C))["cycle_capacity"], loss)


def test_M6_shipped_set_holds_the_rate_below_2_C():
    m6 = law("lfp_power_wang_2011")
    for C in (0.1, 0.5, 2.0):
        agrees(losses_percent(m6, block(fec=2000 / 2.2, C=C * 2.0 / 2.2))["cycle_capacity"], "5.3394")


@pytest.mark.parametrize(
    ("C", "T_C", "Ah"), [(0.5, 25, "16693"), (2, 25, "22071"), (6, 25, "19050"), (10, 25, "4619"), (2, 45, "5295")]
)
def test_M6_throughput_to_20_percent(C, T_C, Ah):
    k = replace(law("lfp_power_wang_2011"), c_rate_hold=0.5).cycle_coefficient_percent(
        np.array([C]), np.array([T_C + 273.15])
    )[0]
    agrees((20.0 / k) ** (1 / 0.55), Ah)


def test_M6_discharge_only_matches_the_papers_cycle_life():
    # the paper reports about 754 cycles to 20 % at 60 °C, C/2, 90 % depth (from memory); 1.98 Ah discharged a cycle
    k = wang_percent(30330.0, 0.5, 60, 1.0, Ea=31500.0, slope=0.0, z=0.552)
    Ah = (20.0 / k) ** (1 / 0.552)
    agrees(Ah, "1531.8")
    agrees(Ah / 1.98, "774")
    agrees(Ah / 1.98 / 2, "387")
    agrees(2**0.55, "1.464")


# ---- all laws -------------------------------------------------------------------------------------------------------


def test_five_kelvin_hot_spot():
    # 30 to 35 °C: factor on the coefficient and on life, from the printed equations
    def ratio(profile, column, power):
        a_law = law(profile)
        cold, hot = (a_law.clocks(block(days=1, fec=1, T_C=T, C=0.5))[column] for T in (30, 35))
        return (hot / cold) ** power, hot / cold

    for (profile, column, power), (k, life) in {
        ("lfp_naumann_2020", 0, 0.5): ("1.117", "1.247"),
        ("lfp_schimpe_2018", 0, 0.5): ("1.142", "1.304"),
        ("lfp_schimpe_2018", 1, 0.5): ("1.234", "1.524"),
        ("nmc_schmalstieg_2014", 0, 0.75): ("1.453", "1.645"),
        ("lmo_xu_2018", 0, 1.0): ("1.391", "1.391"),
    }.items():
        got_k, got_life = ratio(profile, column, power)
        agrees(got_k, k)
        agrees(got_life, life)
    cold, hot = (wang_percent(30330.0, 0.5, T, 1.0, Ea=31500.0, slope=0.0) for T in (30, 35))
    agrees(hot / cold, "1.225")
    agrees((hot / cold) ** (1 / 0.552), "1.444")


def test_same_duty_under_every_law():
    # 25 °C, half charge, 10 years, 2000 FEC at depth 0.8 and C/2
    duty = block(days=3650, fec=2000, d=0.8, C=0.5, charge_C=0.5)
    m3 = losses_percent("lfp_naumann_2020", duty)
    agrees(m3["calendar_capacity"], "13.44")
    agrees(m3["cycle_capacity"], "6.47")
    m4 = losses_percent("lfp_schimpe_2018", duty)
    agrees(m4["calendar_capacity"], "12.44")
    agrees(m4["high_temperature_capacity"] + m4["low_temperature_capacity"], "2.42")
    m1 = losses_percent("nmc_schmalstieg_2014", duty)
    agrees(m1["calendar_capacity"], "12.66")
    agrees(m1["cycle_capacity"], "36.45")
    m1b = losses_percent(scaled_to_a_vehicle_cell(), duty)
    agrees(m1b["calendar_capacity"], "5.38")
    agrees(m1b["cycle_capacity"], "15.50")
    agrees(sum(losses_percent("lmo_xu_2018", duty).values()), "23.22")
    agrees(wang_percent(30330.0, 0.5, 25, 2000 * 2.2, Ea=31500.0, slope=0.0, z=0.552), "9.42")


def test_schmalstieg_functions_take_arrays():
    V, T = np.full((2, 3), 3.667), np.full((2, 1), 298.15)
    a_cap = schmalstieg.calendar_coefficient(V, T, slope=7.543e6, intercept=-23.75e6, activation_K=6976.0)
    assert a_cap.shape == (2, 3)
