"""Ramp, hysteresis, voltage target, state table, lookup, user function, losses, parallel circuit, vehicle.

Expected values by hand from the formulas named in each rule, or from closed forms.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.errors import AssessmentError
from lifetime.split.bank import Bank
from lifetime.split.day import share_day
from lifetime.split.losses import Loss
from lifetime.split.rule import BatteryCircuit, Step
from lifetime.split.rules.lookup import Lookup
from lifetime.split.rules.low_pass import LowPass
from lifetime.split.rules.passive_parallel import PassiveParallel, share_passively
from lifetime.split.rules.power_limit import PowerLimit
from lifetime.split.rules.ramp_limit import RampLimit
from lifetime.split.rules.state_table import StateTable, TableRow
from lifetime.split.rules.user_function import UserFunction
from lifetime.split.rules.voltage_target import VoltageTarget
from lifetime.split.share import Demand
from lifetime.split.vehicle import AIR_KG_M3, GRAVITY_M_S2, Vehicle, demand_of

# 48 cells of 3000 F and 2.7 V in series: 62.5 F, 129.6 V.
BANK = Bank(62.5, 0.014, 64.8, 129.6, 2000.0)


def own(function):
    """A user's rule as a study with a file would have it."""
    return UserFunction(file="own.py", name="mine").holding(function)


class TestHysteresis:
    def test_between_the_edges_nothing_switches(self):
        rule = PowerLimit(discharge_limit_W=50.0, charge_limit_W=20.0, hysteresis_W=10.0)
        demand = np.array([40.0, 55.0, 61.0, 55.0, 50.0, 55.0, -25.0, -31.0, -25.0, 0.0])
        setpoint, memory = rule.ultracapacitor_setpoint_W(np.ones(10), demand, 0.0)
        # In at 61 (beyond 60), still in at 55, out at 50; in at -31 (beyond -30), still in at -25, out at 0.
        assert setpoint.tolist() == [0.0, 0.0, 11.0, 5.0, 0.0, 0.0, 0.0, -11.0, -5.0, 0.0]
        assert memory == 0.0

    def test_it_remembers_from_one_stretch_to_the_next(self):
        rule = PowerLimit(discharge_limit_W=50.0, charge_limit_W=20.0, hysteresis_W=10.0)
        _, memory = rule.ultracapacitor_setpoint_W(np.ones(1), np.array([70.0]), 0.0)
        assert rule.ultracapacitor_setpoint_W(np.ones(1), np.array([55.0]), memory)[0].tolist() == [5.0]
        assert rule.ultracapacitor_setpoint_W(np.ones(1), np.array([55.0]), 0.0)[0].tolist() == [0.0]


class TestRamp:
    def test_a_step_by_hand(self):
        # From 0 to 100 W at 10 W/s: mean 20 W over the first 4 s, 60 over the next 4, then 80 up to 100 in 2 s.
        rule = RampLimit(rise_W_per_s=10.0, fall_W_per_s=50.0)
        setpoint, memory = rule.ultracapacitor_setpoint_W(np.full(3, 4.0), np.full(3, 100.0), 0.0)
        assert (100.0 - setpoint).tolist() == [20.0, 60.0, pytest.approx(95.0)]
        assert memory == 100.0
        down, memory = rule.ultracapacitor_setpoint_W(np.array([1.0]), np.array([0.0]), 100.0)
        assert (-down).tolist() == [75.0]
        assert memory == 50.0

    @settings(deadline=None, max_examples=50)
    @given(seed=st.integers(0, 2**32 - 1))
    def test_battery_power_changes_no_faster(self, seed):
        rng = np.random.default_rng(seed)
        length, demand = rng.uniform(0.1, 2.0, 50), rng.normal(0.0, 1e4, 50)
        setpoint, _ = RampLimit(rise_W_per_s=800.0, fall_W_per_s=1500.0).ultracapacitor_setpoint_W(length, demand, 0.0)
        battery = demand - setpoint
        between = 0.5 * (length[1:] + length[:-1])
        assert (np.diff(battery) <= 800.0 * between * (1 + 1e-9) + 1e-6).all()
        assert (np.diff(battery) >= -1500.0 * between * (1 + 1e-9) - 1e-6).all()


