"""Battery and bank age together: a bank's wear by hand, and lives of the battery beside it in closed form.

The battery loses only by one cycle a day, in proportion to its depth: ``C dC/dt = -r(t)``, so ``C^2 = 1 - 2 * (the
integral of r)``, and it ends at 0.8 when that integral is 0.18. The bank stands at its voltage and loses in proportion
to time; the split asks the battery for more as the bank's capacitance falls.
"""

from dataclasses import dataclass, replace
from math import inf
from types import SimpleNamespace

import numpy as np
import pytest

from lifetime.assessment.conventions import with_conventions
from lifetime.assessment.drivetrain_life import drivetrain_life
from lifetime.assessment.months_day import MonthsDay
from lifetime.assessment.pair import beside_worn_bank
from lifetime.assessment.setups import HealthLimits
from lifetime.assessment.split_outcome import split_outcome
from lifetime.assessment.traces import DayTraces, demand_traces
from lifetime.assessment.worn_bank import DayBesideWornBank, bank_wear
from lifetime.errors import AssessmentError
from lifetime.projection.duty import WornDay
from lifetime.projection.recurring import Recurring
from lifetime.results.records import HealthTrajectory
from lifetime.split.share import SharedPass

YEAR_S = 365.0 * 86_400.0
POWER_W = 35_000.0
"""For 360 s from 350 V: 36,000 As, a tenth of the battery."""
NEW_YEARS = 10.0
PER_FULL_CYCLE = 0.18 / (NEW_YEARS * 365.0 * 0.1)
"""Such a cycle a day ends the battery's life in ten years."""


def bank_result(capacitance, esr, *, used_years, years=10.0):
    """A bank whose capacitance and ESR run straight from 1 over the years."""
    time = np.linspace(0.0, years, 121)
    way = time / years
    zeros = np.zeros(121)
    health = HealthTrajectory(time, 1.0 + way * (capacitance - 1.0), 1.0 + way * (esr - 1.0), zeros, zeros)
    return SimpleNamespace(cost_life_years=used_years, trajectory=health)


class TestWear:
    def test_from_new_to_its_replacement(self):
        # At 8 of 10 years: 16 of 20 % lost, ESR at 1.8; that is the end of its way, and half of it comes at 4 years.
        wear = bank_wear(bank_result(0.8, 2.0, used_years=8.0))
        assert (wear.end.capacitance_fraction, wear.end.esr_ratio) == pytest.approx((0.84, 1.8))
        assert wear.period_years == 8.0
        assert np.interp([0.0, 4.0, 8.0], wear.years, wear.wear) == pytest.approx([0.0, 0.5, 1.0])
        half = wear.state(0.5)
        assert (half.capacitance_fraction, half.esr_ratio) == pytest.approx((0.92, 1.4))

    def test_a_bank_that_is_never_replaced_is_taken_to_where_its_projection_ends(self):
        wear = bank_wear(bank_result(0.9, 1.5, used_years=None))
        assert wear.period_years == inf
        assert (wear.end.capacitance_fraction, wear.end.esr_ratio) == pytest.approx((0.9, 1.5))

    def test_where_only_esr_ages_the_wear_is_that_of_esr(self):
        wear = bank_wear(bank_result(1.0, 2.0, used_years=5.0))
        assert wear.end.esr_ratio == pytest.approx(1.5)
        assert np.interp(2.5, wear.years, wear.wear) == pytest.approx(0.5)

    @pytest.mark.parametrize("bank", [bank_result(1.0, 1.0, used_years=5.0), bank_result(0.8, 2.0, used_years=0.0)])
    def test_a_bank_that_does_not_age_or_never_works_has_none(self, bank):
        assert bank_wear(bank) is None

    def test_two_traced_days_share_the_way_between_them(self):
        # Over eight years; by hand 0.25, 0.5, 0.75 and 1 of the way after 2, 4, 6 and 8.
        half, end = bank_wear(bank_result(0.8, 2.0, used_years=8.0)).shares((0.5, 1.0))
        at = [12 * years - 1 for years in (2, 4, 6, 8)]
        # Means of the month before: half a month less, 1/192 of the way, 1/96 of the half.
        assert half.by_month(96)[at] == pytest.approx([0.5 - 1 / 96, 1.0 - 1 / 96, 0.5 + 1 / 96, 1 / 96])
        assert end.by_month(96)[at] == pytest.approx([0.0, 0.0, 0.5 - 1 / 96, 1.0 - 1 / 96])
        # The mean over a life: a triangle of height 1 over all of it, and one over its second half.
        assert half.mean(8.0) == pytest.approx(0.5)
        assert end.mean(8.0) == pytest.approx(0.25)


