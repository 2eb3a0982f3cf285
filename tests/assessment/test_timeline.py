"""Where in a day the ageing comes about, against days whose parts follow by hand.

The model loses ``soc * seconds`` and ``depth`` a cycle in fixed proportions, so a part of the day has the share of the
loss that its own ``soc * seconds`` have in the day's, or its own charge in the charge of the cycle.
"""

import numpy as np
import pytest

from lifetime.assessment.timeline import IntervalCurrents, ageing_timeline
from lifetime.stress.day import Charging

DAY_S = 86_400.0
CAPACITY_AS = 360_000.0


@pytest.fixture
def timeline(day_of, yearly):
    """Lay a loss over a day of given currents, one a second."""

    def _timeline(setup, current_A, loss=(0.1, 0.0, 0.0), runs_per_year=365.0):
        current = np.asarray(current_A, dtype=np.float64)
        day = day_of(setup, current)
        currents = IntervalCurrents(np.ones(current.size), current)
        return ageing_timeline(setup, day, yearly(runs_per_year=runs_per_year), currents, np.array(loss))

    return _timeline


def test_two_levels_of_charge_age_in_the_ratio_of_their_rates(timeline, battery):
    """Half an hour at 80 %, 400 s of discharge at 1 C * 3.6, half an hour at 40 %: rates as 0.8 to 0.4."""
    current = np.concatenate([np.zeros(1800), np.full(400, 360.0), np.zeros(1800)])
    ageing = timeline(battery(), current)
    # Without charging the pack rests at 40 %: soc * seconds of the day by hand.
    drive = 0.8 * 1800 + 0.6 * 400 + 0.4 * 1800
    rest = 0.4 * (DAY_S - 4000)
    per_soc_second = 0.1 / (drive + rest)
    assert ageing.calendar_fraction[:1800] == pytest.approx(0.8 * per_soc_second, rel=1e-9)
    assert ageing.calendar_fraction[-1800:] == pytest.approx(0.4 * per_soc_second, rel=1e-9)
    # In the first second of discharge the mean is half a second's charge below 80 %.
    assert ageing.calendar_fraction[1800] == pytest.approx((0.8 - 0.5 * 0.001) * per_soc_second, rel=1e-9)
    assert ageing.resting_fraction == pytest.approx(rest * per_soc_second, rel=1e-9)
    assert ageing.charging_fraction == 0.0
    assert not ageing.cyclic_fraction.any()


def test_a_day_of_rest_only_ages_at_rest(timeline, battery):
    """An hour of driving that draws nothing at 40 %, then 23 h at 40 %: 1 to 23."""
    ageing = timeline(battery(start_soc=0.4), np.zeros(3600))
    assert ageing.resting_fraction == pytest.approx(0.1 * 23 / 24, rel=1e-9)
    assert ageing.calendar_fraction == pytest.approx(0.1 / 24 / 3600, rel=1e-9)
    assert ageing.charging_fraction == 0.0


def test_a_day_of_charge_only_ages_while_charging(timeline, battery):
    """An hour idle at 40 %, then 23 h of charging to 80 %, at 60 % on average; no second of rest."""
    charging = Charging(0.4 * CAPACITY_AS / (DAY_S - 3600), 0.8)
    ageing = timeline(battery(start_soc=0.4, rest_soc=0.8, charging=charging), np.zeros(3600))
    idle, charged = 0.4 * 3600, 0.6 * (DAY_S - 3600)
    assert ageing.charging_fraction == pytest.approx(0.1 * charged / (idle + charged), rel=1e-9)
    assert ageing.calendar_fraction.sum() == pytest.approx(0.1 * idle / (idle + charged), rel=1e-9)
    assert ageing.resting_fraction == pytest.approx(0.0, abs=1e-12)