class TestVoltageTarget:
    RULE = VoltageTarget(mass_kg=1500.0, recovered_fraction=0.7, setpoint_time_constant_s=5.0)

    def test_the_formula(self):
        # 1500 kg at 20 m/s, 0.7 recovered, 62.5 F, 129.6 V: sqrt(129.6**2 - 0.7 * 1500 * 400 / 62.5) = 100.38 V.
        rule = VoltageTarget(mass_kg=1500.0, recovered_fraction=0.7, setpoint_time_constant_s=10.0)
        assert rule.voltage_setpoint(BANK, np.array([0.0, 20.0])).voltage_V == pytest.approx([129.6, 100.38], abs=0.005)
        # Faster than the window has room for: the window's lower end.
        assert rule.voltage_setpoint(BANK, np.array([60.0])).voltage_V.tolist() == [64.8]

    def test_the_bank_gives_while_the_vehicle_is_fast(self):
        speed = np.concatenate([np.zeros(60), np.full(60, 20.0), np.zeros(60)])
        demand = Demand(np.ones(180), np.zeros(180), speed)
        path = share_day(demand, self.RULE, BANK, 129.6, 1)[0]
        assert path.bank_V[60] == pytest.approx(129.6)
        assert path.bank_V[120] == pytest.approx(100.38, abs=0.01)
        assert path.bank_V[180] == pytest.approx(129.6, abs=0.01)
        np.testing.assert_allclose(path.battery_W, -path.bank_W, atol=1e-9)

    def test_without_a_speed_it_says_so(self):
        with pytest.raises(AssessmentError, match="name a speed column"):
            share_day(Demand(np.ones(2), np.ones(2)), self.RULE, BANK, 100.0, 1)


class TestSteppedRules:
    @settings(deadline=None, max_examples=40)
    @given(seed=st.integers(0, 2**32 - 1), pulls=st.floats(200.0, 2000.0))
    def test_the_stepped_bank_is_the_same_bank(self, seed, pulls):
        """A power limit written as a user's function gives the path of the vectorised rule."""
        rng = np.random.default_rng(seed)
        n = 60
        bank = Bank(62.5, 0.014, 64.8, 129.6, pulls)
        demand = Demand(rng.uniform(0.5, 3.0, n), rng.normal(5e3, 2.5e4, n))
        limit = PowerLimit(discharge_limit_W=2e4, charge_limit_W=1e4)

        def battery(step):
            return min(max(step.demand_W, -1e4), 2e4), step.state

        one = share_day(demand, limit, bank, 100.0, 1)[0]
        other = share_day(demand, own(battery), bank, 100.0, 1)[0]
        np.testing.assert_allclose(other.bank_V, one.bank_V, rtol=1e-6)
        np.testing.assert_allclose(other.bank_W, one.bank_W, rtol=1e-5, atol=1.0)

    def test_state_table_by_hand(self):
        rows = (
            TableRow(request="traction", level="low", battery_fraction=1.0),
            TableRow(request="traction", battery_fraction=0.4),
            TableRow(request="braking", level="high", battery_fraction=1.0),
        )
        rule = StateTable(rows=rows, low_voltage_V=80.0, high_voltage_V=120.0, hysteresis_V=4.0)

        def decided(demand_W, voltage_V, level):
            return rule.ultracapacitor_setpoint_W(Step(1.0, demand_W, 0.0, voltage_V, level))

        assert rule.start(None) == "unknown"
        assert decided(10e3, 100.0, "unknown") == (6e3, "middle")
        assert decided(10e3, 77.0, "middle") == (0.0, "low")
        assert decided(10e3, 79.0, "middle") == (6e3, "middle")  # within the edge: no change
        assert decided(10e3, 81.0, "low") == (0.0, "low")
        assert decided(-10e3, 123.0, "middle") == (0.0, "high")
        assert decided(-10e3, 100.0, "middle") == (0.0, "middle")  # no row fits

    def test_lookup_is_bilinear_and_held_at_its_edges(self):
        corners = ((0.0, 1.0), (1.0, 0.0))
        rule = Lookup(demand_W=(-1e4, 1e4), ultracapacitor_voltage_V=(60.0, 130.0), battery_fraction=corners)
        # The plane through the four corners' bilinear form at a quarter and three quarters.
        assert rule.fraction_at(-5e3, 60.0 + 0.75 * 70.0) == pytest.approx(0.25 * 0.25 + 0.75 * 0.75)
        assert rule.fraction_at(9e9, 60.0) == 1.0
        assert rule.fraction_at(-9e9, 500.0) == 1.0
        beyond, within = (Demand(np.ones(n), np.array([0.0, 2e4][:n])) for n in (2, 1))
        assert rule.demand_notices(beyond)[0].code == "demand_beyond_map"
        assert "50.0 % of its intervals" in rule.demand_notices(beyond)[0].message
        assert rule.demand_notices(within) == []

    def test_a_function_that_fails_is_named(self):
        def broken(step):
            raise KeyError("gain")

        def endless(step):
            return float("inf"), step.state

        demand = Demand(np.ones(2), np.ones(2))
        with pytest.raises(AssessmentError, match=r"split function mine in own\.py failed.*KeyError"):
            share_day(demand, own(broken), BANK, 100.0, 1)
        with pytest.raises(AssessmentError, match="finite"):
            share_day(demand, own(endless), BANK, 100.0, 1)

    def test_state_is_carried_from_pass_to_pass(self):
        seen = []

        def watched(step):
            seen.append(step.state)
            return step.demand_W, (step.state or 0) + 1

        share_day(Demand(np.ones(3), np.ones(3)), own(watched), BANK, 100.0, 2)
        assert seen == [None, 1, 2, 3, 4, 5]


