"""From a history to a demand, against values worked by hand beside each check."""

import numpy as np
import pytest

from lifetime.errors import AssessmentError
from lifetime.history.model import History
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput
from lifetime.split.demand import read_demand
from lifetime.split.vehicle import GRAVITY_M_S2, Vehicle
from lifetime.stress.intervals import intervals


@pytest.fixture
def demand_of_rows(tmp_path):
    """A demand from rows of a text file, with what a study says about its columns."""

    def _demand_of_rows(rows, vehicle=None, **says):
        (tmp_path / "log.csv").write_text(rows)
        return read_demand(open_history(HistoryInput(file="log.csv", time="t [s]", **says), tmp_path), vehicle)

    return _demand_of_rows


def rms(demand):
    return float(np.sqrt(np.sum(demand.power_W**2 * demand.length_s) / np.sum(demand.length_s)))


class TestCurrentAndVoltage:
    def test_the_power_is_their_product(self, demand_of_rows):
        rows = "t [s],I [A],U [V]\n0,50,400\n10,-20,350\n20,0,360\n"
        demand = demand_of_rows(rows, current="I [A]", voltage="U [V]", interpolation="zero_order_hold")
        # 50 A at 400 V discharge, then 20 A at 350 V charge: 20 kW and -7 kW, 10 s each.
        assert demand.power_W == pytest.approx([20_000.0, -7_000.0])
        assert demand.energy_J == pytest.approx(130e3)

    def test_the_sign_of_the_file_is_kept_to(self, demand_of_rows):
        rows = "t [s],I [A],U [V]\n0,-50,400\n10,-50,400\n"
        demand = demand_of_rows(rows, current="I [A]", voltage="U [V]", discharge_is="negative")
        assert demand.power_W == pytest.approx(20_000.0)

    def test_a_current_alone_is_refused(self):
        history = History.from_arrays(time_s=np.arange(3.0), current_A=np.ones(3))
        with pytest.raises(AssessmentError, match="a current alone is no power"):
            read_demand(history)


class TestTemperature:
    def test_it_is_the_mean_of_each_interval(self, demand_of_rows):
        rows = "t [s],P [W],T [°C]\n0,1000,20\n10,1000,30\n20,1000,34\n"
        demand = demand_of_rows(rows, power="P [W]", temperature="T [°C]", ambient_C=15.0)
        assert demand.temperature.mean_K == pytest.approx([298.15, 305.15])
        assert demand.temperature.ambient_K == pytest.approx(288.15)

    def test_it_follows_the_intervals_where_they_are_cut(self, demand_of_rows):
        rows = "t [s],P [W],T [°C]\n0,-1000,20\n10,1000,20\n20,1000,40\n"
        demand = demand_of_rows(rows, power="P [W]", temperature="T [°C]")
        assert demand.temperature.mean_K.size == demand.power_W.size > 2
        # 10 s at 20 °C and 10 s at 30 °C on the mean.
        assert np.sum(demand.temperature.mean_K * demand.length_s) / 20.0 == pytest.approx(298.15)

    def test_beside_a_speed_that_turns(self, demand_of_rows):
        rows = "t [s],v [m/s],T [°C]\n0,5,20\n10,-5,40\n"
        demand = demand_of_rows(rows, Vehicle(1000.0, 0.0, 0.0), speed="v [m/s]", temperature="T [°C]")
        # The vehicle stands still after 5 s, at 30 °C.
        assert demand.temperature.mean_K == pytest.approx([298.15, 308.15])