def test_charging_and_rest_are_told_apart(timeline, battery):
    """One hour idle at 40 %, 2 h of charging at 60 % on average, 21 h at rest at 80 %: 0.4 to 1.2 to 16.8."""
    charging = Charging(0.4 * CAPACITY_AS / 7200, 0.8)
    ageing = timeline(battery(start_soc=0.4, rest_soc=0.8, charging=charging), np.zeros(3600))
    assert ageing.calendar_fraction.sum() == pytest.approx(0.1 * 0.4 / 18.4, rel=1e-9)
    assert ageing.charging_fraction == pytest.approx(0.1 * 1.2 / 18.4, rel=1e-9)
    assert ageing.resting_fraction == pytest.approx(0.1 * 16.8 / 18.4, rel=1e-9)


def test_days_without_work_count_as_rest(timeline, battery):
    """Worked every other day: an hour of driving and 23 + 24 h of rest, all at 40 %."""
    ageing = timeline(battery(start_soc=0.4), np.zeros(3600), runs_per_year=182.5)
    assert ageing.resting_fraction == pytest.approx(0.1 * 47 / 48, rel=1e-9)


def test_the_only_cycle_lies_where_its_charge_moves(timeline, battery, model):
    """Idle, 10 s of discharge and 10 s of charge, idle: each of the 20 seconds moves a twentieth of the charge."""
    current = np.zeros(220)
    current[100:110], current[110:120] = 90.0, -90.0
    ageing = timeline(battery(law=model(per_full_cycle=1e-4)), current, loss=(0.0, 0.05, 0.0))
    assert ageing.cyclic_fraction[100:120] == pytest.approx(0.05 / 20, rel=1e-9)
    assert not np.delete(ageing.cyclic_fraction, np.arange(100, 120)).any()
    assert ageing.charging_fraction == pytest.approx(0.0, abs=1e-12)
    assert ageing.resting_fraction == pytest.approx(0.0, abs=1e-12)


def test_a_cycle_within_a_cycle_adds_to_it(timeline, battery, model):
    """20 s out and back around 5 s back and out, all at one current: depths as 4 to 1, so 0.08 and 0.02 of 0.1.

    The large cycle's way out lasts 30 s with the small cycle in it, its way back 20 s; each has half of 0.08.
    """
    current = np.zeros(100)
    current[10:20], current[20:25], current[25:40], current[40:60] = 90.0, -90.0, 90.0, -90.0
    ageing = timeline(battery(law=model(per_full_cycle=1e-4)), current, loss=(0.0, 0.1, 0.0))
    assert ageing.cyclic_fraction[10:20] == pytest.approx(0.04 / 30, rel=1e-9)
    assert ageing.cyclic_fraction[20:25] == pytest.approx(0.04 / 30 + 0.01 / 5, rel=1e-9)
    assert ageing.cyclic_fraction[10:40].sum() == pytest.approx(0.04 + 0.02, rel=1e-9)
    assert ageing.cyclic_fraction[40:60] == pytest.approx(0.04 / 20, rel=1e-9)


def test_a_cycle_that_charging_closes_is_half_the_drives(timeline, battery, model):
    """What 100 s of discharge take out, charging brings back: one cycle, half of it each."""
    setup = battery(law=model(per_full_cycle=1e-4), charging=Charging(50.0, 0.8))
    ageing = timeline(setup, np.full(100, 360.0), loss=(0.0, 0.06, 0.0))
    assert ageing.cyclic_fraction == pytest.approx(0.03 / 100, rel=1e-9)
    assert ageing.charging_fraction == pytest.approx(0.03, rel=1e-9)


def test_the_parts_sum_to_the_loss(timeline, battery, model):
    rng = np.random.default_rng(5)
    setup = battery(law=model(per_full_cycle=1e-4), charging=Charging(50.0, 0.8), rest_soc=0.8)
    ageing = timeline(setup, rng.normal(50.0, 200.0, 900), loss=(0.07, 0.04, 0.0))
    parts = ageing.capacity_loss_fraction.sum() + ageing.charging_fraction + ageing.resting_fraction
    assert ageing.total_fraction == pytest.approx(0.11, rel=1e-12)
    assert parts == pytest.approx(0.11, rel=1e-9)
    assert (ageing.capacity_loss_fraction >= 0.0).all()
