"""Order, ties and missing results by definition; comparability against the 1 % criterion of SAE J1711 (second hand)."""

import math
from dataclasses import replace

import pytest

from lifetime.costing.ranking import TripFigures, comparability_notices, order, rank
from lifetime.errors import NumberError

CLOSED_DAY = TripFigures(
    name="Battery alone",
    energy_kWh=50.0,
    duration_s=28_800.0,
    net_battery_charge_Ah=0.0,
    net_ultracapacitor_energy_kWh=0.0,
    battery_throughput_Ah=200.0,
)


def test_missing_result_comes_last():
    """A known trap: sorting 8, NaN, 12, 10 leaves the list as it is. Here the longest life is the lowest cost."""
    lives = [8, None, 12, 10]
    costs = [None if life is None else -life for life in lives]
    assert rank(costs) == [3, None, 1, 2]
    assert [lives[place] for place in order(costs)] == [12, 10, 8, None]


def test_ties_share_a_rank_and_the_next_is_skipped():
    """Competition ranking by definition: 10, 10, 9 years rank 1, 1, 3."""
    assert rank([-10, -10, -9]) == [1, 1, 3]
    assert rank([5.0, 3.0, 5.0, 4.0, 6.0]) == [3, 1, 3, 2, 5]


def test_rounding_is_a_tie_and_the_order_stays_as_given():
    costs = [1000.0 * (1 + 4e-10), 1000.0, 2000.0, 1000.0 * (1 + 8e-10)]
    assert rank(costs) == [1, 1, 4, 1]
    assert order(costs) == [0, 1, 3, 2]


def test_ties_do_not_chain():
    """Each is within the tolerance of its neighbour, the last is not within that of the first."""
    assert rank([1.0, 1 + 0.8e-9, 1 + 1.6e-9]) == [1, 1, 3]


def test_a_missing_result_comes_after_the_dearest():
    """However few there are: the missing one stood first."""
    assert order([None, 1.0, 2.0]) == [1, 2, 0]
    assert order([None, None, 1.0, 2.0, 3.0]) == [2, 3, 4, 0, 1]


def test_order_is_stable_among_missing_results():
    assert order([None, 2.0, None, 1.0]) == [3, 1, 0, 2]


def test_ranking_of_little():
    assert rank([]) == order([]) == []
    assert rank([None]) == [None]
    assert rank([0.0, 0.0, -1.0]) == [2, 2, 1]


@pytest.mark.parametrize("cost", [math.nan, math.inf])
def test_cost_that_is_no_number_is_refused(cost):
    with pytest.raises(NumberError, match="strategy 2"):
        rank([1.0, cost])


def test_same_trip_says_nothing():
    assert comparability_notices([CLOSED_DAY, replace(CLOSED_DAY, name="Low-pass", battery_throughput_Ah=150.0)]) == []
    assert comparability_notices([CLOSED_DAY]) == comparability_notices([]) == []


@pytest.mark.parametrize(
    ("field", "within", "beyond", "code"),
    [
        ("energy_kWh", 49.6, 49.4, "trip_energy_differs"),  # 0.8 % and 1.2 % of 50 kWh
        ("duration_s", 28_550.0, 28_450.0, "trip_duration_differs"),  # 0.87 % and 1.2 % of 8 h
        ("net_battery_charge_Ah", -1.9, 2.1, "net_battery_charge_differs"),  # 0.95 % and 1.05 % of 200 Ah
        ("net_ultracapacitor_energy_kWh", 0.49, -0.51, "net_ultracapacitor_energy_differs"),  # of 50 kWh
    ],
)
def test_one_percent_decides(field, within, beyond, code):
    assert comparability_notices([CLOSED_DAY, replace(CLOSED_DAY, name="Low-pass", **{field: within})]) == []
    (notice,) = comparability_notices([CLOSED_DAY, replace(CLOSED_DAY, name="Low-pass", **{field: beyond})])
    assert (notice.code, notice.severity) == (code, "warning")
    for shown in ("Battery alone", "Low-pass", f"{beyond:g}", f"{getattr(CLOSED_DAY, field):g}"):
        assert shown in notice.message


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("energy_kWh", 40.0, "trip energy per day differs by 20.0% of the larger: 40 kWh"),
        ("duration_s", 21_600.0, "trip duration per day differs by 25.0% of the larger: 21600 s"),
        (
            "net_battery_charge_Ah",
            -10.0,
            "net battery charge per day differs by 5.0% of the battery throughput: -10 Ah",
        ),
        (
            "net_ultracapacitor_energy_kWh",
            -5.0,
            "net ultracapacitor energy per day differs by 10.0% of the trip energy: -5 kWh",
        ),
    ],
)
def test_what_differs_is_said_with_its_unit_and_scale(field, value, words):
    """10 of 50 kWh, 2 of 8 h, 10 of 200 Ah, 5 of 50 kWh."""
    (notice,) = comparability_notices([CLOSED_DAY, replace(CLOSED_DAY, name="Low-pass", **{field: value})])
    assert notice.message.startswith(f'The {words} for "Low-pass", ')


@pytest.mark.parametrize(
    ("field", "quantity"),
    [
        ("energy_kWh", "trip energy"),
        ("duration_s", "trip duration"),
        ("net_battery_charge_Ah", "net battery charge"),
        ("net_ultracapacitor_energy_kWh", "net ultracapacitor energy"),
        ("battery_throughput_Ah", "battery throughput"),
    ],
)
def test_a_figure_that_is_no_number_is_named(field, quantity):
    with pytest.raises(NumberError, match=f"^{quantity} "):
        comparability_notices([CLOSED_DAY, replace(CLOSED_DAY, **{field: math.nan})])


def test_equal_imbalance_compares_like_with_like():
    borrowed = replace(CLOSED_DAY, net_battery_charge_Ah=30.0)
    assert comparability_notices([borrowed, replace(borrowed, name="Low-pass")]) == []


def test_the_two_that_differ_most_are_named():
    days = [replace(CLOSED_DAY, name=f"S{kWh}", energy_kWh=kWh) for kWh in (50.0, 52.0, 48.0, 51.0)]
    (notice,) = comparability_notices(days)
    assert "S48.0" in notice.message
    assert "S52.0" in notice.message
    assert "7.7%" in notice.message  # 4/52


def test_imbalance_without_any_throughput_is_a_difference():
    idle = replace(CLOSED_DAY, battery_throughput_Ah=0.0)
    (notice,) = comparability_notices([idle, replace(idle, name="Low-pass", net_battery_charge_Ah=0.1)])
    assert notice.code == "net_battery_charge_differs"


def test_figure_that_is_no_number_is_refused():
    with pytest.raises(NumberError, match="trip energy"):
        comparability_notices([CLOSED_DAY, replace(CLOSED_DAY, energy_kWh=math.nan)])
