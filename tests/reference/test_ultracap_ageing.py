"""Ultracapacitor ageing at hand-checked points.

Life ratings: 1500 h at 2.7 V and 65 °C, 1500 h at 2.3 V and 85 °C, 10 years at 2.7 V and 25 °C (datasheets of the
2.7 V family); 2500 h at 2.7 V and 65 °C (another maker's 2000 F sheet). Slopes: 10 K and 1.3 times per 0.1 V (a maker's
life note); 10 K and 0.1 V (Bohlen, Kowal, Sauer, J. Power Sources 172 (2007) 468, doi 10.1016/j.jpowsour.2007.07.021,
from memory). Everything else was computed from the printed forms outside this program or in closed form; the tolerance
is half a unit of the last printed digit.
"""

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from scipy.special import i0

from lifetime.ageing.contract import Stress
from lifetime.ageing.ultracapacitor import cycle_damage, fade_shape
from lifetime.packs.load import load_cell

SETS = {
    "0p2V": "edlc_3000F_10K_0p2V",
    "0p1V": "edlc_3000F_10K_0p1V",
    "x1p3": "edlc_3000F_10K_x1p3",
    "ratings": "edlc_3000F_three_ratings",
}


def agrees(actual, printed, units=0.5):
    number = Decimal(printed)
    half = units * 10.0 ** number.as_tuple().exponent
    assert abs(float(actual) - float(number)) <= half * (1 + 1e-6), f"{float(actual)!r} against printed {printed}"


def law(profile, **change):
    return replace(load_cell(profile, "ultracapacitor", Path()).law, **change)


def standing(hours, V, T_C, *, cycles=((), ()), rms_A=0.0):
    hours, V, T_C = np.broadcast_arrays(*(np.atleast_1d(np.asarray(x, dtype=float)) for x in (hours, V, T_C)))
    count, depth = (np.asarray(x, dtype=float) for x in cycles)
    like = np.ones_like(depth)
    return Stress(
        duration_s=hours * 3600,
        soc=V / 2.7,
        temperature_K=T_C + 273.15,
        voltage_V=V,
        count=count,
        depth=depth,
        mean_soc=like * 0.75,
        c_rate=like,
        charge_c_rate=like,
        discharge_c_rate=like,
        cycle_temperature_K=like * 298.15,
        rms_voltage_V=like * 2.0,
        throughput_fec=count * depth,
        rms_current_A=np.asarray(rms_A, dtype=float),
    )


def life_h(a_law, V, T_C):
    return 1.0 / a_law.clocks(standing(1.0, V, T_C)).sum()


@pytest.mark.parametrize(
    ("V", "T_C", "by_0p2V", "by_0p1V", "by_x1p3", "by_ratings"),
    [
        (2.7, 65, "1500", "1500", "1500", "1500"),
        (2.7, 25, "24000", "24000", "24000", "87600"),
        (2.5, 45, "12000", "24000", "10140", "23518"),
        (2.3, 85, "1500", "6000", "1071", "1500"),
        (2.3, 45, "24000", "96000", "17137", "54830"),
        (2.0, 35, "135765", "1536000", "75298", "555376"),
    ],
)
def test_life_table(V, T_C, by_0p2V, by_0p1V, by_x1p3, by_ratings):
    agrees(life_h(law(SETS["0p2V"]), V, T_C), by_0p2V)
    agrees(life_h(law(SETS["0p1V"]), V, T_C), by_0p1V)
    agrees(life_h(law(SETS["x1p3"]), V, T_C), by_x1p3)
    # six printed digits of Ea (0.883415 eV) and theta_V (0.163771 V) fix this column to about 1e-5
    assert life_h(law(SETS["ratings"]), V, T_C) == pytest.approx(float(by_ratings), rel=2e-5)


def test_three_ratings_are_reproduced():
    ratings = law(SETS["ratings"])
    for V, T_C, hours in ((2.7, 25, 87600), (2.7, 65, 1500), (2.3, 85, 1500)):
        assert life_h(ratings, V, T_C) == pytest.approx(hours, rel=1e-5)


def test_two_ratings_of_the_2000_F_cell():
    two = law("edlc_2000F_b")
    assert life_h(two, 2.7, 65) == pytest.approx(2500, rel=1e-12)
    assert life_h(two, 2.7, 25) == pytest.approx(87600, rel=5e-4)  # four printed digits of Ea


def test_local_doubling_temperature_of_the_arrhenius_form():
    # theta_T = k_B T^2 ln 2 / Ea in closed form: doubling per 10 K between 25 and 35 °C is 0.549 eV, and so on
    for low_C, high_C, Ea in ((25, 35, 0.549), (45, 55, 0.624), (55, 65, 0.663)):
        a_law = law(SETS["ratings"], activation_energy_eV=Ea)
        assert life_h(a_law, 2.7, low_C) / life_h(a_law, 2.7, high_C) == pytest.approx(2.0, rel=1e-3)
    # the three ratings amount to one doubling per 6.82 K between 25 and 65 °C
    doublings = np.log2(life_h(law(SETS["ratings"]), 2.7, 25) / life_h(law(SETS["ratings"]), 2.7, 65))
    agrees(40 / doublings, "6.82")