def one_cycle(power_W):
    n = 360
    battery_W = np.concatenate([np.full(n, power_W), np.full(n, -power_W)])
    return [SharedPass(np.ones(2 * n), battery_W, np.zeros(2 * n), np.zeros(2 * n), np.full(2 * n + 1, 300.0))]


@pytest.fixture
def pair(battery, ultracapacitor, study_setup, model):
    """Setup and drivetrain of a battery that only cycling ages, beside a bank that lasts some years."""

    def _pair(bank_years, **more):
        cycled = battery(
            law=model(per_second=0.0, per_full_cycle=PER_FULL_CYCLE),
            resistance_ohm=0.0,
            open_circuit_V=lambda soc: np.full(np.shape(soc), 350.0),
        )
        # 300 of 400 V: a state of charge of 0.75.
        standing = ultracapacitor(
            law=model(per_second=0.0 if bank_years == inf else 0.2 / (0.75 * YEAR_S * bank_years))
        )
        setup = study_setup(cycled, replace(standing, **more))
        return setup, setup.drivetrain

    return _pair


def leaving(more, shape=lambda wear: wear):
    """A split that asks the battery for so much more of power with a bank of 80 F."""

    def split(bank, _relief=None):
        return one_cycle(POWER_W * (1.0 + more * shape((100.0 - bank.capacitance_F) / 20.0)))

    return split


def life(setup, drivetrain, split):
    return split_outcome(setup, drivetrain, split).life.battery.life_years


def root(line, square, whole):
    """The positive solution of ``line x + square x^2 = whole``."""
    return (-line + np.sqrt(line**2 + 4.0 * square * whole)) / (2.0 * square)


def test_beside_a_bank_as_new_it_lasts_ten_years(pair):
    assert life(*pair(5.0), leaving(0.0)) == pytest.approx(NEW_YEARS, rel=1e-3)


@pytest.mark.parametrize(
    ("bank_years", "cap", "years"),
    [
        # One bank of twelve years: T + 0.2 T^2 / 24 = 10.
        (12.0, None, root(1.0, 0.2 / 24, 10.0)),
        # Two banks and part of a third: 8 + x + 0.2 (4 + x^2 / 8) = 10.
        (4.0, None, 8.0 + root(1.0, 0.2 / 8, 1.2)),
        # A bank that would last eight years is replaced after four, half-way: 8 + x + 0.1 (4 + x^2 / 8) = 10.
        (8.0, 4.0, 8.0 + root(1.0, 0.1 / 8, 1.6)),
    ],
    ids=["one bank", "replaced", "replaced half-way"],
)
def test_a_worn_bank_takes_its_share_of_the_battery_s_life(pair, bank_years, cap, years):
    setup, drivetrain = pair(bank_years, longest_life_years=cap)
    found = life(setup, drivetrain, leaving(0.2))
    assert found == pytest.approx(years, rel=1e-3)
    # 20 % more of power for half the time, in a model that goes by depth: a tenth, less where it is replaced early.
    assert 0.90 < found / NEW_YEARS < 0.97


def test_a_bank_that_does_not_age_changes_nothing(pair):
    setup, drivetrain = pair(inf)
    split = leaving(0.2)
    outcome = split_outcome(setup, drivetrain, split)
    assert outcome.traces.battery.beside == ()
    traces = demand_traces(drivetrain, split, split(drivetrain.ultracapacitor.bank))
    alone = drivetrain_life(setup, drivetrain, traces, outcome.life.ultracapacitor)
    assert outcome.life.battery.life_years == alone.battery.life_years
    assert outcome.life.energy == alone.energy


def test_a_load_that_comes_late_is_traced_half_way_too(pair):
    # With the square of the wear the mean over the bank's life is a third; by the two traces 0.375, by one 0.5.
    setup, drivetrain = pair(2.0)
    split = leaving(0.04, np.square)
    outcome = split_outcome(setup, drivetrain, split)
    assert len(outcome.traces.battery.beside) == 2
    # 10 = T (1 + 0.04 / 3) over whole lives of the bank.
    assert outcome.life.battery.life_years == pytest.approx(10.0 / (1.0 + 0.04 / 3.0), rel=2.5e-3)
    assert len(split_outcome(setup, drivetrain, leaving(0.04)).traces.battery.beside) == 1


