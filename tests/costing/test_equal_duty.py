"""Which days are one duty: against the 1 % criterion of SAE J1711 (second hand), worked by hand."""

import math
from dataclasses import replace

import pytest

from lifetime.costing.equal_duty import check_duties, ranked_all_the_same
from lifetime.costing.ranking import TripFigures
from lifetime.errors import NumberError

DAY = TripFigures(
    name="A",
    energy_kWh=50.0,
    duration_s=28_800.0,
    net_battery_charge_Ah=0.0,
    net_ultracapacitor_energy_kWh=0.0,
    distance_km=100.0,
)


def days(*changes):
    """One day more than there are changes, named A, B, C, ..."""
    return [DAY, *(replace(DAY, name="BCDEF"[place], **one) for place, one in enumerate(changes))]


def unranked(trips):
    return set(check_duties(trips).unequal)


def test_the_same_day_is_one_duty():
    assert unranked(days({}, {})) == unranked(days()) == unranked([]) == set()


@pytest.mark.parametrize(
    ("field", "within", "beyond"),
    [
        ("energy_kWh", 49.6, 49.4),  # 0.8 % and 1.2 % of 50 kWh
        ("duration_s", 28_550.0, 28_450.0),  # 0.87 % and 1.2 % of 8 h
        ("distance_km", 99.1, 98.9),
        ("net_battery_energy_kWh", -0.49, 0.51),  # of the delivered 50 kWh
        ("net_ultracapacitor_energy_kWh", 0.49, -0.51),
    ],
)
def test_one_percent_decides(field, within, beyond):
    assert unranked(days({}, {field: within})) == set()
    assert unranked(days({}, {field: beyond})) == {"C"}


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("energy_kWh", 40.0, "the delivered energy is 40 kWh, not 50 kWh a day (-20 %)"),
        ("duration_s", 36_000.0, "driving takes 10 h, not 8 h a day (+25 %)"),
        ("distance_km", 98.0, "the distance is 98 km, not 100 km a day (-2 %)"),
        ("net_battery_energy_kWh", 5.0, "the stored energy falls by 5 kWh, not 0 kWh a day"),
    ],
)
def test_what_differs_is_said_with_value_and_unit(field, value, words):
    (reason,) = check_duties(days({}, {field: value})).unequal.values()
    assert reason == f"its duty is not that of “A” and 1 other: {words}"


def test_energy_is_compared_on_the_scale_of_what_the_battery_moves():
    """A log with regeneration and charging delivers little on balance: 0.3 kWh are 1 % of 30 kWh, not 30 % of 1 kWh."""
    log = [replace(DAY, name=name, energy_kWh=kWh, moved_kWh=30.0) for name, kWh in (("A", 1.0), ("B", 1.2))]
    assert unranked(log) == set()


def test_most_histories_decide():
    assert unranked(days({"energy_kWh": 40.0}, {}, {"energy_kWh": 40.0}, {})) == {"B", "D"}


def test_two_unlike_days_of_equal_number_are_both_left_out():
    pair = days({"energy_kWh": 40.0})
    assert unranked(pair) == {"A", "B"}
    assert unranked([*pair, *(replace(one, name=one.name * 2) for one in pair)]) == {"A", "B", "AA", "BB"}


def test_a_demand_says_what_the_duty_is_however_many_histories_differ():
    assert unranked(days({"energy_kWh": 40.0, "demand": "power"}, {}, {})) == {"A", "C", "D"}


def test_strategies_of_one_demand_do_one_work_whatever_their_sources_lose():
    """Behind inverters of different load the terminals deliver 50 and 45 kWh for the same second-by-second demand."""
    one = replace(DAY, demand="power")
    other = replace(one, name="B", energy_kWh=45.0)
    assert unranked([one, other]) == set()
    assert unranked([one, replace(other, demand="another power")]) == {"A", "B"}
    assert unranked([one, replace(other, duration_s=20_000.0)]) == {"A", "B"}


def test_equal_imbalance_compares_like_with_like():
    borrowed = replace(DAY, net_battery_energy_kWh=10.0)
    assert unranked([borrowed, replace(borrowed, name="B")]) == set()


def test_a_net_change_behind_a_charger_is_corrected_up_to_five_percent():
    """0.40 kWh of the battery, 13.889 F (480^2 - 430^2) / 2 = 0.08777 kWh of the bank, of 45.00 kWh metered: 1.08 %."""
    bank_kWh = 13.889 * (480.0**2 - 430.0**2) / 2.0 / 3.6e6
    short = replace(DAY, net_battery_energy_kWh=0.40, net_ultracapacitor_energy_kWh=bank_kWh, metered_kWh=45.0)
    level = replace(DAY, name="B", metered_kWh=45.6)
    check = check_duties([short, level])
    assert check.unequal == {}
    (said,) = check.notices
    assert said.code == "net_change_corrected"
    assert "0.488 kWh less in store than it began with (1.1 % of the 45 kWh metered)" in said.message
    assert check_duties([replace(short, net_battery_energy_kWh=0.35), level]).notices == ()  # 0.97 %
    assert unranked([replace(short, net_battery_energy_kWh=2.1), level]) == set()  # 4.9 %
    assert unranked([replace(short, net_battery_energy_kWh=2.2), level]) == {"A"}  # 5.1 %
    assert unranked([replace(short, net_battery_energy_kWh=-2.4), level]) == {"A"}  # 5.1 % more
    assert unranked([replace(short, metered_kWh=0.0), level]) == {"A"}


def test_what_is_ranked_all_the_same_is_said():
    (said,) = ranked_all_the_same(check_duties(days({}, {"energy_kWh": 40.0})).unequal)
    assert said.message.startswith("“C”: its duty is not that of “A” and 1 other: the delivered energy is 40 kWh")
    assert said.message.endswith("cost.rank_unequal_duty = true asks.")


@pytest.mark.parametrize("field", ["energy_kWh", "duration_s", "distance_km", "net_battery_energy_kWh"])
def test_a_figure_that_is_no_number_is_named(field):
    with pytest.raises(NumberError, match=field.replace("_", " ")):
        check_duties(days({field: math.nan}))