class TestLosses:
    def test_by_hand(self):
        loss = Loss(efficiency=0.9)
        assert loss.at_source(np.array([900.0, -1000.0])).tolist() == [1000.0, -900.0]
        # a + b I + c I**2 at 1 kW and 100 V: 5 + 0.5 * 10 + 0.1 * 100 = 20 W, either way.
        full = Loss(fixed_W=5.0, linear_V=0.5, quadratic_ohm=0.1, voltage_V=100.0)
        assert full.at_source(np.array([1000.0, -1000.0, 0.0])).tolist() == [1020.0, -980.0, 5.0]

    @settings(deadline=None)
    @given(
        power=st.floats(-5e4, 5e4),
        fixed=st.floats(0, 100),
        linear=st.floats(0, 2),
        quadratic=st.floats(0, 0.05),
        efficiency=st.floats(0.8, 1.0),
    )
    def test_there_and_back(self, power, fixed, linear, quadratic, efficiency):
        loss = Loss(efficiency=efficiency, fixed_W=fixed, linear_V=linear, quadratic_ohm=quadratic, voltage_V=400.0)
        source = loss.at_source(np.array([power]))
        if power < 0.0 and source[0] > -1e-6:
            return  # a charging power that the loss eats whole has no way back
        assert loss.at_machine(source)[0] == pytest.approx(power, rel=1e-9, abs=1e-6)
        assert source[0] >= power - 1e-9  # nothing is gained on the way

    BATTERY = Loss(efficiency=0.97)
    ULTRACAPACITOR = Loss(fixed_W=20.0, linear_V=0.7, quadratic_ohm=0.002, voltage_V=400.0)

    @pytest.mark.parametrize(
        "rule",
        [
            LowPass(time_constant_s=10.0, battery_loss=BATTERY, ultracapacitor_loss=ULTRACAPACITOR),
            RampLimit(rise_W_per_s=5e3, fall_W_per_s=5e3, battery_loss=BATTERY, ultracapacitor_loss=ULTRACAPACITOR),
            StateTable(
                rows=(TableRow(battery_fraction=0.3),),
                low_voltage_V=80.0,
                high_voltage_V=120.0,
                battery_loss=BATTERY,
                ultracapacitor_loss=ULTRACAPACITOR,
            ),
        ],
    )
    def test_energy_closes_over_the_machine(self, rule):
        rng = np.random.default_rng(3)
        demand = Demand(rng.uniform(0.5, 2.0, 200), rng.normal(3e3, 2e4, 200))
        one = share_day(demand, rule, BANK, 110.0, 1)[0]
        machine = self.BATTERY.at_machine(one.battery_W) + self.ULTRACAPACITOR.at_machine(one.bank_W)
        np.testing.assert_allclose(machine, demand.power_W, rtol=1e-7, atol=1e-2)
        lost = np.sum((one.battery_W + one.bank_W - demand.power_W) * demand.length_s)
        assert lost > 0.0


