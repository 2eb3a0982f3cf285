"""Torque and shaft speed as a power, against values worked by hand beside each check."""

import math

import numpy as np
import pytest
from pydantic import ValidationError

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.machine import MachineLosses
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput
from lifetime.split.demand import read_demand

# A laboratory machine of 2.2 kW at 1000 rpm: 2200 / (1000 * 2 pi / 60) = 21.0 N·m. Common practice, no source.
RATED_NM = 2200.0 / (1000.0 * 2.0 * np.pi / 60.0)
MAP = {
    "map_speed_rpm": [100.0, 1000.0],
    "map_torque_Nm": [1.0, 21.0],
    "map_efficiency": [[0.5, 0.7], [0.8, 0.9]],
}


def losses(**values):
    return MachineLosses.model_validate(values)


@pytest.fixture
def history_of(tmp_path):
    """A history from rows of torque and shaft speed."""

    def _history_of(rows, columns="t [s],T [Nm],n [rpm]", **says):
        (tmp_path / "log.csv").write_text("\n".join([columns, *rows]))
        named = {"time": "t [s]", "torque": "T [Nm]", "shaft_speed": "n [rpm]", "interpolation": "zero_order_hold"}
        return open_history(HistoryInput.model_validate({"file": "log.csv", **named, **says}), tmp_path)

    return _history_of


def power_of(history):
    (block,) = history.blocks()
    return block.power_W


class TestPower:
    def test_the_rated_point(self, history_of):
        # 21.0085 N·m, which rounds to 21.0.
        assert round(RATED_NM, 1) == 21.0
        history = history_of(["0,21.0085,1000", "1,21.0085,1000"])
        assert history.driven_by == "power"
        assert power_of(history) == pytest.approx(2200.0, rel=1e-5)

    def test_a_step_of_speed_at_constant_torque(self, history_of):
        low, high = power_of(history_of(["0,12,300", "1,12,500"]))
        assert high / low == pytest.approx(500.0 / 300.0)

    def test_half_the_torque_for_each_of_two_sources_at_400_V(self, history_of):
        half = power_of(history_of(["0,21.0085,1000", "1,21.0085,1000"], torque_fraction=0.5))
        # 1100 W at 400 V.
        assert half / 400.0 == pytest.approx(2.75, rel=1e-5)

    def test_shares_add_to_the_whole(self, history_of):
        rows = ["0,10,300", "1,-8,500"]
        parts = [power_of(history_of(rows, torque_fraction=share)) for share in (0.3, 0.7)]
        assert sum(parts) == pytest.approx(power_of(history_of(rows)))

    def test_braking_and_reversing(self, history_of):
        # At 60 rpm, 2 pi rad/s: braking forth, driving back, braking back.
        power = power_of(history_of(["0,-10,60", "1,-10,-60", "2,10,-60"]))
        assert power == pytest.approx(np.array([-1.0, 1.0, -1.0]) * 20.0 * np.pi)

    def test_the_sign_of_the_file(self, history_of):
        power = power_of(history_of(["0,-10,60", "1,-10,60"], discharge_is="negative", machine={"fixed_W": 5.0}))
        # Turned first; the loss is the source's all the same.
        assert power == pytest.approx(20.0 * np.pi + 5.0)

    def test_units(self, history_of):
        history = history_of(
            ["0,0.01,10", "1,0.01,10"], "t [s],T,n [rad/s]", torque="T", torque_unit="kN·m", shaft_speed="n [rad/s]"
        )
        assert power_of(history) == pytest.approx(100.0)

    def test_it_is_a_demand(self, history_of):
        demand = read_demand(history_of(["0,21.0085,1000", "3600,21.0085,1000"], clean=["bridge_gaps"]))
        assert demand.energy_J / 3.6e6 == pytest.approx(2.2, rel=1e-5)

    def test_the_record_says_how(self, history_of):
        history = history_of(["0,10,60", "1,10,60"], torque_fraction=0.5, machine={"fixed_W": 5.0})
        assert history.record.meaning == (
            'the power is 0.5 × "T [Nm]" × "n [rpm]" with the losses of machine and inverter.',
        )


class TestCoefficients:
    def test_each_one(self):
        torque, speed = np.array([10.0]), np.array([100.0 * 2.0 * np.pi / 60.0])
        shaft = 10.0 * 100.0 * 2.0 * np.pi / 60.0
        # 20 W; 0.2 W/(N·m)² * 100; 0.05 W/rpm * 100; 0.001 W/rpm² * 10,000.
        for one, lost in (
            ({"fixed_W": 20.0}, 20.0),
            ({"torque_W_per_Nm2": 0.2}, 20.0),
            ({"speed_W_per_rpm": 0.05}, 5.0),
            ({"speed_W_per_rpm2": 0.001}, 10.0),
        ):
            assert losses(**one).electrical_W(torque, speed) == pytest.approx(shaft + lost)
            assert losses(**one).electrical_W(-torque, speed) == pytest.approx(-shaft + lost)
            assert losses(**one).electrical_W(torque, -speed) == pytest.approx(-shaft + lost)