def test_nothing_is_traced_where_the_worn_bank_leaves_the_same(pair):
    setup, drivetrain = pair(5.0)
    assert split_outcome(setup, drivetrain, leaving(1.9e-4)).traces.battery.beside == ()
    assert split_outcome(setup, drivetrain, leaving(2.1e-4)).traces.battery.beside != ()


@pytest.mark.parametrize("kind", ["no current", "no day"])
def test_what_cannot_be_traced_is_said_and_left_at_the_new_bank(pair, kind):
    _, drivetrain = pair(5.0)
    resisting = replace(drivetrain.battery, source=replace(drivetrain.battery.source, resistance_ohm=0.1))
    drivetrain = replace(drivetrain, battery=resisting)
    new = one_cycle(POWER_W)

    def split(bank):
        if kind == "no current":
            # 350 V over 0.1 ohm give at most 350^2 / 0.4 W = 306 kW.
            return one_cycle(400e3)
        raise AssessmentError("It does not settle.")

    traces = demand_traces(drivetrain, lambda _: new, new)
    bank = bank_result(0.8, 2.0, used_years=5.0)
    paired = beside_worn_bank(drivetrain, split, new, traces, bank)
    assert paired.battery.beside == ()
    (notice,) = paired.battery.notices
    assert notice.code == "aged_bank_trace_failed"
    assert ("No current" if kind == "no current" else "does not settle") in notice.message


def test_the_days_of_a_service_are_shared_by_its_wear(day_of, battery):
    new, worn = day_of(battery(), [10.0] * 10), day_of(battery(), [20.0] * 10)
    ramp = Recurring(np.array([0.0, 4.0]), np.array([0.0, 1.0]), 4.0)
    traces = DayTraces(new, beside=(DayBesideWornBank(worn, ramp, None, 0.0),))
    # Over 8 years the mean of the ramp is one half, over 2 one quarter.
    assert [(share, day) for share, day, _ in traces.in_service(8.0)] == [(0.5, new), (0.5, worn)]
    assert [share for share, _, _ in traces.in_service(2.0)] == pytest.approx([0.75, 0.25])


def test_months_with_limits_share_their_own_days_by_the_wear(day_of, battery):
    typical, cold, worn, cold_worn = (day_of(battery(), [amperes] * 10) for amperes in (10.0, 5.0, 20.0, 8.0))
    ramp = Recurring(np.array([0.0, 4.0]), np.array([0.0, 1.0]), 4.0)
    beside = (DayBesideWornBank(worn, ramp, None, 0.0), DayBesideWornBank(cold_worn, ramp, None, 0.0, (0, 1, 11)))
    traces = DayTraces(typical, in_months=(MonthsDay((0, 1, 11), cold),), beside=beside)
    # Three months of twelve; half of the time new.
    assert [(share, day) for share, day, _ in traces.in_service(4.0)] == [
        (0.375, typical),
        (0.375, worn),
        (0.125, cold),
        (0.125, cold_worn),
    ]


def test_heat_and_energy_follow_the_wear(pair):
    # Over 10 years beside banks of 5 the mean wear is one half; heat goes with the square of the power.
    setup, drivetrain = pair(5.0)
    limits = HealthLimits(0.01, 2.0)
    resisting = replace(
        drivetrain.battery,
        source=replace(drivetrain.battery.source, resistance_ohm=1e-4),
        model=replace(drivetrain.battery.model, per_full_cycle=0.0),
        limits=limits,
    )
    drivetrain = replace(drivetrain, battery=resisting)
    coupled = split_outcome(setup, drivetrain, leaving(0.2)).life
    # 720 s a day at 100 A and 1e-4 ohm; half of it at 120 A.
    by_hand = 365.0 * 720.0 * 1e-4 * 0.5 * (100.0**2 + 120.0**2) / 3.6e6
    assert coupled.battery.energy_losses_kWh_per_year == pytest.approx(by_hand, rel=1e-3)
    assert coupled.energy.total_kWh_per_year == pytest.approx(by_hand, rel=1e-3)


