"""A resistance that grows with the loss of capacity, where an ageing model has none: R/R0 = 1 + rho_cal q_cal + rho_cyc
q_cyc, worked by hand."""

import numpy as np
import pytest

from lifetime.ageing.assumed_growth import AssumedGrowth

WITHOUT = ["lfp_schimpe_2018", "lfp_power_wang_2011", "lmo_xu_2018"]


def test_calendar_and_cyclic_loss_count_apart(laws):
    """Wang's clocks are a squared calendar loss and Ah^(1/z): 3 % and 5 % lost at 1 and 4 are 3 % + 20 % growth."""
    wang = laws["lfp_power_wang_2011"]
    clocks = np.array([[0.03**2, 0.05 ** (1.0 / wang.throughput_exponent)], [0.0, 0.0]])
    health = AssumedGrowth(wang, 1.0, 4.0).fade(clocks)
    assert health.resistance_ratio == pytest.approx([1.23, 1.0], rel=1e-12)
    assert health.capacity_fraction == pytest.approx([0.92, 1.0], rel=1e-12)


@pytest.mark.parametrize("name", WITHOUT)
def test_a_ratio_of_5_doubles_the_resistance_at_80_percent(laws, wide_stress, name):
    """The convention "80 % or R x2" as one state: growth is five times the loss, whichever part it is of."""
    grown = AssumedGrowth(laws[name], 5.0, 5.0)
    health = grown.fade(1e-3 * grown.clocks(wide_stress))
    assert (health.resistance_ratio - 1.0) / (1.0 - health.capacity_fraction) == pytest.approx([5.0, 5.0], rel=1e-9)


@pytest.mark.parametrize("name", WITHOUT)
def test_everything_else_is_the_models(laws, wide_stress, name):
    model, grown = laws[name], AssumedGrowth(laws[name], 2.0, 2.0)
    clocks = model.clocks(wide_stress)
    assert np.array_equal(grown.clocks(wide_stress), clocks)
    assert np.array_equal(grown.fade(clocks).capacity_fraction, model.fade(clocks).capacity_fraction)
    assert grown.has_resistance
    assert (grown.mechanisms, grown.sees) == (model.mechanisms, model.sees)
    assert grown.share_in_range(wide_stress) == model.share_in_range(wide_stress)
    assert grown.range_notices(wide_stress) == model.range_notices(wide_stress)


def test_the_model_without_its_limits_keeps_the_growth(laws):
    held, free = AssumedGrowth(laws["lfp_schimpe_2018"], 2.0, 3.0), AssumedGrowth(laws["lmo_xu_2018"], 2.0, 3.0)
    assert held.without_limits() == AssumedGrowth(laws["lfp_schimpe_2018"].without_limits(), 2.0, 3.0)
    assert free.without_limits() is free
