"""Every shipped law keeps the contract: shapes, finite and rising clocks, shares that sum to the loss."""

import numpy as np
import pytest

from lifetime.packs.locate import shipped_ids

BATTERIES = shipped_ids("batteries")
ALL = BATTERIES + shipped_ids("ultracapacitors")


@pytest.mark.parametrize("name", ALL)
def test_clocks_are_finite_and_not_negative(laws, wide_stress, name):
    law = laws[name]
    clocks = law.clocks(wide_stress)
    assert clocks.shape == (2, len(law.mechanisms))
    assert clocks.dtype == np.float64
    assert np.isfinite(clocks).all()
    assert (clocks >= 0.0).all()


@pytest.mark.parametrize("name", ALL)
def test_shares_sum_to_the_loss(laws, wide_stress, name):
    law = laws[name]
    clocks = law.clocks(wide_stress)
    for block in (clocks, clocks[0], np.zeros(len(law.mechanisms))):
        health = law.fade(block)
        shares = law.capacity_loss_by_mechanism(block)
        assert shares.shape == block.shape
        assert np.shape(health.capacity_fraction) == block.shape[:-1]
        assert np.shape(health.resistance_ratio) == block.shape[:-1]
        np.testing.assert_allclose(shares.sum(axis=-1), 1.0 - health.capacity_fraction, rtol=1e-12, atol=1e-15)


@pytest.mark.parametrize("name", ALL)
def test_a_new_cell_is_whole(laws, name):
    law = laws[name]
    health = law.fade(np.zeros(len(law.mechanisms)))
    assert health.capacity_fraction == 1.0
    assert health.resistance_ratio == 1.0


@pytest.mark.parametrize("name", ALL)
def test_resistance_grows_only_where_the_law_says_so(laws, wide_stress, name):
    law = laws[name]
    ratio = law.fade(law.clocks(wide_stress)).resistance_ratio
    assert ((ratio > 1.0) if law.has_resistance else (ratio == 1.0)).all()


@pytest.mark.parametrize("name", ALL)
def test_no_duty_turns_no_clock(laws, make_stress, name):
    idle = make_stress(bins=0, classes=0)
    assert (laws[name].clocks(idle) == 0.0).all()
    assert laws[name].range_notices(idle) == []


@pytest.mark.parametrize("name", ALL)
def test_conditions_side_by_side_equal_one_at_a_time(laws, make_stress, name):
    months_K = np.linspace(275.0, 315.0, 12)[:, None] + np.zeros(3)
    both = laws[name].clocks(make_stress(bins=3, classes=2, temperature_K=months_K))
    for month in range(12):
        alone = laws[name].clocks(make_stress(bins=3, classes=2, temperature_K=months_K[month]))
        np.testing.assert_allclose(both[month], alone, rtol=1e-13)


SIGHT_FIELDS = {
    "c_rate": ("c_rate", [0.3, 0.6]),
    "charge_c_rate": ("charge_c_rate", [0.3, 0.6]),
    "discharge_c_rate": ("discharge_c_rate", [0.3, 0.6]),
    "cycle_mean_soc": ("mean_soc", [0.5, 0.7]),
    "cycle_temperature": ("cycle_temperature_K", [295.0, 305.0]),
    "temperature": ("temperature_K", [300.0, 310.0]),
    "soc": ("soc", [0.4, 0.8]),
}


@pytest.mark.parametrize("sight", SIGHT_FIELDS)
@pytest.mark.parametrize("name", BATTERIES)
def test_law_answers_to_what_it_says_it_sees(laws, make_stress, name, sight):
    field, (low, high) = SIGHT_FIELDS[sight]
    extra = {}
    if name == "lfp_power_wang_2011" and sight == "discharge_c_rate":
        low, high = 3.0, 5.0  # constant below 2 C by rule
    if sight in ("soc", "cycle_mean_soc") and name.startswith("nmc"):
        field, low, high = ("voltage_V", 3.6, 3.9) if sight == "soc" else ("rms_voltage_V", 3.7, 3.9)
    first, second = (laws[name].clocks(make_stress(**{field: [value]}, **extra)) for value in (low, high))
    assert (sight in laws[name].sees) == bool((first != second).any())


@pytest.mark.parametrize("name", BATTERIES)
def test_depth_is_seen_at_equal_throughput(laws, make_stress, name):
    # well below the high-charge threshold of one law, so that only a depth law answers
    first, second = (laws[name].clocks(make_stress(depth=[d], count=[1.0 / d], mean_soc=[0.4])) for d in (0.1, 0.5))
    np.testing.assert_equal("depth" in laws[name].sees, not np.allclose(first, second, rtol=1e-12))


@pytest.mark.parametrize("name", shipped_ids("ultracapacitors"))
def test_ultracapacitor_is_blind_to_cycles_by_default(laws, name):
    assert laws[name].sees == {"temperature", "soc"}