class TestParallelCircuit:
    BATTERY = BatteryCircuit(lambda soc: np.full(np.shape(soc), 100.0), 0.1, 1e9, 0.5)

    def test_with_nothing_asked_the_bank_settles_at_the_battery(self):
        # Exponential with C (R + ESR) = 50 * 0.15 s: Kirchhoff by hand.
        bank = Bank(50.0, 0.05, 1.0, 200.0, np.inf)
        length = np.full(40, 1.0)
        path = share_passively(length, np.zeros(40), self.BATTERY, bank, 80.0, 0.5)
        expected = 100.0 - 20.0 * np.exp(-np.arange(41) / (50.0 * 0.15))
        np.testing.assert_allclose(path.bank_V, expected, rtol=1e-9)

    def test_a_load_held_for_long_is_the_batterys(self):
        bank = Bank(50.0, 0.05, 1.0, 200.0, np.inf)
        path = share_passively(np.full(200, 1.0), np.full(200, 5e3), self.BATTERY, bank, 100.0, 0.5)
        assert path.bank_W[-1] == pytest.approx(0.0, abs=1e-3)
        # 5 kW through 0.1 ohm from 100 V: I = (100 - sqrt(100**2 - 4 * 0.1 * 5000)) / 0.2 = 52.786 A.
        assert path.bank_V[-1] == pytest.approx(100.0 - 0.1 * 52.786404500042, rel=1e-6)
        # At once the lower resistance takes more: two thirds of a short pulse.
        pulse = share_passively(np.array([1e-3]), np.array([5e3]), self.BATTERY, bank, 100.0, 0.5)
        assert pulse.bank_W[0] / 5e3 == pytest.approx(2.0 / 3.0, rel=1e-3)

    def test_energy_closes(self):
        rng = np.random.default_rng(1)
        length, demand = rng.uniform(0.1, 2.0, 300), rng.normal(2e3, 4e3, 300)
        bank = Bank(50.0, 0.05, 1.0, 200.0, np.inf)
        path = share_passively(length, demand, self.BATTERY, bank, 100.0, 0.5)
        np.testing.assert_allclose(path.battery_W + path.bank_W, demand, rtol=1e-5, atol=0.5)

    def test_as_a_rule_it_carries_voltage_and_charge_from_pass_to_pass(self):
        battery = BatteryCircuit(lambda soc: 90.0 + 20.0 * soc, 0.1, 36e3, 0.5)
        bank = Bank(50.0, 0.05, 1.0, 200.0, np.inf)
        demand = Demand(np.ones(20), np.full(20, 2e3))
        shared = share_day(demand, PassiveParallel(), bank, 95.0, 2, battery)
        whole = Demand(np.ones(40), np.full(40, 2e3))
        (at_once,) = share_day(whole, PassiveParallel(), bank, 95.0, 1, battery)
        np.testing.assert_allclose(np.concatenate([one.battery_W for one in shared]), at_once.battery_W, rtol=1e-12)
        assert at_once.battery_W[-1] != at_once.battery_W[19]  # the battery's charge sinks on the way

    def test_as_a_rule_it_needs_the_batterys_circuit(self):
        with pytest.raises(AssessmentError, match="circuit"):
            share_day(Demand(np.ones(1), np.ones(1)), PassiveParallel(), BANK, 100.0, 1)

    def test_too_much_is_refused(self):
        bank = Bank(50.0, 0.05, 1.0, 200.0, np.inf)
        with pytest.raises(AssessmentError, match="do not reach"):
            share_passively(np.ones(1), np.array([1e6]), self.BATTERY, bank, 100.0, 0.5)

    def test_a_bank_far_above_its_highest_voltage_is_refused(self):
        # At rest the battery brings the bank to its own 100 V; 90 V are allowed.
        bank = Bank(50.0, 0.05, 1.0, 90.0, np.inf)
        with pytest.raises(AssessmentError, match=r"stand at 100 V, above its highest voltage of 90 V"):
            share_passively(np.full(400, 1.0), np.zeros(400), self.BATTERY, bank, 80.0, 0.5)


class TestVehicle:
    def test_steady_speed_by_hand(self):
        car = Vehicle(1500.0, 0.01, 0.7, auxiliary_W=500.0, drive_efficiency=0.9)
        power = demand_of(car, np.array([1.0]), np.array([20.0, 20.0]))
        rolling, drag = 1500 * GRAVITY_M_S2 * 0.01 * 20, 0.5 * AIR_KG_M3 * 0.7 * 20**3
        # 2942 W + 3372 W at the wheels.
        assert (rolling, drag) == (pytest.approx(2942.0, abs=0.1), pytest.approx(3371.5, abs=0.1))
        assert power[0] == pytest.approx((rolling + drag) / 0.9 + 500.0)

    def test_braking_comes_back_with_losses(self):
        car = Vehicle(1000.0, 0.0, 0.0, rotating_mass_fraction=0.1, drive_efficiency=0.8, recuperation_fraction=0.5)
        power = demand_of(car, np.array([4.0, 4.0]), np.array([0.0, 20.0, 0.0]))
        # 1/2 * 1100 * 400 = 220 kJ in 4 s: 55 kW at the wheels.
        assert power.tolist() == [pytest.approx(68750.0), pytest.approx(-22000.0)]

    @settings(deadline=None)
    @given(seed=st.integers(0, 2**32 - 1))
    def test_without_losses_and_resistance_a_round_trip_costs_nothing(self, seed):
        rng = np.random.default_rng(seed)
        speed = np.concatenate([[0.0], rng.uniform(0.0, 30.0, 30), [0.0]])
        length = rng.uniform(0.5, 2.0, 31)
        assert np.sum(demand_of(Vehicle(1200.0, 0.0, 0.0), length, speed) * length) == pytest.approx(0.0, abs=1e-6)
