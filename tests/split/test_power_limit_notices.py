"""What a power limit says of a day on which the battery passes it, reckoned by hand."""

import numpy as np

from lifetime.split.losses import Loss
from lifetime.split.rules import PowerLimit
from lifetime.split.share import SharedPass


def rule(**more):
    return PowerLimit(discharge_limit_W=20_000.0, charge_limit_W=5_000.0, hysteresis_W=1_000.0, **more)


def day(*battery_W):
    power = np.array(battery_W)
    idle = np.zeros(power.size)
    return [SharedPass(np.full(power.size, 2.0), power, idle, idle, np.zeros(power.size + 1))]


def test_within_the_limits_nothing_is_said():
    assert rule().day_notices(day(21_000.0, -6_000.0, 0.0)) == []


def test_each_direction_has_its_time_and_its_largest_power():
    (notice,) = rule().day_notices(day(30_000.0, 22_000.0, -7_000.0, 0.0))
    assert notice.code == "battery_limit_passed"
    assert "discharge limit of 20 kW for 4 s of the day (largest 30 kW)" in notice.message
    assert "ultracapacitor is empty" in notice.message
    assert "charge limit of 5 kW for 2 s of the day (largest 7 kW)" in notice.message
    assert "ultracapacitor is full" in notice.message


def test_the_limit_holds_on_the_machines_side():
    # 25 kW at the terminals are 20 kW behind a converter of 80 %.
    assert rule(battery_loss=Loss(efficiency=0.8)).day_notices(day(25_000.0)) == []
