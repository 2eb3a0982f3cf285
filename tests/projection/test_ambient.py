"""The few temperatures that stand for a month's hours: against sums over all hours, and by hand."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.packs.climate import hours_by_month, monthly_means_K
from lifetime.projection.ambient import Ambient, gauss_nodes
from lifetime.stress.source import Source, Thermal

PACK = Source(
    kind="battery",
    capacity_As=1000.0,
    resistance_ohm=0.1,
    start_soc=0.6,
    rest_soc=0.5,
    open_circuit_V=lambda soc: 300.0 + 100.0 * soc,
    minimum_voltage_V=250.0,
    maximum_voltage_V=420.0,
    minimum_soc=0.0,
    maximum_soc=1.0,
    thermal=None,
    hot_spot_K=0.0,
    parallel=4,
    series=10,
)
HOUR = np.arange(8760) % 24
rng = np.random.default_rng(7)
YEAR_K = 283.0 - 12.0 * np.cos(2 * np.pi * np.arange(8760) / 8760) + 4.0 * np.sin(HOUR) + rng.gamma(2.0, 2.0, 8760)


@settings(deadline=None)
@given(st.lists(st.floats(240.0, 320.0), min_size=1, max_size=40), st.integers(0, 5))
def test_nodes_are_within_and_exact_to_the_fifth_degree(values, degree):
    values = np.array(values)
    nodes, weights = gauss_nodes(values, np.ones(values.size))
    assert weights.sum() == pytest.approx(1.0)
    # A node without weight may be anywhere; it counts for nothing, but must be a temperature.
    assert nodes.min() >= values.min() - 1e-6
    assert nodes.max() <= values.max() + 1e-6
    about = values.mean()
    assert weights @ (nodes - about) ** degree == pytest.approx(
        np.mean((values - about) ** degree), abs=1e-7 * max(float(np.ptp(values)), 1.0) ** degree
    )


def test_two_temperatures_by_hand():
    # 0.25 and 0.75 of the time: nothing but these two, with these weights.
    nodes, weights = gauss_nodes(np.array([280.0, 300.0]), np.array([1.0, 3.0]))
    assert weights @ nodes == pytest.approx(295.0)
    assert weights @ np.exp(nodes / 50.0) == pytest.approx(0.25 * np.exp(5.6) + 0.75 * np.exp(6.0))


@pytest.mark.parametrize("activation_K", [3000.0, 6000.0, 9000.0])
def test_an_arrhenius_law_over_all_hours(activation_K):
    def law(kelvin):
        return np.exp(-activation_K * (1.0 / kelvin - 1.0 / 298.15))

    ambient = Ambient.around(PACK, YEAR_K)
    by_nodes = ambient.by_month(ambient.all_day_weight * law(ambient.all_day_K))
    by_hours = np.array([law(hours).mean() for hours in hours_by_month(YEAR_K)])
    np.testing.assert_allclose(by_nodes, by_hours, rtol=5e-4)
    # The means alone miss it by more than that.
    assert np.abs(law(monthly_means_K(YEAR_K)) / by_hours - 1.0).min() > 5e-3


def test_months_by_their_means_are_what_they_were():
    months = np.linspace(270.0, 300.0, 12)
    ambient = Ambient.around(PACK, months, starts_at_hour=6.0, driven_s=3600.0)
    assert ambient.driving_K is months
    assert not ambient.is_hourly
    np.testing.assert_array_equal(ambient.by_month(ambient.driving_weight * 2.0), 2.0)


@pytest.mark.parametrize(("start", "length_h", "inside"), [(6.0, 2.0, {6, 7}), (23.0, 2.0, {23, 0})])
def test_hours_driven_and_hours_stood(start, length_h, inside):
    # Hot by 10 K in the hours driven, so each of the two is one temperature.
    air = np.where(np.isin(HOUR, list(inside)), 300.0, 290.0)
    ambient = Ambient.around(PACK, air, starts_at_hour=start, driven_s=3600.0 * length_h)
    months = ambient.by_month(ambient.driving_weight * ambient.driving_K)
    np.testing.assert_allclose(months, 300.0)
    np.testing.assert_allclose(ambient.by_month(ambient.standing_weight * ambient.standing_K), 290.0)
    np.testing.assert_allclose(ambient.by_month(ambient.all_day_weight * ambient.all_day_K), 290.0 + 10.0 * 2 / 24)


def test_half_an_hour_counts_half():
    air = np.where(HOUR == 8, 300.0, 290.0)
    ambient = Ambient.around(PACK, air, starts_at_hour=8.5, driven_s=3600.0)
    np.testing.assert_allclose(ambient.by_month(ambient.driving_weight * ambient.driving_K), 295.0)


def test_a_pack_that_follows_the_air_with_a_time_constant():
    # First-order lag, sampled: a wave that alternates 0, 1 settles to e/(1 + e) and 1/(1 + e) with e the share kept.
    air = 290.0 + np.arange(8760) % 2
    kept = np.exp(-0.5)
    pack = replace(PACK, thermal=Thermal(0.01, 7200.0 / 0.01))
    ambient = Ambient.around(pack, air)
    ends = np.sort(np.unique(np.round(ambient.all_day_K[ambient.all_day_weight > 1e-6], 9)))
    assert ends.tolist() == pytest.approx([290.0 + kept / (1 + kept), 290.0 + 1 / (1 + kept)])


def test_a_pack_slower_than_a_year_stands_at_its_mean():
    pack = replace(PACK, thermal=Thermal(1e4, 1e12))
    ambient = Ambient.around(pack, YEAR_K)
    np.testing.assert_allclose(ambient.all_day_K, YEAR_K.mean(), atol=1e-3)
