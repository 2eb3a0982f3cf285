"""Arrays and frames as histories: any stated unit gives the same history, and what cannot be meant is refused."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import lifetime as pw
from lifetime.errors import NumberError

TIME_S = np.array([0.0, 60.0, 120.0, 180.0])
CURRENT_A = np.array([0.0, 3.0, -1.5, 0.0])


@pytest.mark.parametrize(
    "arrays",
    [
        {"time_min": TIME_S / 60.0, "current_A": CURRENT_A},
        {"time_s": TIME_S, "current_mA": CURRENT_A * 1000.0},
        {"time_s": list(TIME_S), "current_kA": list(CURRENT_A / 1000.0)},
    ],
)
def test_the_unit_stands_in_the_name(arrays):
    frame = pw.History.from_arrays(**arrays).to_frame()
    assert frame.time_s.tolist() == TIME_S.tolist()
    assert frame.current_A.tolist() == pytest.approx(CURRENT_A.tolist(), rel=1e-15)


def test_degrees_celsius_and_kelvin_are_told_apart():
    warm = pw.History.from_arrays(time_s=TIME_S, current_A=CURRENT_A, temperature_C=np.full(4, 25.0))
    same = pw.History.from_arrays(time_s=TIME_S, current_A=CURRENT_A, temperature_K=np.full(4, 298.15))
    assert warm.data_sha256 == same.data_sha256
    assert warm.to_frame().temperature_C.tolist() == pytest.approx([25.0] * 4)


@pytest.mark.parametrize(
    ("arrays", "words"),
    [
        ({"time_s": TIME_S, "amps": CURRENT_A}, '"amps" is not an array of a history'),
        ({"time_s": TIME_S, "current_V": CURRENT_A}, '"current_V" is not an array of a history'),
        ({"time_s": TIME_S}, "exactly one of current and power"),
        ({"time_s": TIME_S, "current_A": CURRENT_A, "power_W": CURRENT_A}, "exactly one of current and power"),
        ({"current_A": CURRENT_A}, "needs a time"),
        ({"time_s": TIME_S, "time_h": TIME_S, "current_A": CURRENT_A}, "is given once"),
        ({"time_s": TIME_S[:3], "current_A": CURRENT_A}, "equally long"),
    ],
)
def test_what_cannot_be_meant_is_refused(arrays, words):
    with pytest.raises(NumberError, match=words):
        pw.History.from_arrays(**arrays)


def test_a_frame_reads_like_the_same_columns_of_a_file(tmp_path):
    frame = pd.DataFrame({"Time [s]": TIME_S, "I [mA]": CURRENT_A * 1000.0, "U [V]": [3.3, 3.2, 3.35, 3.3]})
    frame.to_csv(tmp_path / "run.csv", index=False)
    keys = {"time": "Time [s]", "current": "I [mA]", "voltage": "U [V]"}
    assert pw.read_history(frame, **keys).data_sha256 == pw.read_history(tmp_path / "run.csv", **keys).data_sha256


def test_a_frame_with_time_stamps_and_modes():
    frame = pd.DataFrame(
        {
            "when": pd.date_range("2026-01-05 08:00", periods=4, freq="min"),
            "amps": np.abs(CURRENT_A),
            "mode": ["rest", "discharge", "charge", "rest"],
        }
    )
    history = pw.read_history(
        frame, time="when", current="amps", current_unit="A", mode="mode",
        charge_modes=["charge"], discharge_modes=["discharge"], rest_modes=["rest"],
    )  # fmt: skip
    assert history.to_frame().current_A.tolist() == CURRENT_A.tolist()
    assert history.duration_s == 180.0


def test_later_changes_of_a_frame_do_no_harm():
    frame = pd.DataFrame({"t [s]": TIME_S, "I [A]": CURRENT_A})
    history = pw.read_history(frame, time="t [s]", current="I [A]")
    frame.loc[:, "I [A]"] = 99.0
    assert history.to_frame().current_A.tolist() == CURRENT_A.tolist()


def test_a_missing_value_names_its_row_as_in_a_file():
    frame = pd.DataFrame({"t [s]": TIME_S, "I [A]": [0.0, np.nan, 1.0, 0.0]})
    with pytest.raises(pw.HistoryError, match="row 3"):
        pw.read_history(frame, time="t [s]", current="I [A]")


def test_mixed_values_and_unknown_keys_are_refused_in_words():
    with pytest.raises(pw.HistoryError, match="cannot be read"):
        pw.read_history(pd.DataFrame({"t": [0.0, {}]}), time="t", current="t2")
    with pytest.raises(pw.StudyError, match="curent"):
        pw.read_history(pd.DataFrame({"t": [0.0, 1.0]}), time="t", curent="I")


@settings(deadline=None, max_examples=30)
@given(scale=st.sampled_from([("time_s", 1.0), ("time_min", 60.0), ("time_h", 3600.0)]), amps=st.floats(1.0, 80.0))
def test_the_life_does_not_depend_on_the_unit_of_time(scale, amps):
    name, seconds = scale
    time_s = np.array([0.0, 900.0, 1800.0, 3600.0])
    current = amps * np.array([0.0, 1.0, -0.5, 0.0])
    pack = {"cell": "lfp_naumann_2020", "series": 10, "parallel": 40, "ambient_C": 20.0}
    base = pw.source_life(pw.History.from_arrays(time_s=time_s, current_A=current), **pack)
    same = pw.source_life(pw.History.from_arrays(current_A=current, **{name: time_s / seconds}), **pack)
    assert same.years == pytest.approx(base.years, rel=1e-9)


def test_ten_years_at_rest_lose_what_the_model_says():
    """Naumann 2018 as printed, 25 °C, SOC 0.5, 3650 d: 13.4447 % (computed from the printed equation)."""
    still = pw.History.from_arrays(time_s=np.arange(0.0, 28801.0, 60.0), current_A=np.zeros(481))
    life = pw.source_life(
        still, cell="lfp_naumann_2020", series=10, parallel=2, ambient_C=25.0, start_soc=0.5, charge_c_rate=None
    )
    last = life.trajectory().set_index("years").capacity_fraction
    assert 1.0 - np.interp(10.0, last.index, last) == pytest.approx(0.134447, abs=5e-7)
    assert life.criterion == "capacity"
    assert life.years == pytest.approx(10.0 * (0.20 / 0.134447) ** 2, rel=1e-5)  # a square-root law


def test_a_bank_eight_hours_warm_and_sixteen_cool():
    """8 h at 2.5 V 45 °C and 16 h at 2.0 V 25 °C a day: 3.776 years, computed from the makers' ratings."""
    warm = pw.History.from_arrays(
        time_h=np.linspace(0.0, 8.0, 481), current_A=np.zeros(481), temperature_C=np.full(481, 45.0)
    )
    life = pw.source_life(
        warm, cell="edlc_3000F_10K_0p2V", series=10, parallel=1, ambient_C=25.0,
        voltage_window_V=(5.0, 25.0), rest_voltage_V=20.0, service_years=5.0,
    )  # fmt: skip
    assert life.result.kind == "ultracapacitor"
    assert life.years == pytest.approx(3.776, abs=5e-4)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"series": 0}, "series"),
        ({"start_soc": 1.2}, "soc: must be less than or equal to 1"),
        ({"ambient_C": 200.0}, "ambient_C"),
        ({"ambient_C": None}, "climate"),
        ({"cell": "none_such"}, "none_such"),
    ],
)
def test_a_source_that_cannot_be_is_refused(more, words):
    pack = {"cell": "lfp_naumann_2020", "series": 10, "parallel": 4, "ambient_C": 20.0} | more
    still = pw.History.from_arrays(time_s=[0.0, 60.0], current_A=[0.0, 0.0])
    with pytest.raises(pw.InputError, match=words):
        pw.source_life(still, **pack)


def test_a_bank_kept_above_its_cells_is_refused():
    """10 cells of 2.7 V are 27 V; a bank at rest above it ages by no number that anybody measured."""
    still = pw.History.from_arrays(time_s=[0.0, 60.0], current_A=[0.0, 0.0])
    with pytest.raises(pw.InputError, match="rest_voltage_V must not exceed 27 V"):
        pw.source_life(still, cell="edlc_3000F_10K_0p2V", series=10, parallel=1, ambient_C=25.0, rest_voltage_V=28.0)
