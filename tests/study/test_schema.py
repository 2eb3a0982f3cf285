"""Strategies of a study: one way to share the power each, names told apart, and sections where they are needed."""

import pytest

# Parts of a strategy, each key once.
POWER = {"file": "log.csv", "time": "t_s", "power": "p_W"}
CURRENT = {"file": "log.csv", "time": "t_s", "current": "i_A"}
SPEED = {"file": "log.csv", "time": "t_s", "speed": "v [km/h]"}
SHAFT = {"file": "log.csv", "time": "t_s", "torque": "T_Nm", "shaft_speed": "n_rpm"}
ALONE = {"rule": "battery_only"}
LOW_PASS = {"rule": "low_pass", "time_constant_s": 5.0}
BY_SPEED = {"rule": "voltage_target", "mass_kg": 1500.0, "recovered_fraction": 0.6, "setpoint_time_constant_s": 10.0}
PLACE = "strategy[1]"


@pytest.fixture
def strategy_faults(faults):
    """Faults of a study with these strategies, by place; names are given where there are none."""

    def run(*strategies, **changes):
        named = [{"name": f"S{number}", **one} for number, one in enumerate(strategies, start=1)]
        return faults({**changes, "strategy": named})

    return run


@pytest.mark.parametrize(
    "strategy",
    [
        {"demand": POWER, "split": ALONE},
        {"demand": POWER, "split": LOW_PASS},
        {"demand": SPEED, "split": LOW_PASS},
        {"demand": POWER | {"speed": "v [km/h]"}, "split": BY_SPEED},
        {"demand": SPEED, "split": BY_SPEED},
        {"demand": CURRENT | {"voltage": "u_V"}, "split": LOW_PASS},
        {"demand": SHAFT, "split": LOW_PASS},
        {"battery": SHAFT | {"torque_fraction": 0.3}, "ultracapacitor": SHAFT | {"torque_fraction": 0.7}},
        {"battery": SHAFT, "ultracapacitor": SHAFT | {"torque": "T2_Nm"}},
        {"battery": CURRENT},
        {"battery": POWER},
        {"battery": CURRENT, "ultracapacitor": POWER},
    ],
)
def test_a_strategy_that_says_one_way(strategy_faults, strategy):
    assert strategy_faults(strategy) == {}


@pytest.mark.parametrize(
    ("strategy", "said"),
    [
        ({}, "give either demand and split, or battery (and ultracapacitor) histories"),
        ({"demand": POWER, "split": ALONE, "battery": CURRENT}, "not both, not neither"),
        ({"demand": POWER, "ultracapacitor": CURRENT}, "not both, not neither"),
        ({"split": ALONE, "battery": CURRENT}, "not both, not neither"),
        ({"demand": POWER}, "demand and split belong together"),
        ({"split": ALONE}, "demand and split belong together"),
        ({"ultracapacitor": CURRENT}, "needs at least the battery's"),
        ({"demand": CURRENT, "split": ALONE}, "a current alone is no power: name the voltage column too"),
        ({"demand": POWER | {"voltage": "u_V", "current_from_power": True}, "split": ALONE}, "belongs to a source's"),
        ({"demand": SPEED | {"interpolation": "zero_order_hold"}, "split": ALONE}, "jumps at each of them"),
        ({"battery": SHAFT | {"torque_fraction": 0.3}, "ultracapacitor": SHAFT | {"torque_fraction": 0.5}}, "to 0.8"),
        ({"battery": SHAFT, "ultracapacitor": SHAFT}, "must sum to 1"),
        ({"battery": SPEED}, "a speed belongs to a demand"),
        ({"battery": CURRENT, "ultracapacitor": SPEED}, "a speed belongs to a demand"),
        ({"demand": POWER, "split": BY_SPEED}, "looks at the speed: name it in the demand"),
    ],
)
def test_a_strategy_that_contradicts_itself(strategy_faults, strategy, said):
    found = strategy_faults(strategy)
    assert list(found) == [PLACE]
    assert said in found[PLACE]


@pytest.mark.parametrize(
    ("strategy", "with_bank", "reads"),
    [
        ({"demand": POWER, "split": ALONE}, False, ["demand"]),
        ({"demand": POWER, "split": LOW_PASS}, True, ["demand"]),
        ({"battery": CURRENT}, False, ["battery"]),
        ({"battery": CURRENT, "ultracapacitor": POWER}, True, ["battery", "ultracapacitor"]),
    ],
)
def test_whether_it_has_a_bank_and_what_it_reads(accept, strategy, with_bank, reads):
    one = accept({"strategy": [{"name": "S1", **strategy}]}).strategy[0]
    assert one.has_ultracapacitor is with_bank
    assert list(one.inputs()) == reads
    assert all(spec.file == "log.csv" for spec in one.inputs().values())


def test_names_are_unique(strategy_faults):
    alone = {"demand": POWER, "split": ALONE}
    found = strategy_faults(*({**alone, "name": name} for name in ("b", "a", "b", "c", "a", "a")))
    assert found == {"strategy": "names must be unique, found more than once: a, b."}


def test_a_study_has_a_strategy(faults):
    assert faults({"strategy": []}) == {"strategy": "needs at least 1 entry."}


def test_a_demand_by_speed_needs_a_vehicle(strategy_faults, gone):
    strategies = ({"demand": SPEED, "split": ALONE}, {"demand": POWER, "split": ALONE})
    assert strategy_faults(*strategies) == {}
    found = strategy_faults(*strategies, vehicle=gone)
    assert found == {"study": "the section [vehicle] is missing, but these demands are speeds: S1."}
    assert strategy_faults(strategies[1], {"battery": CURRENT}, vehicle=gone) == {}


def test_copper_is_counted_once(strategy_faults):
    machine = {"rated_power_W": 1e5, "copper_loss_fraction": 0.03}
    split = {"demand": POWER, "split": ALONE}
    assert strategy_faults(split, machine=machine) == {}
    found = strategy_faults({"battery": CURRENT}, machine=machine)
    assert "no strategy has a demand" in found["study"]
    friction = SHAFT | {"machine": {"speed_W_per_rpm": 0.02}}
    assert strategy_faults({"demand": friction, "split": ALONE}, machine=machine) == {}
    by_map = {"map_speed_rpm": [1, 2], "map_torque_Nm": [1, 2], "map_efficiency": [[0.9, 0.9], [0.9, 0.9]]}
    for losses in ({"torque_W_per_Nm2": 0.2}, by_map):
        twice = {"demand": SHAFT | {"machine": losses}, "split": ALONE}
        assert "counted twice" in strategy_faults(split, twice, machine=machine)["study"]
        assert strategy_faults(split, twice) == {}


def test_a_bank_needs_its_section(strategy_faults, gone):
    alone = {"demand": POWER, "split": ALONE}
    using = ({"demand": POWER, "split": LOW_PASS}, {"battery": CURRENT, "ultracapacitor": CURRENT})
    assert strategy_faults(alone, ultracapacitor=gone) == {}
    found = strategy_faults(alone, *using, ultracapacitor=gone)
    assert found == {"study": "the section [ultracapacitor] is missing, but these strategies use one: S2, S3."}
