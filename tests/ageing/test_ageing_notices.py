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
    "lmo_xu_2018": {},
    "lfp_power_wang_2011": {"discharge_c_rate": [3.0]},
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
        ("nmc_schmalstieg_2014", {"temperature_K": [280.0]}, "calendar_temperature_held"),
        ("lmo_xu_2018", {"depth": [0.005]}, "depth_below_range"),
        ("lmo_xu_2018", {"temperature_K": [280.0]}, "temperature_below_range"),
        ("lfp_power_wang_2011", {"discharge_c_rate": [0.5]}, "c_rate_factor_constant"),
        ("lfp_power_wang_2011", {"discharge_c_rate": [12.0]}, "c_rate_above_range"),
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
    assert cold.message.startswith("25 % of the time has a temperature below the model's fitted range (0 °C)")
    assert fast.message.startswith("50 % of the throughput has a C-rate above the model's fitted range (1 C)")


@pytest.mark.parametrize(
    ("field", "bounds", "values", "words"),
    [
        ("soc", (0.1, 0.9), (0.05, 0.95), ("state of charge", "time", "(10 %)", "(90 %)")),
        ("depth", (0.1, 0.9), (0.05, 0.95), ("cycle depth", "throughput", "(10 %)", "(90 %)")),
        ("voltage_V", (3.0, 4.0), (2.9, 4.1), ("voltage", "time", "(3 V)", "(4 V)")),
        ("c_rate", (0.5, 2.0), (0.4, 2.1), ("C-rate", "throughput", "(0.5 C)", "(2 C)")),
        ("charge_c_rate", (0.5, 2.0), (0.4, 2.1), ("charging C-rate", "throughput", "(0.5 C)", "(2 C)")),
        ("temperature_K", (273.15, 313.15), (273.0, 314.0), ("temperature", "time", "(0 °C)", "(40 °C)")),
        (
            "cycle_temperature_K",
            (273.15, 313.15),
            (273.0, 314.0),
            ("cycling temperature", "throughput", "(0 °C)", "(40 °C)"),
        ),
    ],
)
def test_both_sides_are_said_in_a_person_s_unit(make_stress, field, bounds, values, words):
    """One part in four below, two above, weighed alike by time and by throughput; the fourth lies inside."""
    quantity, weight, low, high = words
    inside = 0.5 * (bounds[0] + bounds[1])
    four = {name: [1.0] * 4 for name in ("duration_s", "throughput_fec", "count")}
    stress = make_stress(bins=4, classes=4, **four, **{field: [values[0], values[1], values[1], inside]})
    below, above = outside_notices(stress, Validity(**{field: bounds}), {})
    assert below.message.startswith(
        f"25 % of the {weight} has a {quantity} below the model's fitted range {low}; the model is "
    )
    assert above.message.startswith(
        f"50 % of the {weight} has a {quantity} above the model's fitted range {high}; the model is "
    )
    name = field.removesuffix("_K").removesuffix("_V")
    assert (below.code, above.code) == (f"{name}_below_range", f"{name}_above_range")


def test_a_law_may_say_it_in_its_own_words_or_leave_it_to_a_better_notice(make_stress):
    stress, validity = make_stress(soc=[0.05]), Validity(soc=(0.1, 0.9))
    (own,) = outside_notices(stress, validity, {"soc_below_range": "it is held there."})
    assert own.message.endswith("(10 %); it is held there.")
    assert outside_notices(stress, validity, {"soc_below_range": None}) == []


# A quarter of the time, or of the throughput, beyond what the law's tests reached.
HOT, FLAT = {"temperature_K": [310.0] * 4}, {"throughput_fec": [1.0] * 4}
COLD_AND_FULL = {"cycle_temperature_K": [275.0, 300.0, 300.0, 300.0], "mean_soc": [0.7] * 4, "depth": [0.4] * 4}
QUARTER = [
    ("lfp_naumann_2020", {"c_rate": [1.1, 1.0, 1.0, 0.5]}, "c_rate_held", "1 C", "warning"),
    ("lfp_schimpe_2018", {"charge_c_rate": [3.0, 0.5, 0.5, 0.5]}, "charge_c_rate_held", " C on average", "warning"),
    ("lfp_schimpe_2018", COLD_AND_FULL, "cold_high_soc_charge_capped", "above 82 %", "warning"),
    ("nmc_schmalstieg_2014", {"voltage_V": [2.9, 3.7, 3.7, 3.7], **HOT}, "calendar_voltage_held", " V", "warning"),
    (
        "nmc_schmalstieg_2014",
        {"depth": [0.01, 0.5, 0.5, 0.5], **FLAT, **HOT},
        "cycle_resistance_floored",
        "floor of 1.5e-05 per Ah",
        "note",
    ),
    (
        "nmc_schmalstieg_2014",
        {"temperature_K": [280.0, 310.0, 310.0, 310.0], "voltage_V": [3.7] * 4},
        "calendar_temperature_held",
        " °C",
        "note",
    ),
    ("lfp_power_wang_2011", {"discharge_c_rate": [0.1, 3.0, 3.0, 3.0]}, "c_rate_factor_constant", " C, where", "note"),
    (
        "lfp_power_wang_2011",
        {"discharge_c_rate": [12.0, 3.0, 3.0, 3.0]},
        "c_rate_above_range",
        "held at 10 C",
        "warning",
    ),
    ("lmo_xu_2018", {"depth": [0.005, 0.5, 0.5, 0.5], **FLAT}, "depth_below_range", "noise", "warning"),
    ("edlc_3000F_10K_0p2V", {"voltage_V": [2.8, 2.4, 2.4, 2.4]}, "voltage_above_range", "rated voltage", "warning"),
    ("edlc_3000F_10K_0p2V", {"voltage_V": [1.0, 2.4, 2.4, 2.4]}, "voltage_below_range", "20 times", "warning"),
    ("edlc_3000F_10K_0p2V", {"temperature_K": [200.0] + [300.0] * 3}, "temperature_below_range", "20 times", "warning"),
    ("edlc_3000F_10K_0p2V", {"temperature_K": [400.0] + [300.0] * 3}, "temperature_above_range", "20 times", "warning"),
]


