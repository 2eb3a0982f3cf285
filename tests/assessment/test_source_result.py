"""Life and figures of one source under days that can be reckoned by hand.

The model loses ``per_second * soc`` a second: at rest at 80 % for a year, 0.8 * 31,536,000 s times ``per_second``.
"""

from dataclasses import replace

import numpy as np
import pytest

from lifetime.assessment.setups import HealthLimits
from lifetime.assessment.source_result import assess_source
from lifetime.assessment.traces import history_traces
from lifetime.notices import Notice
from lifetime.report.words import life_words
from lifetime.stress.day import Charging

YEAR_S = 365.0 * 86_400.0
LOSES_2_PERCENT = 0.02 / (0.8 * YEAR_S)
"""Per second and state of charge, at 80 % all year."""


def codes(result):
    return {notice.code for notice in result.notices}


@pytest.fixture
def idle(history):
    """An hour that draws nothing."""
    return history(np.zeros(3600))


def test_a_straight_loss_ends_at_its_limit(battery, idle, model, yearly):
    setup = battery(law=model(per_second=LOSES_2_PERCENT))
    result = assess_source(setup, history_traces(setup, idle, 1), yearly())
    assert result.life_years == pytest.approx(10.0, rel=1e-9)
    assert (result.life_state, result.end_of_life_criterion) == ("reached", "capacity")
    assert result.capacity_fraction_at_service_end == pytest.approx(0.8, rel=1e-9)
    assert (result.calendar_share_fraction, result.cyclic_share_fraction) == pytest.approx((1.0, 0.0))
    assert result.loss_by_mechanism == pytest.approx([0.2, 0.0, 0.0])
    assert result.trajectory.capacity_fraction[12 * 5] == pytest.approx(0.9)
    assert result.trajectory.calendar_loss_fraction[12 * 5] == pytest.approx(0.1)
    assert not result.trajectory.cyclic_loss_fraction.any()


def test_resistance_ends_first_where_it_grows_faster(battery, idle, model, yearly):
    growth = model(per_second=LOSES_2_PERCENT, resistance_per_second=0.2 / YEAR_S, has_resistance=True)
    setup = battery(law=growth)
    result = assess_source(setup, history_traces(setup, idle, 1), yearly())
    assert result.life_years == pytest.approx(5.0, rel=1e-9)
    assert result.end_of_life_criterion == "resistance"
    assert {one.limit: one.years for one in result.crossings} == pytest.approx(
        {"capacity": 10.0, "resistance": 5.0, "requirement": None}
    )
    assert result.resistance_ratio_at_service_end == pytest.approx(3.0)


def test_with_one_limit_only_the_others_stay_unknown(battery, idle, model, yearly):
    growth = model(per_second=LOSES_2_PERCENT, resistance_per_second=0.2 / YEAR_S, has_resistance=True)
    setup = battery(law=growth)
    result = assess_source(setup, history_traces(setup, idle, 1), yearly(service_years=2.0), first_limit_only=True)
    assert result.life_years == pytest.approx(5.0, rel=1e-9)
    assert {one.limit: one.years for one in result.crossings}["capacity"] is None


def test_no_limit_within_the_search(battery, idle, model, yearly):
    setup = battery(law=model(per_second=LOSES_2_PERCENT / 100.0))
    result = assess_source(setup, history_traces(setup, idle, 1), yearly())
    assert (result.life_years, result.life_state, result.end_of_life_criterion) == (None, "beyond_search_limit", None)


def test_a_life_under_a_day_is_reached_and_not_an_unmet_requirement(battery, idle, model, yearly):
    # 20 % in half a day.
    setup = battery(law=model(per_second=0.2 / (0.8 * 43_200.0)))
    result = assess_source(setup, history_traces(setup, idle, 1), yearly())
    assert result.life_years == pytest.approx(0.5 / 365.0, rel=1e-9)
    assert (result.life_state, result.end_of_life_criterion) == ("reached", "capacity")
    assert "life_below_a_day" in codes(result)
    assert "cannot_deliver_when_new" not in codes(result)