def test_rule_and_rating_disagree_by_3_65():
    agrees(life_h(law(SETS["ratings"]), 2.7, 25) / life_h(law(SETS["0p2V"]), 2.7, 25), "3.65")


def test_hot_spot():
    # by hand: 2^-0.5 = 0.7071 per 5 K, 2^-1 per 10 K; with 0.8834 eV at 45 °C 0.607
    rule, ratings = law(SETS["0p2V"]), law(SETS["ratings"])
    agrees(life_h(rule, 2.5, 50) / life_h(rule, 2.5, 45), "0.7071")
    agrees(life_h(rule, 2.5, 55) / life_h(rule, 2.5, 45), "0.5000")
    agrees(life_h(ratings, 2.5, 50) / life_h(ratings, 2.5, 45), "0.607")
    agrees(life_h(rule, 2.5, 45) / life_h(rule, 2.5, 45 + 9.0), "1.866")  # 2^0.9: 9 K of self-heating
    agrees(life_h(rule, 2.5, 54) / life_h(rule, 2.5, 45), "0.536")


@pytest.mark.parametrize(("V", "factor"), [(2.563, "0.803"), (2.591, "0.730"), (2.612, "0.679"), (2.636, "0.625")])
def test_worst_cell_of_an_unbalanced_string(V, factor):
    # the voltages are printed to 1 mV, so the factor is good to two units of its third digit
    rule = law(SETS["0p2V"])
    agrees(life_h(rule, V, 45) / life_h(rule, 2.5, 45), factor, units=2)


def mean_factor(a_law, V):
    """Mean ageing rate over equal time steps at these voltages, relative to 2.7 V, at 65 °C."""
    clocks = a_law.clocks(standing(np.full(V.size, 1.0 / V.size), V, 65.0))
    return clocks.sum() * 1500.0


@pytest.mark.parametrize(("which", "printed"), [("0p2V", "0.211747"), ("0p1V", "0.106857")])
def test_linear_ramp(which, printed):
    # closed form [e^(a(V_hi-V_ref)) - e^(a(V_lo-V_ref))]/[a(V_hi-V_lo)], a = ln 2/theta_V
    steps = 20000
    V = 1.35 + 1.35 * (np.arange(steps) + 0.5) / steps
    agrees(mean_factor(law(SETS[which]), V), printed)


def test_ramp_against_its_mean_voltage_and_equivalent_voltage():
    rule = law(SETS["0p2V"])
    agrees(mean_factor(rule, np.array([2.025])), "0.0964")
    steps = 20000
    ramp = mean_factor(rule, 1.35 + 1.35 * (np.arange(steps) + 0.5) / steps)
    agrees(2.7 + 0.2 * np.log2(ramp), "2.2521")


def test_sine_ripple():
    # closed form I_0(A ln 2/theta): modified Bessel function, here from scipy.special
    rule = law(SETS["0p2V"])
    phase = 2 * np.pi * (np.arange(1000) + 0.5) / 1000
    mean = mean_factor(rule, 2.4 + 0.2 * np.sin(phase)) / mean_factor(rule, np.array([2.4]))
    agrees(mean, "1.123769")
    assert mean == pytest.approx(i0(np.log(2.0)), rel=1e-12)


def test_cycle_rating_contains_float_ageing():
    # the rated cycle test: 13.5 s ramps between 2.7 and 1.35 V, 10 s rests at both ends, period 47 s
    steps = 2000
    ramp = 1.35 + 1.35 * (np.arange(steps) + 0.5) / steps
    V = np.concatenate([ramp, ramp, [2.7, 1.35]])
    seconds = np.concatenate([np.full(2 * steps, 13.5 / steps), [10.0, 10.0]])
    agrees(seconds.sum(), "47")
    clocks = law(SETS["0p2V"]).clocks(standing(seconds / 47.0, V, 65.0))
    agrees(clocks.sum() * 1500.0, "0.336")
    agrees(1e6 * 47 / 3600, "13056")
    agrees(1e6 / (1 - 0.050) / 1e6, "1.053")


def test_damage_of_a_day():
    # 8 h at 2.5 V 45 °C and 16 h at 2.0 V 25 °C
    day = standing([8.0, 16.0], [2.5, 2.0], [45.0, 25.0])
    rule = law(SETS["0p2V"]).clocks(day).sum()
    agrees(rule, "7.255922e-4")
    agrees(1 / rule, "1378.2")
    agrees(1 / rule / 365, "3.776")
    ratings = law(SETS["ratings"]).clocks(day).sum()
    # the six printed digits of Ea and theta_V leave 2e-6 relative
    assert ratings == pytest.approx(3.496055e-4, rel=5e-6)
    agrees(1 / ratings, "2860.4")
    agrees(1 / ratings / 365, "7.837")


