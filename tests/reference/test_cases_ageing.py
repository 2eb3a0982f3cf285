"""Public trouble reports on ageing and state of charge that concern trace, duty and years together.

The right values were worked out by hand as said at each case; none is our own output. Cases that concern one law or
one series alone stand in ``test_public_cases.py``, ``test_ageing_accumulation.py``, ``test_ultracap_ageing.py`` and
``projection/test_synthetic_laws.py``.
"""

from pathlib import Path

import numpy as np
import pytest

from lifetime.assessment.run import assess
from lifetime.history.model import History
from lifetime.packs.load import load_cell
from lifetime.packs.locate import profiles_folder
from lifetime.projection.duty import Duty, WornDay
from lifetime.stress.day import Charging, build_day
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.source import Source, Thermal
from lifetime.study.load import Folder, resolve_study

NEVER = Charging(None, 0.0)
AMBIENT_K = np.full(12, 298.15)


def source(**given):
    """A 50 Ah pack of one cell, unless told otherwise."""
    values = {
        "kind": "battery",
        "capacity_As": 50.0 * 3600.0,
        "resistance_ohm": 0.3e-3,
        "start_soc": 0.9,
        "rest_soc": 0.9,
        "open_circuit_V": lambda soc: 3.0 + soc,
        "minimum_voltage_V": 0.1,
        "maximum_voltage_V": 5.0,
        "minimum_soc": 0.0,
        "maximum_soc": 1.0,
        "thermal": None,
        "hot_spot_K": 0.0,
        "parallel": 1,
        "series": 1,
    }
    return Source(**{**values, **given})


def drive(pack, time_s, current_A, **channels):
    arrays = {name: np.asarray(values, dtype=float) for name, values in channels.items()}
    history = History.from_arrays(
        time_s=np.asarray(time_s, dtype=float),
        current_A=np.asarray(current_A, dtype=float),
        interpolation="zero_order_hold",
        **arrays,
    )
    return trace_drive(DriveTracer(pack, power_driven=False), intervals(history))


def duty(pack, day, working_days=365.0):
    return Duty(pack, [WornDay(day, "none")], AMBIENT_K, working_days)


class TestC31RatedOrPresentCapacity:
    """20 Ah out of a 50 Ah pack: depth 0.4 of rated, 0.5 of present capacity at 80 % health (20/50, 20/40)."""

    def stress(self, health):
        pack = source()
        # 20 A for an hour, and charged at 20 A: one cycle of 20 Ah a day.
        day = build_day(drive(pack, np.arange(0.0, 3601.0, 60.0), np.full(61, 20.0)), pack, Charging(20.0, 0.9))
        return duty(pack, day).stress(health, 1.0)

    @pytest.mark.parametrize(("health", "depth"), [(1.0, 0.4), (0.8, 0.5)])
    def test_depth_and_rate_are_of_present_capacity(self, health, depth):
        stress = self.stress(health)
        assert stress.depth.tolist() == [pytest.approx(depth)]
        assert stress.c_rate.tolist() == [pytest.approx(depth)]  # 20 A over 50 or 40 Ah
        assert stress.mean_soc.tolist() == [pytest.approx(0.9 - depth / 2)]

    def test_full_cycles_are_of_rated_capacity(self):
        # Throughput does not grow because a pack got smaller.
        for health in (1.0, 0.8):
            assert self.stress(health).throughput_fec.tolist() == [pytest.approx(0.4)]

    def test_damage_by_depth_squared_rises_by_56_percent(self):
        new, worn = (float(np.sum(self.stress(health).count * self.stress(health).depth ** 2)) for health in (1.0, 0.8))
        assert worn / new == pytest.approx(1.5625)


class TestC79SelfHeatingOfAnUltracapacitor:
    """100 A rms, 0.3 mOhm, 3 K/W: 9.0 K; life x 0.536 by the 10 K rule (2^-0.9)."""

    TIME = np.arange(0.0, 7201.0)
    CURRENT = 100.0 * (-1.0) ** np.arange(7201)

    def bank(self):
        return source(
            kind="ultracapacitor",
            capacity_As=8100.0,
            start_soc=0.9,
            open_circuit_V=lambda soc: 2.7 * soc,
            maximum_voltage_V=2.7,
            thermal=Thermal(3.0, 200.0),
        )

    def driving(self, **channels):
        """Temperature and length of the driving bins in one month."""
        bank = self.bank()
        traced = drive(bank, self.TIME, self.CURRENT, **channels)
        stress = duty(bank, build_day(traced, bank, NEVER)).stress(1.0, 1.0)
        n = traced.time_at_state.time_s.size
        return traced, stress.temperature_K[0, :n]

    def test_rise(self):
        traced, temperature = self.driving()
        assert traced.end_rise_K == pytest.approx(9.0, abs=0.05)
        # The hottest bin is half a kelvin wide and carries its mean.
        assert 298.15 + 8.5 < temperature.max() < 298.15 + 9.0

    def test_life_factor(self):
        law = load_cell("edlc_3000F_10K_0p2V", "ultracapacitor", Path()).law
        traced, _ = self.driving()
        warm, cool = (
            float(law.damage_rate_per_s(np.array([2.5]), np.array([298.15 + rise]))[0])
            for rise in (traced.end_rise_K, 0.0)
        )
        assert cool / warm == pytest.approx(0.536, abs=5e-4)

    def test_a_measured_temperature_is_not_heated_again(self):
        _, temperature = self.driving(temperature_K=np.full(7201, 310.0))
        np.testing.assert_allclose(temperature, 310.0)

    def test_doubled_esr_doubles_the_rise(self):
        bank = self.bank()
        day = build_day(drive(bank, self.TIME, self.CURRENT), bank, NEVER)
        hottest = [float(duty(bank, day).stress(1.0, ratio).temperature_K.max()) - 298.15 for ratio in (1.0, 2.0)]
        assert hottest[1] == pytest.approx(2.0 * hottest[0], rel=1e-9)