def test_cycles_and_time_share_the_loss(battery, history, model, yearly):
    """A tenth out and back each day: 36.5 full cycles a year lose 0.15 %, time at 50 % loses 0.025 %: 6 to 1."""
    setup = battery(
        law=model(per_second=0.0005 / YEAR_S, per_full_cycle=0.0015 / 36.5),
        start_soc=0.5,
        rest_soc=0.5,
        resistance_ohm=0.0,
        charging=Charging(None, 0.5),
    )
    day = history(np.concatenate([np.full(100, 360.0), np.full(100, -360.0)]))
    result = assess_source(setup, history_traces(setup, day, 1), yearly(service_years=1.0))
    assert 1.0 - result.capacity_fraction_at_service_end == pytest.approx(0.00175, rel=2e-3)
    assert (result.calendar_share_fraction, result.cyclic_share_fraction) == pytest.approx((1 / 7, 6 / 7), rel=2e-3)
    assert result.equivalent_full_cycles_per_year == pytest.approx(36.5)
    assert result.throughput_Ah_per_year == pytest.approx(36.5 * 200.0)
    assert (result.lowest_soc, result.highest_soc) == pytest.approx((0.4, 0.5))
    assert (result.rms_current_A, result.peak_current_A) == pytest.approx((360.0, 360.0))


def test_energy_losses_grow_with_resistance(battery, history, model, yearly):
    """100 A for 360 s in 0.1 ohm are 0.1 kWh a day; resistance doubles over the service, 1.5 on the mean of months."""
    growth = model(per_second=0.0, resistance_per_second=0.1 / YEAR_S, has_resistance=True)
    setup = battery(law=growth, limits=HealthLimits(0.8, 5.0), charging=Charging(None, 0.8))
    result = assess_source(setup, history_traces(setup, history([100.0] * 360), 1), yearly())
    assert result.energy_losses_kWh_per_year == pytest.approx(0.1 * 365.0 * 1.5, rel=1e-9)
    assert result.open_charge_Ah == pytest.approx(10.0)


# Resistance grows by 0.4 a year and doubles in 2.5 years, 1.5 on average. Four lives in 10 years are 1.5 all through;
# one and a half lives in 3.75 years are (2.5 * 1.5 + 1.25 * 1.25) / 3.75 = 1.4167.
@pytest.mark.parametrize(("service_years", "mean"), [(10.0, 1.5), (3.75, 85 / 60)])
def test_losses_begin_anew_with_a_replaced_source(battery, history, model, yearly, service_years, mean):
    growth = model(per_second=0.0, resistance_per_second=0.4 / YEAR_S, has_resistance=True)
    setup = battery(law=growth, charging=Charging(None, 0.8))
    result = assess_source(setup, history_traces(setup, history([100.0] * 360), 1), yearly(service_years))
    assert result.life_years == pytest.approx(2.5)
    assert result.energy_losses_kWh_per_year == pytest.approx(0.1 * 365.0 * mean, rel=1e-6)


def test_shares_are_those_at_the_earlier_of_life_and_service(battery, history, model, yearly):
    """Time loses ``0.1 sqrt(t / 5)``, cycles ``0.1 t / 5``: half each at the end of life of 5 years, not at 10."""

    class Root(model):
        def clocks(self, stress):
            clocks = np.array(super().clocks(stress))
            clocks[..., 0] = 0.01 / 5 / 365.0
            clocks[..., 1] = np.sum(stress.throughput_fec, axis=-1) / 0.1 * 0.1 / 5 / 365.0
            return clocks

        def capacity_loss_by_mechanism(self, clocks):
            return np.stack([np.sqrt(clocks[..., 0]), clocks[..., 1], 0.0 * clocks[..., 2]], axis=-1)

        def fade(self, clocks):
            return replace(super().fade(clocks), capacity_fraction=1.0 - np.sqrt(clocks[..., 0]) - clocks[..., 1])

    setup = battery(law=Root(), resistance_ohm=0.0)
    day = history(np.concatenate([np.full(100, 360.0), np.full(100, -360.0)]))
    traces = history_traces(setup, day, 1)
    result = assess_source(setup, traces, yearly())
    assert result.life_years == pytest.approx(5.0, rel=1e-9)
    assert (result.calendar_share_fraction, result.cyclic_share_fraction) == pytest.approx((0.5, 0.5), rel=1e-9)
    # In a service of 1.25 years: 0.05 to 0.025.
    shares = assess_source(setup, traces, yearly(service_years=1.25))
    assert (shares.calendar_share_fraction, shares.cyclic_share_fraction) == pytest.approx((2 / 3, 1 / 3), rel=1e-9)


