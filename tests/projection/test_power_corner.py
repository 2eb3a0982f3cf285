"""Power in a corner of temperature, state of charge and duration, and when age takes it: worked by hand.

``P = V_min (OCV - V_min) / R`` at the lowest voltage. LFP cells of the examples: OCV 3.2 V, V_min 2.5 V, R 2 mΩ,
30 kJ/mol, 300 W asked; and OCV 3.3 V for the form of the pulse power test (HPPC) manuals, all from that form.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from lifetime.ageing.contract import Health, Mechanism
from lifetime.packs.resistance import Branch, ResistanceShape
from lifetime.projection.power_corner import CornerPower, PowerCorner, PowerMargin
from lifetime.projection.years import Trajectory
from lifetime.stress.current_limits import Ceiling
from lifetime.stress.source import Source

SHAPE = ResistanceShape(activation_J_per_mol=30e3, soc=(0.0, 0.13, 0.25), soc_factor=(1.5, 1.25, 1.0))


def cell(ocv_V=3.2, **more):
    facts = {
        "kind": "battery",
        "capacity_As": 1e6,
        "resistance_ohm": 2e-3,
        "start_soc": 0.9,
        "rest_soc": None,
        "open_circuit_V": lambda soc: ocv_V + 0.0 * soc,
        "minimum_voltage_V": 2.5,
        "maximum_voltage_V": 3.65,
        "minimum_soc": 0.0,
        "maximum_soc": 1.0,
        "thermal": None,
        "hot_spot_K": 0.0,
        "parallel": 1,
        "series": 1,
        "shape": SHAPE,
    }
    return Source(**facts | more)


def corner(T_C, soc=0.5, duration_s=10.0):
    return PowerCorner(soc, T_C + 273.15, duration_s)


def margin(T_C, soc=0.5, required_W=300.0, most_A=float("inf"), **source):
    where = corner(T_C, soc)
    return PowerMargin(where, CornerPower.of(cell(**source), where, most_A), required_W)


class TestNew:
    @pytest.mark.parametrize(
        ("T_C", "soc", "power_W", "of_asked"),
        [(25.0, 0.5, 875.0, 2.917), (0.0, 0.5, 289.0, 0.963), (-10.0, 0.13, 140.0, 0.467)],
    )
    def test_against_300_W(self, T_C, soc, power_W, of_asked):
        found = margin(T_C, soc)
        assert found.available_W == pytest.approx(power_W, abs=0.5)
        assert found.available_W / found.required_W == pytest.approx(of_asked, abs=1e-3)
        assert found.is_met == (of_asked > 1.0)

    @pytest.mark.parametrize(("T_C", "power_W"), [(25.0, 1000.0), (0.0, 330.3), (-10.0, 200.0), (-20.0, 116.3)])
    def test_of_the_other_cell(self, T_C, power_W):
        assert margin(T_C, ocv_V=3.3).available_W == pytest.approx(power_W, abs=0.06)

    def test_the_length_of_the_pulse_counts(self):
        """0.74 + 0.94 (1 - exp(-10/45)) = 0.927307 of 2 mΩ after 10 s: 875 W over that."""
        shape = ResistanceShape(0.74, (Branch(0.94, 45.0),))
        assert margin(25.0, shape=shape).available_W == pytest.approx(875.0 / 0.927307, rel=1e-6)

    def test_a_limit_of_current_that_is_reached_before_the_lowest_voltage(self):
        # 200 A: 200 (3.2 - 0.4) W.
        assert margin(25.0, most_A=200.0).available_W == pytest.approx(560.0)

    def test_no_current_allowed(self):
        assert margin(-40.0, most_A=0.0).available_W == 0.0
        assert not margin(-40.0, most_A=0.0).is_met

    def test_a_lowest_voltage_below_half_ends_at_the_matched_load(self):
        # OCV² / (4 R) = 3.2² / 0.008.
        assert margin(25.0, minimum_voltage_V=1.0).available_W == pytest.approx(1280.0)

    def test_an_open_circuit_voltage_below_the_lowest_gives_nothing(self):
        assert margin(25.0, ocv_V=2.4).available_W == 0.0

    def test_exactly_what_is_asked_is_enough(self):
        assert margin(25.0, required_W=margin(25.0).available_W).is_met


class TestPulseCurrent:
    CEILING = Ceiling(
        peak_A=400.0, mean_A=(300.0, 200.0, 100.0, 20.0), soc=np.array([0.0, 0.2]), factor=np.array([0.5, 1])
    )

    @pytest.mark.parametrize(
        ("length_s", "soc", "most_A"),
        # 30 s at 100 A are 300 A over 10 s, 300 s at 20 A are 600 A: the 10 s mean of 200 A decides.
        [(10.0, 0.5, 200.0), (10.0, 0.1, 100.0), (0.5, 0.5, 400.0), (20.0, 0.5, 150.0), (300.0, 0.5, 20.0)],
    )
    def test_each_window_over_a_pulse_from_rest(self, length_s, soc, most_A):
        assert self.CEILING.pulse_A(length_s, soc) == pytest.approx(most_A)

    def test_no_limit(self):
        assert Ceiling().pulse_A(10.0, 0.5) == float("inf")


@dataclass(frozen=True)
class Growth:
    """Resistance grows by its clock."""

    mechanisms = (Mechanism("growth", "calendar"),)
    has_resistance = True

    def fade(self, clocks):
        return Health(np.ones_like(clocks[..., 0]), 1.0 + clocks[..., 0])


class TestAged:
    YEARS = np.arange(361) / 12.0
    RUN = Trajectory(YEARS, 0.1 * YEARS[:, None], np.ones(361), 1.0 + 0.1 * YEARS)
    """A tenth of the resistance a year."""

    def test_the_resistance_may_grow_by_what_there_is_to_spare(self):
        found = margin(25.0).crossing(Growth(), self.RUN)
        assert found.limit == "power"
        assert found.years == pytest.approx(10.0 * (875.0 / 300.0 - 1.0), rel=1e-9)
        assert found.detail == "10 s at 50 % state of charge and 25 °C"

    def test_a_limit_of_current_leaves_its_own_room(self):
        """200 A give 300 W until the drop is 1.7 V: 8.5 mΩ; by the lowest voltage 875/300 of 2 mΩ ends it before."""
        assert margin(25.0, most_A=200.0).crossing(Growth(), self.RUN).years == pytest.approx(10.0 * (875 / 300 - 1.0))
        # 120 A give 300 W until the drop is 0.7 V, which is 2.5 V at the terminals: 5.8333 mΩ, both at once.
        assert margin(25.0, most_A=120.0).crossing(Growth(), self.RUN).years == pytest.approx(10.0 * (875 / 300 - 1.0))
        # 110 A give 300 W until the drop is 3.2 - 300/110 = 0.47273 V: 4.29752 mΩ.
        found = margin(25.0, most_A=110.0).crossing(Growth(), self.RUN)
        assert found.years == pytest.approx(10.0 * (4.297520661 / 2.0 - 1.0), rel=1e-9)

    def test_not_met_when_new(self):
        assert margin(0.0).crossing(Growth(), self.RUN).years == 0.0

    def test_not_reached(self):
        assert margin(25.0, required_W=200.0).crossing(Growth(), self.RUN).years is None
        assert replace(margin(25.0), required_W=0.0).crossing(Growth(), self.RUN).years is None
