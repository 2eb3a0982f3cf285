"""What converters, inverters and windings lose, against figures worked by hand from a + b I + c I**2 and R I**2."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from lifetime.errors import NumberError
from lifetime.split.bank import Bank
from lifetime.split.converters import Converters, Side
from lifetime.split.day import share_day
from lifetime.split.losses import Loss
from lifetime.split.rule import BatteryCircuit
from lifetime.split.rules import BatteryOnly, Lookup, LowPass, PassiveParallel, PowerLimit, StateTable, TableRow
from lifetime.split.share import Demand
from lifetime.split.windings import TwoWindings, with_copper, without_copper

VOLTS = 400.0
INVERTER = Loss(fixed_W=150.0, linear_V=1.2, quadratic_ohm=0.004, voltage_V=VOLTS)
MAP = Loss(map_power_W=(1e3, 1e4, 5e4), map_efficiency=(0.8, 0.95, 0.97))
BANK = Bank(50.0, 0.05, 60.0, 140.0, 400.0)
LARGE_BANK = Bank(1e6, 0.0, 60.0, 140.0, np.inf)
MACHINE = TwoWindings(100e3, 0.03)
QUARTER = {"demand_W": [0.0, 1.0], "ultracapacitor_voltage_V": [1.0, 2.0], "battery_fraction": [[0.25, 0.25]] * 2}
RNG = np.random.default_rng(5)
DEMAND = Demand(RNG.uniform(0.5, 2.0, 200), RNG.normal(3e3, 2e4, 200))


def lost_at(loss, current_A):
    power = np.array([current_A * VOLTS, -current_A * VOLTS])
    return (loss.at_source(power) - power).tolist()


class TestInverter:
    """a = 150 W, b = 1.2 V, c = 4 mohm: invented figures, the arithmetic by hand."""

    @pytest.mark.parametrize(
        ("current_A", "one_W", "two_W"), [(0.0, 150.0, 300.0), (50.0, 220.0, 365.0), (200.0, 550.0, 620.0)]
    )
    def test_one_with_all_of_the_current_and_two_with_half(self, current_A, one_W, two_W):
        assert lost_at(INVERTER, current_A) == pytest.approx([one_W, one_W])
        assert [2.0 * part for part in lost_at(INVERTER, current_A / 2.0)] == pytest.approx([two_W, two_W])

    def test_they_are_equal_at_the_root_of_2_a_over_c(self):
        same_A = np.sqrt(2.0 * 150.0 / 0.004)
        assert same_A == pytest.approx(273.9, abs=0.05)
        assert lost_at(INVERTER, same_A)[0] == pytest.approx(2.0 * lost_at(INVERTER, same_A / 2.0)[0])


class TestEfficiencyMap:
    def test_points_by_hand(self):
        # 10 kW at 0.95; 5.5 kW half way from 1 kW (1250 W in) to 10 kW (10,526.3 W in); 500 W at 0.8; 100 kW at 0.97.
        machine = np.array([1e4, 5.5e3, 500.0, 1e5, 0.0])
        expected = [1e4 / 0.95, (1250.0 + 1e4 / 0.95) / 2.0, 625.0, 1e5 / 0.97, 0.0]
        assert MAP.at_source(machine) == pytest.approx(expected)
        # While charging the machine gives more than arrives: 9.5 kW of 10, half way 0.8 and 9.5 kW.
        assert MAP.at_source(-machine[:4]) == pytest.approx([-9500.0, -5150.0, -400.0, -97e3])

    @settings(deadline=None)
    @given(power=st.floats(-2e5, 2e5), fixed=st.floats(0.0, 100.0))
    def test_there_and_back(self, power, fixed):
        loss = MAP.model_copy(update={"fixed_W": fixed})
        assert loss.at_machine(loss.at_source(np.array([power])))[0] == pytest.approx(power, rel=1e-9, abs=1e-6)

    @pytest.mark.parametrize(
        ("keys", "says"),
        [
            ({"map_power_W": [1e3]}, "belong together"),
            ({"map_power_W": [1e3, 2e3], "map_efficiency": [0.9]}, "belong together"),
            ({"map_power_W": [2e3, 1e3], "map_efficiency": [0.9, 0.9]}, "increase"),
            ({"map_power_W": [1e3], "map_efficiency": [0.9], "efficiency": 0.9}, "twice"),
            ({"map_power_W": [1e3], "map_efficiency": [0.9], "linear_V": 1.0, "voltage_V": 1.0}, "twice"),
            # 1 kW out takes 2 kW in, 1.1 kW out 1.1 kW in.
            ({"map_power_W": [1e3, 1.1e3], "map_efficiency": [0.5, 1.0]}, "would be less"),
            # Charging, 1 kW gives 1 kW, 1.1 kW only 0.55 kW.
            ({"map_power_W": [1e3, 1.1e3], "map_efficiency": [1.0, 0.5]}, "would be less"),
        ],
    )
    def test_what_is_no_map_is_refused(self, keys, says):
        with pytest.raises(ValidationError, match=says):
            Loss(**keys)

    def test_a_map_of_ones_loses_nothing(self):
        assert Loss(map_power_W=(1.0,), map_efficiency=(1.0,)).is_none
        assert not MAP.is_none


class TestWindings:
    """R I**2 of both sets by hand; equal sets lose even (1 + (2 x - 1)**2)."""

    @pytest.mark.parametrize(
        ("share", "relative"),
        [(0.5, 1.0), (0.6, 1.04), (0.7, 1.16), (0.8, 1.36), (0.9, 1.64), (1.0, 2.0), (1.2, 2.96), (1.5, 5.0)],
    )
    def test_loss_over_that_of_even_shares(self, share, relative):
        power = 6e4
        lost = (
            MACHINE.battery_per_W * (share * power) ** 2 + MACHINE.ultracapacitor_per_W * ((1.0 - share) * power) ** 2
        )
        assert lost / float(MACHINE.even_W(np.array(power))) == pytest.approx(relative)

    def test_unequal_sets_share_best_by_the_others_resistance(self):
        # R1 = 2 R2 at unit current: 2 x**2 + (1 - x)**2 is least at x = 1/3 with 0.6667, and 0.75 at 0.5.
        sets = TwoWindings(1.0, 0.1, resistance_ratio=0.5)
        share = np.linspace(0.0, 1.0, 3001)
        lost = (
            sets.battery_per_W * share**2 + sets.ultracapacitor_per_W * (1.0 - share) ** 2
        ) / sets.ultracapacitor_per_W
        assert share[np.argmin(lost)] == pytest.approx(1.0 / 3.0)
        assert lost.min() == pytest.approx(0.6667, abs=5e-5)
        assert lost[1500] == pytest.approx(0.75)
        assert float(sets.even_W(np.array(1.0))) == pytest.approx(0.1)  # the fraction is that of even shares

    def test_a_machine_of_100_kW_with_3_percent(self):
        # At 0.6 of the torque 3 kW * 0.36 = 1.08 kW, through one set alone twice that; 4 h a day are 4.32 kWh more.
        even = float(MACHINE.even_W(np.array(60e3)))
        one_sided = float(with_copper(np.array(60e3), MACHINE.battery_per_W)) - 60e3
        assert (even, one_sided) == pytest.approx((1080.0, 2160.0))
        assert 4.0 * (one_sided - even) / 1e3 == pytest.approx(4.32)

    @settings(deadline=None)
    @given(power=st.floats(-8e5, 2e6), per_W=st.floats(0.0, 6e-7))
    def test_there_and_back(self, power, per_W):
        taken = with_copper(np.array([power]), per_W)
        assert taken[0] >= power
        assert without_copper(taken, per_W)[0] == pytest.approx(power, rel=1e-6, abs=1e-6)

    def test_braking_gives_back_no_more_than_it_can(self):
        # P + c P**2 is least at -1 / 2c with -1 / 4c.
        assert without_copper(np.array([-1e9]), 1e-6).tolist() == [-5e5]

    @pytest.mark.parametrize("numbers", [(0.0, 0.03), (1e5, 0.5), (1e5, 0.03, 0.0), (1e5, float("nan"))])
    def test_what_no_machine_is_is_refused(self, numbers):
        with pytest.raises(NumberError):
            TwoWindings(*numbers)


def losses():
    return st.builds(
        lambda fixed, linear, quadratic, efficiency: Loss(
            fixed_W=fixed, linear_V=linear, quadratic_ohm=quadratic, efficiency=efficiency, voltage_V=VOLTS
        ),
        st.floats(0, 300),
        st.floats(0, 2),
        st.floats(0, 0.02),
        st.floats(0.7, 1.0),
    )


@settings(deadline=None)
@given(loss=losses(), copper=st.floats(0.0, 6e-7), power=st.floats(-1e5, 1e5))
def test_a_loss_more_never_takes_less_from_a_source(loss, copper, power):
    at = np.array([power])
    taken = Side(loss, copper).at_source(at)[0]
    assert taken >= Side(loss).at_source(at)[0] - 1e-9
    for key, less in (("fixed_W", 0.0), ("linear_V", 0.0), ("quadratic_ohm", 0.0), ("efficiency", None)):
        assert taken >= Side(loss.model_copy(update={key: less}), copper).at_source(at)[0] - 1e-9


@settings(deadline=None, max_examples=30)
@given(battery=losses(), other=losses(), copper=st.booleans(), own=st.booleans())
def test_sources_give_the_demand_and_what_is_lost(battery, other, copper, own):
    """With a bank that is never full or empty, each loss only adds to what the two sources give together."""
    demand = Demand(DEMAND.length_s, DEMAND.power_W, windings=MACHINE if copper else None)
    keys = {"ultracapacitor_loss": other} if own else {"inverter_loss": other}
    rule = LowPass(
        time_constant_s=10.0,
        topology="two_inverters" if own else "two_converters",
        battery_loss=battery,
        **keys,
    )
    (one,) = share_day(demand, rule, LARGE_BANK, 110.0, 1)
    assert one.lost_W.min() >= -1e-6
    np.testing.assert_allclose(one.battery_W + one.bank_W - one.lost_W, demand.power_W, rtol=1e-9, atol=1e-6)
    assert one.lost_J == pytest.approx(float(np.sum(one.lost_W * demand.length_s)))
    for less in ("battery_loss", *keys):
        (saved,) = share_day(demand, rule.model_copy(update={less: None}), LARGE_BANK, 110.0, 1)
        assert saved.lost_J <= one.lost_J + 1e-6


class TestTopologies:
    """20 kW, a quarter from the battery, and a machine of 100 kW with 3 % copper, both by hand."""

    EVEN_W = 0.03 * 20e3**2 / 100e3
    """120 W of copper with even shares of 20 kW."""

    def shared(self, windings=MACHINE, rule=Lookup, bank=LARGE_BANK, **keys):
        demand = Demand(np.ones(3), np.full(3, 20e3), windings=windings)
        own = QUARTER if rule is Lookup else {}
        battery = BatteryCircuit(lambda soc: np.full(np.shape(soc), 100.0), 0.1, 1e9, 0.5)
        (one,) = share_day(demand, rule(**own, **keys), bank if rule is not BatteryOnly else None, 100.0, 1, battery)
        return one

    def test_two_inverters_pay_the_copper_of_their_own_winding_sets(self):
        one = self.shared(topology="two_inverters")
        # A quarter and three quarters of the torque: 2 * 0.0625 and 2 * 0.5625 of the even loss.
        assert one.battery_W == pytest.approx(5e3 + 0.125 * self.EVEN_W)
        assert one.bank_W == pytest.approx(15e3 + 1.125 * self.EVEN_W)
        assert one.lost_W == pytest.approx(1.25 * self.EVEN_W)

    @pytest.mark.parametrize("topology", ["one_converter", "two_converters"])
    def test_one_inverter_feeds_both_winding_sets_alike(self, topology):
        one = self.shared(topology=topology)
        assert one.lost_W == pytest.approx(self.EVEN_W)
        assert one.battery_W == pytest.approx(0.25 * (20e3 + self.EVEN_W))

    def test_the_common_inverter_carries_the_sum(self):
        # 50 A at 400 V lose 220 W; of 20,220 W on the link the bank gives 15,165 W through 95 %.
        one = self.shared(
            None, topology="two_converters", inverter_loss=INVERTER, ultracapacitor_loss=Loss(efficiency=0.95)
        )
        assert one.battery_W == pytest.approx(0.25 * 20_220.0)
        assert one.bank_W == pytest.approx(0.75 * 20_220.0 / 0.95)

    def test_two_inverters_lose_by_their_own_currents(self):
        one = self.shared(None, topology="two_inverters", battery_loss=INVERTER, ultracapacitor_loss=INVERTER)
        # 12.5 A: 150 + 15 + 0.625 W; 37.5 A: 150 + 45 + 5.625 W.
        assert one.lost_W == pytest.approx(165.625 + 200.625)

    def test_sources_in_parallel_pay_inverter_and_copper_of_the_sum(self):
        plain = self.shared(None, PassiveParallel, BANK)
        one = self.shared(MACHINE, PassiveParallel, BANK, inverter_loss=INVERTER)
        current_A = (20e3 + self.EVEN_W) / VOLTS
        lost_W = self.EVEN_W + 150.0 + 1.2 * current_A + 0.004 * current_A**2
        assert plain.lost_W is None
        assert one.lost_W == pytest.approx(lost_W, rel=1e-3)

    @pytest.mark.parametrize("topology", ["two_inverters", "one_converter", "two_converters"])
    def test_the_battery_alone_feeds_both_winding_sets_alike(self, topology):
        assert self.shared(rule=BatteryOnly, topology=topology).battery_W == pytest.approx(20e3 + self.EVEN_W)
        lossy = self.shared(None, BatteryOnly, topology=topology, battery_loss=INVERTER)
        assert lossy.battery_W == pytest.approx(20_220.0)

    @pytest.mark.parametrize(
        "rule",
        [
            LowPass(time_constant_s=10.0),
            StateTable(rows=(TableRow(battery_fraction=0.3),), low_voltage_V=80.0, high_voltage_V=120.0),
        ],
    )
    def test_without_losses_equal_rules_tie(self, rule):
        days = [
            share_day(DEMAND, rule.model_copy(update={"topology": topology}), BANK, 110.0, 2)
            for topology in ("two_inverters", "one_converter", "two_converters")
        ]
        for one in days[1:]:
            for passes in zip(days[0], one, strict=True):
                assert np.array_equal(passes[0].battery_W, passes[1].battery_W)
                assert np.array_equal(passes[0].bank_V, passes[1].bank_V)
        assert days[0][0].lost_W is None

    def test_a_stepped_rule_pays_the_same_copper(self):
        demand = Demand(DEMAND.length_s, DEMAND.power_W, windings=MACHINE)
        rule = StateTable(rows=(TableRow(battery_fraction=0.3),), low_voltage_V=80.0, high_voltage_V=120.0)
        (one,) = share_day(demand, rule, LARGE_BANK, 110.0, 1)
        battery, bank = 0.3 * demand.power_W, 0.7 * demand.power_W
        expected = MACHINE.battery_per_W * battery**2 + MACHINE.ultracapacitor_per_W * bank**2
        np.testing.assert_allclose(one.lost_W, expected, rtol=1e-5, atol=0.05)

    def test_a_limit_is_held_at_the_machine_whatever_the_winding_loses(self):
        rule = PowerLimit(discharge_limit_W=15e3, charge_limit_W=5e3)
        demand = Demand(np.ones(9), np.full(9, 20e3), windings=MACHINE)
        day = share_day(demand, rule, LARGE_BANK, 110.0, 1)
        assert day[0].battery_W[0] > 15e3
        assert rule.day_notices(day, MACHINE) == []

    def test_what_a_topology_has_no_place_for_is_refused(self):
        with pytest.raises(ValidationError, match="no common inverter"):
            LowPass(time_constant_s=1.0, inverter_loss=INVERTER)
        with pytest.raises(ValidationError, match="not both"):
            LowPass(time_constant_s=1.0, topology="one_converter", battery_loss=INVERTER, ultracapacitor_loss=INVERTER)

    @pytest.mark.parametrize(
        ("topology", "given", "missing"),
        [
            ("two_inverters", ["battery_loss"], "ultracapacitor_loss is"),
            ("two_inverters", ["battery_loss", "ultracapacitor_loss"], None),
            ("one_converter", ["ultracapacitor_loss"], "inverter_loss is"),
            ("one_converter", ["battery_loss", "inverter_loss"], None),
            ("one_converter", ["inverter_loss"], "ultracapacitor_loss is"),
            ("two_converters", ["inverter_loss"], "battery_loss and ultracapacitor_loss are"),
            ("two_converters", [], None),
        ],
    )
    def test_a_converter_without_a_loss_among_others_is_named(self, topology, given, missing):
        rule = LowPass(time_constant_s=1.0, topology=topology, **dict.fromkeys(given, INVERTER))
        said = [notice.message for notice in rule.demand_notices(DEMAND)]
        assert len(said) == (missing is not None)
        assert all(f"split: {missing} not given" in message for message in said)
        alone = BatteryOnly(battery_loss=INVERTER)
        assert alone.demand_notices(DEMAND) == []


def test_two_topologies_are_one_where_windings_lose_nothing():
    apart, together = Converters(own_windings=True), Converters()
    assert apart.seen_by(DEMAND) == together
    machine = Demand(DEMAND.length_s, DEMAND.power_W, windings=MACHINE)
    assert apart.seen_by(machine) != together.seen_by(machine)
