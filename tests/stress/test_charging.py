"""Charging at constant current, then at constant voltage; and a battery that stands above where charging would end."""

import math

import numpy as np
import pytest

from lifetime.stress.charging import Charging, charge_stages
from lifetime.stress.day import build_day

CAPACITY_AS = 180_000.0


def test_below_the_highest_voltage_the_current_is_constant(source):
    # 300 V + 100 V * soc, 0.1 ohm, 10 A: 391 V at 0.9, below 420 V. 0.3 of 180,000 As at 10 A take 5400 s.
    (stage,) = charge_stages(source(start_soc=0.9), Charging(10.0, 0.9), 0.3 * CAPACITY_AS)
    assert (stage.current_A, stage.length_s) == (10.0, pytest.approx(5400.0))


def test_at_the_highest_voltage_the_current_falls(source):
    # 250 A (5 C) take 25 V; 390 V are reached where the open circuit has 365 V, at 0.65. From 0.5 that takes
    # 0.15 * 180,000 / 250 = 108 s. Then the current falls with a time constant of 0.1 ohm * 180,000 As / 100 V = 180 s
    # to a twentieth (12.5 A) in 180 s * ln 20, where the open circuit has 388.75 V, at 0.8875.
    pack = source(start_soc=1.0, maximum_voltage_V=390.0)
    first, *falling = charge_stages(pack, Charging(250.0, 1.0), 0.5 * CAPACITY_AS)
    assert (first.current_A, first.length_s) == (250.0, pytest.approx(108.0))
    assert sum(stage.length_s for stage in falling) == pytest.approx(180.0 * math.log(20.0), rel=0.01)
    charged = first.charge_As + sum(stage.charge_As for stage in falling)
    assert 0.5 + charged / CAPACITY_AS == pytest.approx(0.8875)
    reached = first.charge_As
    for stage in falling:
        soc = 0.5 + (reached + 0.5 * stage.charge_As) / CAPACITY_AS
        assert 300.0 + 100.0 * soc + 0.1 * stage.current_A == pytest.approx(390.0)
        reached += stage.charge_As


def test_constant_voltage_ends_where_it_was_to(source):
    # As above, to 0.8: the current is then (390 - 380) V / 0.1 ohm = 100 A, in 180 s * ln 2.5.
    pack = source(start_soc=0.8, maximum_voltage_V=390.0)
    _, *falling = charge_stages(pack, Charging(250.0, 0.8), 0.3 * CAPACITY_AS)
    assert sum(stage.length_s for stage in falling) == pytest.approx(180.0 * math.log(2.5), rel=0.01)


def test_a_day_charged_at_constant_voltage_adds_up(source, trace):
    # 25 A for 1200 s out, and all of it back; the pack rests where charging ended.
    pack = source(start_soc=0.8, rest_soc=0.8, maximum_voltage_V=390.0)
    day = build_day(trace(pack, np.arange(0.0, 1201.0), current_A=np.full(1201, 25.0)), pack, Charging(250.0, 0.8))
    assert day.throughput_As == pytest.approx(60_000.0)
    assert day.open_charge_As == pytest.approx(0.0, abs=1e-6)
    assert day.bins.time_s.sum() == pytest.approx(86_400.0)
    assert day.cycles.range_As.tolist() == pytest.approx([30_000.0])
    assert day.held_back_As == pytest.approx(0.0, abs=1e-6)


def test_what_the_voltage_holds_back_stays_out(source, trace):
    # It ends at 0.8875, as reckoned above, and rests there; 0.1125 of the capacity stay out.
    pack = source(start_soc=1.0, rest_soc=1.0, maximum_voltage_V=390.0)
    drive = trace(pack, np.arange(0.0, 3601.0, 60.0), current_A=np.full(61, 25.0))
    day = build_day(drive, pack, Charging(250.0, 1.0))
    assert day.held_back_As == pytest.approx(0.1125 * CAPACITY_AS)
    assert day.bins.soc[-1] - day.bins.charge_As[-1] / CAPACITY_AS == pytest.approx(0.8875)


def test_a_battery_above_where_charging_ends_stays_there(source, trace):
    # From 0.9 the drive takes 0.2 of the capacity; charging to 0.5 has nothing to do. The day is one cycle of 0.2 and
    # a rest at 0.7, neither a cycle of 0.4 nor a rest at 0.5.
    pack = source(start_soc=0.9, rest_soc=0.5)
    drive = trace(pack, np.arange(0.0, 3601.0), current_A=np.full(3601, 10.0))
    day = build_day(drive, pack, Charging(10.0, 0.5))
    assert day.charging_s == 0.0
    assert (day.cycles.range_As / CAPACITY_AS).tolist() == pytest.approx([0.2])
    assert day.bins.soc[-1] - day.bins.charge_As[-1] / CAPACITY_AS == pytest.approx(0.7)


@pytest.mark.parametrize("rounding", [0.0, 1e-8, -1e-8])
def test_a_drive_of_just_24_hours_fits(source, trace, rounding):
    pack = source(rest_soc=0.6)
    time = np.linspace(0.0, 86_400.0 + rounding, 145)
    day = build_day(trace(pack, time, current_A=np.zeros(145)), pack, Charging(10.0, 0.6))
    assert day.bins.time_s.sum() == pytest.approx(86_400.0)