@pytest.mark.parametrize(
    ("name", "outside", "code", "words", "severity"), QUARTER, ids=[f"{one[0]}-{one[2]}" for one in QUARTER]
)
def test_each_law_says_for_what_share(laws, make_stress, name, outside, code, words, severity):
    stress = make_stress(bins=4, classes=4, **outside)
    (notice,) = [one for one in laws[name].range_notices(stress) if one.code == code]
    assert notice.message.startswith("25 % of the ")
    assert words in notice.message
    assert notice.severity == severity


@pytest.mark.parametrize(
    ("name", "outside", "code"),
    [
        ("lfp_naumann_2020", {"c_rate": [1.1]}, "c_rate_held"),
        ("lfp_schimpe_2018", {"charge_c_rate": [3.0]}, "charge_c_rate_held"),
        ("lfp_power_wang_2011", {"discharge_c_rate": [0.1]}, "c_rate_factor_constant"),
    ],
)
def test_what_a_better_notice_says_is_not_said_twice(laws, make_stress, name, outside, code):
    assert codes(laws[name], make_stress(**outside)) == {code}


@pytest.mark.parametrize(
    ("name", "limit", "quantity", "code"),
    [
        ("lfp_naumann_2020", "c_rate_limit", "c_rate", "c_rate_held"),
        ("lfp_schimpe_2018", "charge_c_rate_limit", "charge_c_rate", "charge_c_rate_held"),
    ],
)
def test_a_rate_is_held_just_above_its_limit(laws, make_stress, name, limit, quantity, code):
    law = laws[name]
    highest = getattr(law, limit)
    assert code not in codes(law, make_stress(**{quantity: [highest]}))
    (notice,) = [one for one in law.range_notices(make_stress(**{quantity: [1.01 * highest]})) if one.code == code]
    assert f"{highest:g} C" in notice.message


def test_cold_charging_is_held_only_where_it_reaches_a_high_state_of_charge(laws, make_stress):
    law, code = laws["lfp_schimpe_2018"], "cold_high_soc_charge_capped"
    cold, warm = law.high_soc_temperature_floor_K - 1.0, law.high_soc_temperature_floor_K + 1.0
    for temperature, mean_soc in ((cold, 0.4), (warm, 0.9)):
        stress = make_stress(cycle_temperature_K=[temperature], mean_soc=[mean_soc], depth=[0.2])
        assert code not in codes(law, stress)
    stress = make_stress(cycle_temperature_K=[cold], mean_soc=[0.9], depth=[0.2])
    (notice,) = [one for one in law.range_notices(stress) if one.code == code]
    floor_K = law.high_soc_temperature_floor_K
    # Arrhenius: exp(-Ea/R (1/(T - 5 K) - 1/T)).
    slope = law.high_soc_activation_J_per_mol / law.gas_constant_J_per_mol_K
    growth = np.exp(-slope * (1 / (floor_K - 5.0) - 1 / floor_K))
    assert f"colder than {floor_K - 273.15:.3g} °C" in notice.message
    assert f"grows {growth:.3g} times per 5 K" in notice.message


def test_a_depth_beyond_a_full_cycle_is_held_there(laws, make_stress):
    law = laws["lmo_xu_2018"]
    (notice,) = [one for one in law.range_notices(make_stress(depth=[1.2])) if one.code == "depth_above_range"]
    assert notice.message.endswith(f"the depth is held at {100 * law.depth_limit:.3g} %.")


def test_a_value_on_the_bound_is_inside(make_stress):
    validity = Validity(soc=(0.0, 1.0), c_rate=(0.2, 1.0))
    assert outside_notices(make_stress(soc=[1.0 + 1e-12], c_rate=[1.0]), validity, {}) == []


def test_what_reads_as_the_bound_is_not_outside(make_stress):
    # A pack at 24.96 °C reads as 25.0 °C, the bound; at 24.9 °C it does not.
    validity = Validity(temperature_K=(298.15, 358.15))
    assert outside_notices(make_stress(temperature_K=[298.11]), validity, {}) == []
    assert [one.code for one in outside_notices(make_stress(temperature_K=[298.05]), validity, {})] == [
        "temperature_below_range"
    ]


def test_share_without_weight_is_zero_and_broadcasts():
    assert share_where(np.array([True, False]), np.zeros(2)) == 0.0
    assert share_where(np.array([True, False]), np.array([[1.0, 1.0], [3.0, 1.0]])) == pytest.approx(4 / 6)


def test_small_share_never_reads_as_zero():
    assert percent(1e-7) == "Less than 0.1 %"
    assert percent(0.1234) == "12.3 %"