@pytest.fixture
def coupled(pair):
    """Setup, drivetrain and outcome of a battery next to banks of four years that leave it a fifth more when worn."""

    def _coupled(**more):
        setup, drivetrain = pair(4.0)
        drivetrain = replace(drivetrain, battery=replace(drivetrain.battery, **more))
        return setup, drivetrain, split_outcome(setup, drivetrain, leaving(0.2))

    return _coupled


@dataclass(frozen=True)
class Strategy:
    """As far as the conventions look at a strategy's result."""

    conventions: tuple = ()
    without_limits: object = None


def test_every_convention_has_the_same_wear(coupled):
    setup, drivetrain, outcome = coupled()
    counted = with_conventions(Strategy(), setup, drivetrain.battery, outcome.traces.battery, outcome.life)
    lives = {(one.small_cycles, one.cycle_rate): one.battery_life_years for one in counted.conventions}
    # The model goes by depth alone, so all that count the whole cycle agree with the study's own.
    assert lives["all", "time_mean"] == pytest.approx(outcome.life.battery.life_years, rel=1e-9)
    assert outcome.life.battery.life_years < 0.95 * NEW_YEARS


def test_a_threshold_below_every_cycle_changes_no_life(coupled):
    _, _, outcome = coupled(smallest_cycle_soc=0.01)
    battery = outcome.life.battery
    assert battery.small_cycles.removed_cycles_per_year == 0.0
    assert battery.small_cycles.life_years_with_all == pytest.approx(battery.life_years, rel=1e-9)


def test_small_cycles_are_left_out_of_the_worn_day_too(day_of, battery):
    # Cycles of 1000 and 10,000 As; the first is left out.
    cycles = [np.full(10, 100.0), np.full(10, -100.0), np.full(100, 100.0), np.full(100, -100.0)]
    day = day_of(battery(), np.concatenate(cycles))
    beside = (DayBesideWornBank(day, Recurring(np.array([0.0, 1.0]), np.zeros(2)), None, 0.0),)
    kept = DayTraces(day, beside=beside).without_small_cycles(5000.0)
    assert day.cycles.size == 2
    assert [one.day.cycles.size for one in kept.beside] == [1]


def test_hours_and_means_of_a_steady_climate_give_one_life(pair):
    setup, drivetrain = pair(4.0)
    steady = replace(setup, operation=replace(setup.operation, ambient_K=np.full(8760, 298.15)))
    battery = split_outcome(steady, drivetrain, leaving(0.2)).life.battery
    (said,) = (notice.message for notice in battery.notices if notice.code == "hourly_climate")
    # 9.17 years, as by hand above.
    assert "9.2 years against 9.2 years" in said


def test_the_typical_worn_day_is_for_the_months_without_one_of_their_own(day_of, battery, yearly):
    typical, cold = (WornDay(day_of(battery(), [amperes] * 10), "none", months=months)
                     for amperes, months in ((10.0, ()), (5.0, (0, 1, 11))))  # fmt: skip
    ramp = Recurring(np.array([0.0, 4.0]), np.array([0.0, 1.0]), 4.0)
    beside = [DayBesideWornBank(typical.day, ramp, None, 0.0), DayBesideWornBank(cold.day, ramp, None, 0.0, (0, 1, 11))]
    parts = yearly().duty(battery().source, [typical, cold], beside=beside).beside.parts
    assert [np.flatnonzero(part.months).tolist() for part in parts] == [[2, 3, 4, 5, 6, 7, 8, 9, 10], [0, 1, 11]]
    # Each against the day of its own months.
    assert [part.as_new.days[0].day for part in parts] == [typical.day, cold.day]


def test_where_the_battery_refuses_braking_the_worn_bank_is_traced_at_any_load(pair):
    # What the battery refuses is asked of the bank besides the rule, so the rule's split does not tell.
    _, drivetrain = pair(5.0)
    split = leaving(0.0)
    new = split(drivetrain.ultracapacitor.bank)
    traces = demand_traces(drivetrain, split, new)
    bank = bank_result(0.8, 2.0, used_years=5.0)
    for friction_kWh, days in ((0.0, 0), (1.0, 1)):
        told = SimpleNamespace(friction_kWh=friction_kWh, serves_power=True)
        braking = replace(traces, battery=replace(traces.battery, feasible=told))
        assert len(beside_worn_bank(drivetrain, split, new, braking, bank).battery.beside) == days