def test_a_power_below_the_voltage_bound_is_an_unmet_requirement(battery, history, yearly):
    # 50 kW at 380 V and 0.1 ohm take 136.5 A, which leaves 366 V: below a bound of 370 V.
    setup = battery(minimum_voltage_V=370.0)
    power = assess_source(setup, history_traces(setup, history([5e4] * 10, "power_W"), 1), yearly())
    assert power.life_state == "requirement_not_met"
    # The same as a current is taken to have been measured.
    current = assess_source(setup, history_traces(setup, history([136.5] * 10), 1), yearly())
    assert current.life_state != "requirement_not_met"


def test_the_models_range_is_judged_where_there_is_a_life(battery, history, idle, yearly):
    setup, flat = battery(), battery(start_soc=0.1)
    assert "beyond_fitted_range" in codes(assess_source(setup, history_traces(setup, idle, 1), yearly()))
    unmet = assess_source(flat, history_traces(flat, history([360.0] * 200), 1), yearly())
    assert "beyond_fitted_range" not in codes(unmet)


def test_a_life_beyond_the_tested_loss_is_said(battery, cell, idle, model, yearly):
    setup = replace(battery(law=model(per_second=LOSES_2_PERCENT)), cell=cell(tested_loss=0.1))
    result = assess_source(setup, history_traces(setup, idle, 1), yearly())
    (message,) = [one.message for one in result.notices if one.code == "extrapolated_in_loss"]
    assert "passed after 5 of 10 years" in message
    assert (result.life_state, result.tested_years) == ("beyond_tested_loss", pytest.approx(5.0))
    assert life_words(result) == "> 5.0 years, beyond tested loss"
    # A life that even cost does not go by is named after that.
    capped = assess_source(replace(setup, longest_life_years=8.0), history_traces(setup, idle, 1), yearly())
    assert (capped.life_state, capped.cost_life_years) == ("not_limited_by_model", 8.0)


def test_more_than_the_pack_holds_is_an_unmet_requirement(battery, history, yearly):
    setup = battery(start_soc=0.1)
    result = assess_source(setup, history_traces(setup, history([360.0] * 200), 1), yearly())
    assert (result.life_years, result.life_state, result.end_of_life_criterion) == (
        0.0,
        "requirement_not_met",
        "requirement",
    )
    (crossing,) = [one for one in result.crossings if one.limit == "requirement"]
    assert crossing.detail == "lowest state of charge"
    assert "cannot_deliver_when_new" in codes(result)
    assert result.capacity_fraction_at_service_end is None


def test_a_power_beyond_any_current_is_an_unmet_requirement(battery, history, yearly):
    setup = battery(minimum_voltage_V=1.0, open_circuit_V=lambda soc: 0.0 * soc + 380.0)
    result = assess_source(setup, history_traces(setup, history([4e5] * 10, "power_W"), 1), yearly())
    assert (result.life_years, result.life_state) == (0.0, "requirement_not_met")
    (crossing,) = [one for one in result.crossings if one.limit == "requirement"]
    assert crossing.detail == "power"
    # 400 kW against 380^2 / 0.4 = 361 kW is 11 % too much.
    (message,) = [one.message for one in result.notices if one.code == "cannot_deliver_when_new"]
    assert "by 11 %" in message


def test_a_measured_current_is_not_held_against_a_voltage_bound(battery, history, idle, model, yearly):
    # 380 V less 0.1 ohm * 1500 A is 230 V, below the bound of 250 V.
    setup = battery(law=model(per_second=LOSES_2_PERCENT))
    result = assess_source(setup, history_traces(setup, history([1500.0, -1500.0]), 1), yearly())
    assert result.life_state == "reached"
    assert result.end_of_life_criterion == "capacity"
    assert "voltage_bound_exceeded_when_new" in codes(result)