class TestC80TemperatureOfACycle:
    """600 s at 30 °C then 3000 s at 40 °C, logged on change: 38.33 °C by time, (10 * 30 + 50 * 40) / 60."""

    def traced(self):
        current = [10.0, 10.0, 10.0]
        return drive(source(), [0.0, 600.0, 3600.0], current, temperature_K=[303.15, 313.15, 313.15])

    def test_by_time(self):
        states = self.traced().time_at_state
        mean = np.sum(states.time_s * states.measured_K) / np.sum(states.time_s)
        assert mean - 273.15 == pytest.approx(38.33, abs=5e-3)

    def test_of_the_cycle_by_charge_moved(self):
        # At constant current charge moves with time, so the cycle's temperature is the same mean.
        pack = source()
        day = build_day(self.traced(), pack, NEVER)
        assert day.cycles.measured_K.tolist() == [pytest.approx(311.48, abs=5e-3)]


class TestThroughTheProgram:
    """What a study says about itself where a number would mislead."""

    @pytest.fixture
    def assessed(self, tmp_path):
        def run(channel, values, *, minutes=1, **battery):
            time = np.arange(0.0, 60.0 * minutes + 1.0)
            table = np.column_stack([time, np.full(time.size, values)])
            header = "t_s,x_W" if channel == "power" else "t_s,x_A"
            np.savetxt(tmp_path / "x.csv", table, delimiter=",", header=header, comments="", fmt="%.3f")
            study = {
                "title": "case",
                "service": {"years": 10.0, "working_days_per_year": 300.0, "ambient_C": 25.0},
                "battery": {
                    "cell": "lfp_naumann_2020",
                    "series": 100,
                    "parallel": 10,
                    "start_soc": 0.5,
                    "resistance_ohm": 0.3,
                    "open_circuit": {"soc": [0.0, 1.0], "voltage_V": [3.2, 3.200001]},
                    "price": {"purchase": 1000.0},
                    **battery,
                },
                "cost": {"currency": "EUR", "discount_rate": 0.05},
                "strategy": [{"name": "A", "battery": {"file": "x.csv", "time": "t_s", channel: header.split(",")[1]}}],
            }
            return assess(resolve_study(study, "study", Folder(tmp_path))).strategies[0]

        return run

    def test_c74_a_life_beyond_the_tests_is_called_an_extrapolation(self, assessed):
        # A straight line or root drawn past the tested range would miss a knee: it must be said.
        one = assessed("current", 0.0)
        assert one.battery.life_years > 10.0
        notices = {notice.code: notice.message for notice in one.battery.notices}
        assert "knee" in notices["extrapolated_in_time"]

    @pytest.mark.parametrize(("power_W", "can"), [(84e3, True), (86e3, False), (200e3, False)])
    def test_more_than_the_matched_power_is_never_a_life(self, assessed, power_W, can, tmp_path):
        # A cell of one resistance, whatever the length of the pulse: the shipped set without its table of resistances.
        shipped = (profiles_folder() / "batteries" / "lfp_naumann_2020.toml").read_text(encoding="utf-8")
        head, rest = shipped.split("[resistance]\n")
        (tmp_path / "one.toml").write_text(head + rest[rest.index("\n[") + 1 :], encoding="utf-8")
        # 100 cells of 3.2 V and 0.3 ohm deliver at most 320^2 / 4 / 0.3 = 85.3 kW, at half voltage, however low the
        # stated voltage bound lies (maximum power transfer).
        one = assessed("power", power_W, minimum_voltage_V=1.0, cell="one.toml")
        assert (one.battery.life_state != "requirement_not_met") == can
        if not can:
            assert one.battery.life_years == 0.0
            assert one.rank is None
            (notice,) = [notice for notice in one.battery.notices if notice.code == "cannot_deliver_when_new"]
            assert f"by {100.0 * (power_W / 85_333.3 - 1.0):.0f} %" in notice.message