def test_square_root_shape_uses_one_damage_clock():
    rule = law(SETS["0p2V"], shape="square_root")
    first, second = rule.clocks(standing(2000, 2.5, 45)), rule.clocks(standing(10000, 2.0, 25))
    agrees(1 - rule.fade(first).capacity_fraction, "0.081650")
    agrees((first + second).sum(), "0.203495")
    agrees(1 - rule.fade(first + second).capacity_fraction, "0.090221")
    naive = sum(1 - rule.fade(part).capacity_fraction for part in (first, second))
    agrees(naive, "0.120031")  # what adding roots would give


@pytest.mark.parametrize(
    ("shape", "printed"),
    [
        ("linear", ("0.98000", "0.95000", "0.90000", "0.80000")),
        ("square_root", ("0.93675", "0.90000", "0.85858", "0.80000")),
        ("burn_in_linear", ("0.94177", "0.91284", "0.87500", "0.80000")),
    ],
)
def test_fade_shapes(shape, printed):
    a_law = law(SETS["0p2V"], shape=shape)
    for S, text in zip((0.10, 0.25, 0.50, 1.00), printed, strict=True):
        agrees(a_law.fade(np.array([S, 0.0])).capacity_fraction, text)


def test_esr_is_coupled_to_capacitance():
    a_law = law(SETS["0p2V"], shape="square_root")
    for S, esr in ((0.25, "1.50"), (1.0, "2.00")):
        agrees(a_law.fade(np.array([S, 0.0])).resistance_ratio, esr)


@pytest.mark.parametrize("shape", ["linear", "square_root", "burn_in_linear"])
@pytest.mark.parametrize("name", list(SETS.values()))
def test_life_does_not_depend_on_the_shape(shape, name):
    a_law = law(name, shape=shape)
    at_end = a_law.fade(np.array([1.0, 0.0]))
    assert at_end.capacity_fraction == pytest.approx(0.80, abs=1e-12)
    assert at_end.resistance_ratio == pytest.approx(2.0, abs=1e-12)
    before = a_law.fade(np.array([1.0 - 1e-6, 0.0]))
    assert before.capacity_fraction > at_end.capacity_fraction


def test_shape_function_is_one_at_the_end():
    for shape in ("linear", "square_root", "burn_in_linear"):
        g = fade_shape(np.array([1.0]), shape, end_loss=0.3, burn_in_loss=0.1, burn_in_damage=0.2)
        assert g[0] == pytest.approx(1.0, abs=1e-12)


def test_cycle_damage_on_the_charge_basis():
    # swing 2.5 to 1.6 V on a 2.7 V cell: 0.6667 rated cycles; 300 a day on 300 days: 60 000 a year, 16.7 years to 1e6
    per_cycle = cycle_damage(np.array([0.9 / 2.7]), rated_swing=0.5, effective_cycles=1e6)[0]
    agrees(per_cycle * 1e6, "0.6667")
    agrees(1 / (300 * 300 * per_cycle), "16.7")
    on = law(SETS["0p2V"], cycling_weight=1.0, effective_cycles=1e6)
    year = standing(0.0, 2.5, 25.0, cycles=([300.0 * 300], [0.9 / 2.7]))
    agrees(1 / on.clocks(year)[1], "16.7")
    assert law(SETS["0p2V"]).clocks(year)[1] == 0.0


def test_rule_of_1p3_per_tenth_volt_by_hand():
    # 1500 h 2^3 1.3^2 = 20280 h at 2.5 V and 35 °C
    rule = law(SETS["x1p3"])
    agrees(life_h(rule, 2.5, 35), "20280")
    half_and_half = 1 / rule.clocks(standing([0.5, 0.5], [2.7, 2.3], 65.0)).sum()
    agrees(half_and_half, "2222")
    agrees(life_h(rule, 2.5, 65), "2535")
    day = rule.clocks(standing([2.0, 22.0], [2.6, 1.5], [45.0, 20.0])).sum()
    agrees(1 / day / 365, "9.64")
    agrees(life_h(rule, 2.6, 45) / 8760, "0.89")


def test_uneven_samples_weigh_by_time():
    # 10 s at 2.7 V and 90 s at 2.2 V, 65 °C
    rule = law(SETS["x1p3"])
    agrees(1 / rule.clocks(standing([0.1, 0.9], [2.7, 2.2], 65.0)).sum(), "4381")
    agrees(1 / rule.clocks(standing([0.5, 0.5], [2.7, 2.2], 65.0)).sum(), "2363")


def test_rms_current_factor_in_closed_form():
    # L(V, T, I) = L(V, T) exp(-d I_rms): a current of ln 2 / d halves life
    on = law(SETS["0p2V"], rms_current_coefficient_per_A=0.01)
    stress = standing(1500.0, 2.7, 65.0, rms_A=np.log(2.0) / 0.01)
    assert on.clocks(stress).sum() == pytest.approx(2.0, rel=1e-12)
