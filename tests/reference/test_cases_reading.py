"""Public trouble reports of reading, re-made as small inputs; right values by hand or by the standard library.

Cases of the same collection that have tests of their own beside the code: C26, C28 (order, gaps), C43, C44, C47
(stamps), C49, C50 (rasters), C53 (MAT). Sources: the issue trackers named in the docstrings; nothing is copied.
"""

import math

import numpy as np
import pytest

from lifetime.errors import HistoryError
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput
from lifetime.stress.intervals import intervals


@pytest.fixture
def opened(tmp_path):
    def _opened(text, **keys):
        (tmp_path / "log.csv").write_text(text, encoding="utf-8")
        spec = {"time": "time_s", "current": "current_A"} | keys
        return open_history(HistoryInput(file="log.csv", **spec), tmp_path)

    return _opened


def block(history):
    return next(history.blocks())


def test_c37_byte_order_mark_in_front_of_a_quoted_header(opened):
    """pandas issues 4793, 13497: the mark must not become part of the first name."""
    assert block(opened('\ufeff"time_s","current_A"\n0,1\n1,2\n')).current_A.tolist() == [1.0, 2.0]


def test_c38_separator_line_on_top(opened):
    """rainbow_csv issue 108: two rows and two columns, not a column called sep=."""
    assert block(opened("sep=;\ntime_s;current_A\n0;10\n1;20\n")).current_A.tolist() == [10.0, 20.0]


def test_c40_an_extra_separator_shifts_nothing(opened):
    """pandas issues 14124, 9295: time 0, 1, 2 and current 10, 20, 30."""
    found = block(opened("time_s,current_A,temp_C\n0,10,25,\n1,20,26\n2,30,27\n"))
    assert (found.time_s.tolist(), found.current_A.tolist()) == ([0.0, 1.0, 2.0], [10.0, 20.0, 30.0])


@pytest.mark.parametrize(("row", "line"), [("1,20,26,,", 3), ("2,3", 3)])
def test_c41_ragged_rows_are_named(opened, row, line):
    """pandas issue 9294: a message with the line's number, and no half-read value."""
    with pytest.raises(HistoryError) as caught:
        opened(f"time_s,current_A,temp_C\n0,10,25\n{row}\n3,4,5\n")
    assert caught.value.row == line


def test_c46_epoch_seconds_as_float64(opened):
    """pandas issue 15817: steps of 1 ms within 0.3 microseconds; float64 near 1.7e9 is spaced 2.4e-7 (IEEE 754)."""
    rows = "".join(f"{1718000000 + k / 1000:.3f},1\n" for k in range(1, 5))
    assert np.diff(block(opened("time_s,current_A\n" + rows)).time_s) == pytest.approx(1e-3, abs=3e-7)


@pytest.mark.parametrize("code", ["-999", "327.67", "65535"])
def test_c52_error_codes_are_no_temperatures(opened, code):
    """openaq-api issue 8: excluded and reported, mean 25; with the code it would be -231."""
    text = f"time_s,current_A,T_C\n0,1,25\n1,1,25\n2,1,{code}\n3,1,25\n"
    with pytest.raises(HistoryError, match="error code"):
        opened(text, temperature="T_C")
    history = opened(text, temperature="T_C", clean=["drop_bad_rows"])
    assert block(history).temperature_K.mean() == pytest.approx(298.15)
    assert history.record.steps[0].count == 1


def test_c55_what_is_missing_is_filled_by_time_not_by_row(opened):
    """pandas issue 10362: between 0 at 0 s and 10 at 10 s the value at 1 s is 1."""
    text = "time_s,current_A\n0,0\n1,\n10,10\n"
    history = opened(text, clean=["drop_bad_rows", "bridge_gaps"])
    found = block(history)
    assert np.interp(1.0, found.time_s, found.current_A) == 1.0
    # Integrated as the stress room does: 50 As over ten seconds, 0.5 As over the first.
    assert sum(float(np.sum(run.mean * run.length_s)) for run in intervals(history)) == pytest.approx(50.0)


def test_c56_values_between_samples_run_straight(opened):
    """pandas issue 21351: 0, 1, 0, 0.5, 1 at 0, 6, 12, 18, 24 h; nothing is resampled on the way."""
    values = [0, 1, 1, 0, 0, 1, 1]
    text = "time_h,current_A\n" + "".join(f"{4 * k},{value}\n" for k, value in enumerate(values))
    found = block(opened(text, time="time_h", clean=["bridge_gaps"]))
    wanted = np.arange(0, 25, 6) * 3600.0
    assert np.interp(wanted, found.time_s, found.current_A).tolist() == [0.0, 1.0, 0.0, 0.5, 1.0]


def test_c58_mean_of_a_channel_logged_on_change(opened):
    """influxdb issue 7445: held values give 25.02 °C; the mean of the rows would be 41.67 °C."""
    rows = "0,1,25\n" + "".join(f"{3600 + k},1,45\n" for k in range(5))
    history = opened(
        "time_s,current_A,T_C\n" + rows, temperature="T_C", interpolation="zero_order_hold", clean=["bridge_gaps"]
    )
    runs = list(intervals(history))
    lasted = sum(float(run.length_s.sum()) for run in runs)
    mean_K = sum(float(np.sum(run.length_s * run.temperature_K)) for run in runs) / lasted
    assert mean_K - 273.15 == pytest.approx(25.02, abs=0.005)
    assert pytest.approx(41.67, abs=0.005) == (25 + 5 * 45) / 6


def test_c59_nearly_equal_times_at_a_simulator_event(opened):
    """A zero crossing leaves times 1e-14 s apart: charge -1.889 As (5 * 0.111 - 5 * 0.489), nothing divides by them."""
    times = ["1.0", "1.11111111111111", "1.11111111111113", "1.11111111111114", "1.6"]
    rows = "".join(f"{t},{i}\n" for t, i in zip(times, (5, 5, -5, -5, -5), strict=True))
    history = opened("time_s,current_A\n" + rows)
    charge = sum(float(np.sum(run.mean * run.length_s)) for run in intervals(history))
    assert charge == pytest.approx(5 * (1.11111111111111 - 1.0) - 5 * (1.6 - 1.11111111111113), abs=1e-6)
    assert charge == pytest.approx(-1.889, abs=1e-3)
    assert math.isfinite(history.record.median_step_s)