class TestMap:
    @pytest.mark.parametrize(
        ("torque_Nm", "rpm", "efficiency"),
        [
            (21.0, 1000.0, 0.9),
            (1.0, 100.0, 0.5),
            (11.0, 550.0, 0.725),  # the mean of all four
            (21.0, 325.0, 0.75),  # a quarter of the way
            (0.5, 50.0, 0.5),  # below the first points
        ],
    )
    def test_driving_takes_more_and_braking_gives_less(self, torque_Nm, rpm, efficiency):
        torque, speed = np.array([torque_Nm, -torque_Nm]), np.full(2, rpm * 2.0 * np.pi / 60.0)
        shaft = torque_Nm * rpm * 2.0 * np.pi / 60.0
        assert losses(**MAP).electrical_W(torque, speed) == pytest.approx([shaft / efficiency, -shaft * efficiency])

    def test_at_standstill_nothing_is_lost(self):
        assert losses(**MAP).electrical_W(np.array([10.0, 0.0]), np.array([0.0, 50.0])) == pytest.approx([0.0, 0.0])

    @pytest.mark.parametrize("row", ["1,22,500", "1,10,1001"])
    def test_beyond_its_last_points_a_history_is_refused(self, history_of, row):
        with pytest.raises(HistoryError, match="beyond the last point of the efficiency map") as refused:
            history_of(["0,10,500", row], machine=MAP)
        assert refused.value.row == 3

    @pytest.mark.parametrize(
        ("changed", "words"),
        [
            ({"map_efficiency": None}, "belong together"),
            ({"fixed_W": 1.0}, "either an efficiency map or loss coefficients"),
            ({"map_speed_rpm": [1000.0, 100.0]}, "map_speed_rpm must increase"),
            ({"map_torque_Nm": [1.0, 1.0]}, "map_torque_Nm must increase"),
            ({"map_speed_rpm": [1.0, 2.0, 3.0]}, "one row for each speed"),
            ({"map_torque_Nm": [1.0, 2.0, 3.0]}, "one number for each torque"),
        ],
    )
    def test_a_map_that_does_not_fit(self, changed, words):
        with pytest.raises(ValidationError, match=words):
            losses(**MAP | changed)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"torque": "T"}, "torque and shaft_speed belong together"),
        ({"shaft_speed": "n"}, "torque and shaft_speed belong together"),
        ({"torque": "T", "shaft_speed": "n", "power": "p"}, "exactly one of the keys"),
        ({"power": "p", "torque_fraction": 0.5}, "belong to a torque"),
        ({"power": "p", "machine": {"fixed_W": 1.0}}, "belong to a torque"),
        ({"torque": "T", "shaft_speed": "n", "quantities_of": "cell"}, "not of a cell"),
    ],
)
def test_keys_that_contradict_each_other(keys, words):
    with pytest.raises(ValidationError, match=words):
        HistoryInput.model_validate({"file": "f", "time": "t", **keys})


def test_torque_and_shaft_speed_are_suggested_for_a_demand(write):
    """A motor's torque and speed alone: together they are a power, whose sign and losses only a person knows."""
    rows = "".join(f"{t},{20 + t % 7},{1000 + t},{30 + t % 9}\n" for t in range(60))
    report = describe_file(write("t [s],Motor Torque [Nm],Motor Speed,Vehicle Speed [km/h]\n" + rows))
    keys = report.study_keys
    assert (keys["torque"], keys["shaft_speed"], keys["shaft_speed_unit"]) == ("Motor Torque [Nm]", "Motor Speed", "?")
    assert keys["speed"] == "Vehicle Speed [km/h]"  # a machine's speed is not the vehicle's
    assert keys["discharge_is"] == "?"
    assert report.study_entry.startswith("demand = ")


def test_one_of_torque_and_shaft_speed_is_no_power(write):
    rows = "".join(f"{t},{20 + t % 7},{30 + t % 9}\n" for t in range(60))
    report = describe_file(write("t [s],Motor Torque [Nm],v [km/h]\n" + rows))
    assert "torque" not in report.study_keys


def test_the_torque_of_the_machine_is_known_by_its_electrical_power(write):
    """Of two torques that of machine 2 times speed is volts times amps, a twentieth lost; a current comes first."""
    lines = ["t [s],M1 [Nm],M2 [Nm],n [rpm],I [A],V [V]"]
    for t in range(200):
        torque, speed = 20.0 + 15.0 * math.sin(t / 9.0), 2000.0 + 3.0 * t
        watts = torque * speed * math.pi / 30.0 / 0.95
        lines.append(f"{t},{10 + t % 11},{torque:.4f},{speed},{watts / 380.0:.4f},380")
    report = describe_file(write("\n".join(lines) + "\n"))
    assert report.study_keys["current"] == "I [A]"
    assert "torque" not in report.study_keys
    points = {one.column: (one.points, one.evidence) for one in report.candidates if one.role == "torque"}
    assert points["M2 [Nm]"][0] > points["M1 [Nm]"][0]
    assert '"V [V]" times "I [A]"' in points["M2 [Nm]"][1]
    without = "\n".join(",".join(line.split(",")[:4]) for line in lines) + "\n"
    undecided = [one.message for one in describe_file(write(without)).findings if "equally well" in one.message]
    assert any("M1 [Nm]" in message and "torque" in message for message in undecided)
