"""A user's own function as a split rule: given in Python, told apart by what it does, never recorded."""

import numpy as np
import pytest

from lifetime.errors import AssessmentError, InputError
from lifetime.split import rules
from lifetime.split.bank import Bank
from lifetime.split.day import share_day
from lifetime.split.rules import PowerLimit, UserFunction
from lifetime.split.share import Demand

BANK = Bank(62.5, 0.014, 64.8, 129.6, 2000.0)
LIMIT_W = 40e3
TABLE = np.array([1.0, 2.0])


def with_global(step):
    return min(step.demand_W, LIMIT_W), step.state


def helper(step):
    return min(step.demand_W, LIMIT_W)


def with_helper(step):
    return helper(step), step.state


def with_array(step):
    return float(TABLE[0]) * step.demand_W, step.state


def with_library(step):
    return float(np.clip(step.demand_W, 0.0, 1.0)), max(1.0, 2.0)


def again(step):
    return again(step) if step.length_s < 0.0 else (step.demand_W, step.state)


def with_parts(limit_W):
    def mine(step):
        return min([step.demand_W], key=lambda power: abs(power - limit_W)), step.state

    return mine


def test_it_shares_like_the_rule_that_it_spells_out():
    rng = np.random.default_rng(5)
    demand = Demand(rng.uniform(0.5, 2.0, 80), rng.normal(20e3, 2e4, 80))
    mine = rules.function(lambda step: (min(max(step.demand_W, -1e4), 4e4), step.state))
    one = share_day(demand, mine.resolved({}), BANK, 100.0, 1)[0]
    limit = share_day(demand, PowerLimit(discharge_limit_W=4e4, charge_limit_W=1e4), BANK, 100.0, 1)[0]
    np.testing.assert_allclose(one.bank_W, limit.bank_W, rtol=1e-5, atol=1.0)


def test_a_step_has_what_the_readme_lists():
    seen = []

    def mine(step):
        seen.append(step)
        return step.demand_W, "next"

    demand = Demand(np.array([2.0, 1.0]), np.array([10.0, 20.0]), np.array([3.0, 4.0]))
    share_day(demand, rules.function(mine), BANK, 100.0, 1)
    first, second = seen
    assert (first.length_s, first.demand_W, first.speed_m_s, first.state) == (2.0, 10.0, 3.0, None)
    assert (first.ultracapacitor_voltage_V, second.state) == (100.0, "next")
    with pytest.raises(AttributeError):
        first.demand_W = 0.0


@pytest.mark.parametrize("function", [with_global, with_helper, with_array, with_library, again, with_parts(1.0)])
def test_the_same_function_has_the_same_id(function):
    assert rules.function(function).file == rules.function(function).file


@pytest.mark.parametrize(
    ("function", "name", "value"),
    [
        (with_global, "LIMIT_W", 39e3),
        (with_helper, "LIMIT_W", 39e3),
        (with_array, "TABLE", np.array([1.0, 2.5])),
        (with_array, "TABLE", np.array([[1.0, 2.0]])),
        (with_helper, "helper", lambda step: step.demand_W),
    ],
)
def test_another_value_that_it_uses_is_another_id(function, name, value, monkeypatch):
    rule = rules.function(function)
    monkeypatch.setitem(function.__globals__, name, value)
    assert rules.function(function).file != rule.file
    # The rule made before does not silently assess something else.
    with pytest.raises(AssessmentError, match="has changed since"):
        rule.resolved({})


def test_another_enclosed_value_or_default_is_another_id():
    def with_default(limit_W):
        def mine(step, most_W=limit_W):
            return min(step.demand_W, most_W), step.state

        return mine

    for made in (with_parts, with_default):
        assert rules.function(made(1.0)).file != rules.function(made(2.0)).file
        assert rules.function(made(1.0)).file == rules.function(made(1.0)).file


def test_what_has_no_plain_content_is_refused():
    class Controller:
        gain = 1.0

        def power(self, step):
            return step.demand_W, None

    controller = Controller()

    def mine(step):
        return controller.gain * step.demand_W, step.state

    with pytest.raises(InputError, match="uses controller, which is of type Controller"):
        rules.function(mine)
    with pytest.raises(InputError, match="not a plain function"):
        rules.function(controller.power)
    typed = eval("lambda step: (step.demand_W, None)")  # noqa: S307 - as typed at a prompt that keeps no source
    with pytest.raises(InputError, match=r"source of the function .* cannot be read"):
        rules.function(typed)


def test_it_is_not_recorded_and_its_dump_says_why():
    rule = rules.function(with_global)
    with pytest.raises(InputError, match="given in Python"):
        rule.check_recordable()
    UserFunction(file="mine.py", name="share").check_recordable()
    assert rule.function_name is None
    stated = UserFunction.model_validate(rule.model_dump())
    assert stated.function_name == (rule.file, "with_global")


def test_a_function_of_five_arguments_is_told_what_it_must_take():
    def old(length_s, demand_W, speed_m_s, voltage_V, state):
        return demand_W, state

    with pytest.raises(AssessmentError, match="must take one step"):
        share_day(Demand(np.ones(1), np.ones(1)), rules.function(old), BANK, 100.0, 1)