def test_an_aged_source_that_falls_short_ends_there(battery, history, model, yearly):
    """Started at 40 %, 30 % of the rated capacity is drawn: 0.4 - 0.3 / c reaches 0 at c = 0.75."""
    setup = battery(
        law=model(per_second=0.02 / (0.4 * YEAR_S)),
        limits=HealthLimits(0.5, 2.0),
        start_soc=0.4,
        rest_soc=0.4,
        resistance_ohm=0.0,
        charging=Charging(36_000.0, 0.4),
    )
    result = assess_source(setup, history_traces(setup, history([36_000.0] * 3), 1), yearly(service_years=20.0))
    (crossing,) = [one for one in result.crossings if one.limit == "requirement"]
    assert result.end_of_life_criterion == "requirement"
    assert crossing.detail == "lowest state of charge"
    # All but six seconds of the day are rest at 40 %: 2 % a year.
    assert result.life_years == pytest.approx(12.5, rel=1e-3)


def test_what_small_cycles_would_have_cost(battery, history, model, yearly):
    """Ten cycles of 1 % and one of 10 % a day: the small ones are as much again.

    Depth is relative to present capacity, so ``dL/dt = a / (1 - L)`` and ``1 - L = sqrt(1 - 2 a t)``: 80 % are left
    after ``0.18 / a`` years, with a = 1 % or 2 % a year.
    """
    small = np.tile(np.concatenate([np.full(10, 360.0), np.full(10, -360.0)]), 10)
    large = np.concatenate([np.full(100, 360.0), np.full(100, -360.0)])
    setup = battery(
        law=model(per_second=0.0, per_full_cycle=0.01 / 36.5),
        resistance_ohm=0.0,
        smallest_cycle_soc=0.02,
        charging=Charging(None, 0.8),
    )
    result = assess_source(setup, history_traces(setup, history(np.concatenate([small, large])), 1), yearly())
    assert result.capacity_fraction_at_service_end == pytest.approx(np.sqrt(0.8), rel=1e-4)
    left_out = result.small_cycles
    assert left_out.threshold_soc == 0.02
    assert left_out.removed_cycles_per_year == pytest.approx(3650.0)
    assert left_out.removed_loss_fraction == pytest.approx(np.sqrt(0.8) - np.sqrt(0.6), rel=1e-3)
    assert result.life_years == pytest.approx(18.0, rel=1e-3)
    assert left_out.life_years_with_all == pytest.approx(9.0, rel=1e-3)


def test_a_bank_behind_a_split_never_falls_short(ultracapacitor, history, yearly):
    """The trace of a bank may pass its window by what rounding does; only a bank with a history of its own can fail."""
    setup = ultracapacitor()
    # From 300 V down to 90 V, below its 100 V.
    traces = history_traces(setup, history([210.0] * 100), 1)
    assert assess_source(setup, traces, yearly()).life_state == "requirement_not_met"
    result = assess_source(setup, replace(traces, within_bounds=True), yearly())
    assert result.life_state != "requirement_not_met"
    assert "requirement" not in {one.limit for one in result.crossings}
    assert {one.limit for one in result.crossings} == {"capacitance"}


@pytest.mark.parametrize("grade", ["secondary source", "unverified", "derived"])
def test_the_grade_of_the_weakest_number_is_said(battery, cell, idle, yearly, grade):
    setup = replace(battery(), cell=cell(grade))
    result = assess_source(setup, history_traces(setup, idle, 1), yearly())
    assert result.grade == grade
    (message,) = [one.message for one in result.notices if one.code == "parameter_grade"]
    assert f'"{grade}"' in message
    assert "1 numbers of invented, 1 have" in message


def test_numbers_read_in_their_source_need_no_notice(battery, idle, yearly):
    setup = battery()
    assert "parameter_grade" not in codes(assess_source(setup, history_traces(setup, idle, 1), yearly()))


def test_what_the_traces_said_comes_along(battery, idle, model, yearly):
    setup = battery(law=model(per_second=LOSES_2_PERCENT))
    traces = replace(history_traces(setup, idle, 1), notices=(Notice("worn_trace_failed", "for this reason"),))
    result = assess_source(setup, traces, yearly())
    assert {"worn_trace_failed", "no_thermal_model", "no_resistance_law"} <= codes(result)
    assert result.not_modelled == (
        "current amplitude (C-rate)",
        "charging rate",
        "mean state of charge of cycles",
        "temperature at rest and in use",
        "temperature while cycling",
    )