class TestReversing:
    CAR = Vehicle(mass_kg=2000.0, rolling_resistance=0.01, drag_area_m2=0.0)

    def test_going_back_takes_energy(self, demand_of_rows):
        # 2000 kg * 9.80665 m/s2 * 0.01 = 196.133 N; 5 m/s for one hour are 18 km: 3.530 MJ, 0.981 kWh.
        demand = demand_of_rows("t [s],v [m/s]\n0,-5\n3600,-5\n", self.CAR, speed="v [m/s]")
        assert demand.energy_J / 3.6e6 == pytest.approx(0.01 * 2000.0 * GRAVITY_M_S2 * 18_000.0 / 3.6e6)
        assert demand.speed_m_s == pytest.approx(5.0)

    def test_the_drag_of_going_back_is_that_of_going_forth(self, demand_of_rows):
        car = Vehicle(2000.0, 0.01, 0.7, auxiliary_W=300.0)
        forth = demand_of_rows("t [s],v [m/s]\n0,0\n5,4\n60,4\n66,0\n", car, speed="v [m/s]")
        back = demand_of_rows("t [s],v [m/s]\n0,0\n5,-4\n60,-4\n66,0\n", car, speed="v [m/s]")
        assert back.power_W == pytest.approx(forth.power_W)

    def test_a_vehicle_that_turns_round_between_two_samples_stops_there(self, demand_of_rows):
        # 3 m/s to -1 m/s in 8 s: braked for 6 s, driven for 2 s; kinetic energy 9 kJ out and 1 kJ in; 9 m and 1 m.
        demand = demand_of_rows("t [s],v [m/s]\n0,3\n8,-1\n", self.CAR, speed="v [m/s]")
        friction = 0.01 * 2000.0 * GRAVITY_M_S2
        assert demand.length_s == pytest.approx([6.0, 2.0])
        assert demand.power_W * demand.length_s == pytest.approx([9.0 * friction - 9e3, 1.0 * friction + 1e3])


class TestHeldSpeed:
    def test_alone_it_is_refused(self, demand_of_rows):
        with pytest.raises(AssessmentError, match="jumps at each of them"):
            demand_of_rows(
                "t [s],v [m/s]\n0,5\n10,6\n", Vehicle(1.0, 0.0, 0.0), speed="v [m/s]", interpolation="zero_order_hold"
            )

    @pytest.mark.parametrize(("how", "expected"), [("zero_order_hold", [4.0, 8.0]), ("linear", [6.0, 9.0])])
    def test_beside_a_power_it_runs_as_the_power_does(self, demand_of_rows, how, expected):
        rows = "t [s],P [W],v [m/s]\n0,1000,4\n10,1000,8\n20,1000,10\n"
        demand = demand_of_rows(rows, power="P [W]", speed="v [m/s]", interpolation=how)
        assert demand.speed_m_s == pytest.approx(expected)


class TestOneSamplingRule:
    ZIGZAG_W = np.array([0.0, 10e3, -10e3, 10e3, -10e3, 0.0])

    def test_a_straight_run_has_the_rms_of_the_same_file_as_a_history(self):
        history = History.from_arrays(time_s=60.0 * np.arange(6.0), power_W=self.ZIGZAG_W)
        # A straight line from 0 to a has the rms a / sqrt(3), 5774 W; its mean alone would give 5000 W.
        assert rms(read_demand(history)) == pytest.approx(10e3 / np.sqrt(3.0), rel=1e-3)
        runs = list(intervals(history))
        squares = sum(float(np.sum(run.mean_square * run.length_s)) for run in runs)
        assert rms(read_demand(history)) == pytest.approx(np.sqrt(squares / 300.0), rel=1e-3)

    def test_energy_stays_exact(self):
        power = np.array([0.0, 9e3, 3e3, 3e3])
        demand = read_demand(History.from_arrays(time_s=np.array([0.0, 10.0, 30.0, 40.0]), power_W=power))
        # 45 kJ + 120 kJ + 30 kJ.
        assert demand.energy_J == pytest.approx(195e3)
        assert demand.length_s.sum() == pytest.approx(40.0)

    def test_a_dense_log_is_left_as_it_is(self):
        time = np.arange(0.0, 400.0, 0.5)
        demand = read_demand(History.from_arrays(time_s=time, power_W=20e3 + 5e3 * np.sin(time / 20.0)))
        assert demand.length_s.size == time.size - 1

    def test_held_values_are_never_cut(self):
        demand = read_demand(
            History.from_arrays(time_s=np.arange(6.0), power_W=self.ZIGZAG_W, interpolation="zero_order_hold")
        )
        assert demand.power_W == pytest.approx(self.ZIGZAG_W[:-1])
