"""Laws every ageing law must obey, on random duties."""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.ageing.contract import Stress
from lifetime.packs.locate import shipped_ids

ALL = shipped_ids("batteries") + shipped_ids("ultracapacitors")

OVER_TIME = {"duration_s": (0, 1e6), "soc": (0, 1), "temperature_K": (258, 333), "voltage_V": (1.0, 4.2)}
OVER_CYCLES = {
    "count": (0, 100),
    "depth": (0, 1),
    "mean_soc": (0, 1),
    "c_rate": (0, 12),
    "charge_c_rate": (0, 5),
    "discharge_c_rate": (0, 12),
    "cycle_temperature_K": (258, 333),
    "rms_voltage_V": (2.5, 4.2),
}


def join(stress, **change):
    values = {field.name: getattr(stress, field.name) for field in fields(stress)}
    return Stress(**(values | change))


@st.composite
def duties(draw):
    seed, bins, classes = draw(st.integers(0, 2**32 - 1)), draw(st.integers(2, 8)), draw(st.integers(2, 8))
    random = np.random.default_rng(seed)
    values = {key: random.uniform(low, high, bins) for key, (low, high) in OVER_TIME.items()}
    values |= {key: random.uniform(low, high, classes) for key, (low, high) in OVER_CYCLES.items()}
    values["throughput_fec"] = values["count"] * values["depth"]
    return Stress(**values, rms_current_A=np.asarray(random.uniform(0, 100)))


def picked(stress, time, cycle):
    change = {key: getattr(stress, key)[time] for key in OVER_TIME}
    change |= {key: getattr(stress, key)[cycle] for key in (*OVER_CYCLES, "throughput_fec")}
    return join(stress, **change)


@pytest.mark.parametrize("name", ALL)
@given(stress=duties())
@settings(deadline=None, max_examples=25)
def test_order_of_blocks_does_not_matter(laws, name, stress):
    law = laws[name]
    backwards = picked(stress, slice(None, None, -1), slice(None, None, -1))
    np.testing.assert_allclose(law.clocks(backwards), law.clocks(stress), rtol=1e-12)


@pytest.mark.parametrize("name", ALL)
@given(stress=duties(), time=st.integers(0, 8), cycle=st.integers(0, 8))
@settings(deadline=None, max_examples=25)
def test_blocks_add(laws, name, stress, time, cycle):
    law = laws[name]
    parts = law.clocks(picked(stress, slice(None, time), slice(None, cycle))) + law.clocks(
        picked(stress, slice(time, None), slice(cycle, None))
    )
    np.testing.assert_allclose(parts, law.clocks(stress), rtol=1e-12)


@pytest.mark.parametrize("name", ALL)
@given(stress=duties(), pieces=st.integers(2, 50))
@settings(deadline=None, max_examples=25)
def test_step_size_does_not_matter(laws, name, stress, pieces):
    law = laws[name]
    piece = join(
        stress,
        duration_s=stress.duration_s / pieces,
        count=stress.count / pieces,
        throughput_fec=stress.throughput_fec / pieces,
    )
    np.testing.assert_allclose(pieces * law.clocks(piece), law.clocks(stress), rtol=1e-12)


# the low-temperature mechanisms of one law are the exception by design: they are worse when cold
COLD_MECHANISMS = {"low_temperature_capacity", "low_temperature_high_soc_capacity"}


@pytest.mark.parametrize("name", ALL)
@given(stress=duties(), warmer_K=st.floats(0.1, 20))
@settings(deadline=None, max_examples=25)
def test_hotter_never_turns_a_clock_less(laws, name, stress, warmer_K):
    law = laws[name]
    hot = join(
        stress,
        temperature_K=stress.temperature_K + warmer_K,
        cycle_temperature_K=stress.cycle_temperature_K + warmer_K,
    )
    cold_clocks, hot_clocks = law.clocks(stress), law.clocks(hot)
    for place, mechanism in enumerate(law.mechanisms):
        if mechanism.name in COLD_MECHANISMS:
            assert hot_clocks[place] <= cold_clocks[place] * (1 + 1e-12)
        else:
            assert hot_clocks[place] >= cold_clocks[place] * (1 - 1e-12)


@pytest.mark.parametrize("name", ALL)
@given(stress=duties(), more=st.floats(1.0, 100.0))
@settings(deadline=None, max_examples=25)
def test_health_only_falls(laws, name, stress, more):
    law = laws[name]
    clocks = law.clocks(stress)
    now, later = law.fade(clocks), law.fade(more * clocks)
    assert later.capacity_fraction <= now.capacity_fraction + 1e-12
    assert later.resistance_ratio >= now.resistance_ratio - 1e-12


@pytest.mark.parametrize("name", shipped_ids("ultracapacitors"))
@given(stress=duties(), higher_V=st.floats(0.01, 0.5))
@settings(deadline=None, max_examples=25)
def test_ultracapacitor_ages_faster_at_higher_voltage(laws, name, stress, higher_V):
    law = laws[name]
    higher = join(stress, voltage_V=stress.voltage_V + higher_V)
    assert law.clocks(higher)[0] > law.clocks(stress)[0]
