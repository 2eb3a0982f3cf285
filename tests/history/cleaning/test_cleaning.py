"""Cleaning that was asked for, and the record of it. Case numbers are those of public trouble reports, re-made: C26
home-assistant issue 106363; C28 numpy issue 4601; C52 openaq-api issue 8; C55 pandas issue 10362; C58 influxdb issue
7445; C59 a maker's answer on zero crossings."""

import numpy as np
import pytest


def steps(history):
    return {step.name: (step.count, step.first_row) for step in history.record.steps}


def codes(history):
    return [notice.code for notice in history.notices]


def charge_As(values, *, held=False):
    """Charge by hand: trapezoids, or each value held to the next sample."""
    step = np.diff(values["time_s"])
    current = values["current_A"]
    return float(np.sum(step * (current[:-1] if held else 0.5 * (current[:-1] + current[1:]))))


def test_C08_drop_bad_rows_bridges_and_counts(write, read, gather):
    history = read(write("time_s,current_A\n0,0.5\n1,0.8\n2,NaN\n3,0.3\n4,0.6\n"), clean=["drop_bad_rows"])
    assert gather(history)["current_A"].tolist() == [0.5, 0.8, 0.3, 0.6]
    assert steps(history) == {"drop_bad_rows": (1, 4)}
    assert (history.record.rows_read, history.record.rows_kept, history.samples) == (5, 4, 4)
    assert "drop_bad_rows" in codes(history)


def test_C52_error_codes_are_left_out(write, read, gather):
    path = write("time_s,current_A,T_C\n0,1,25\n1,1,25\n2,1,-999\n3,1,25\n4,1,327.67\n5,1,65535\n6,1,25\n")
    history = read(path, temperature="T_C", clean=["drop_bad_rows"])
    assert gather(history)["temperature_K"].tolist() == [298.15] * 4
    assert steps(history) == {"drop_bad_rows": (3, 4)}


def test_C55_a_missing_temperature_is_filled_by_time_not_by_row(write, read, gather):
    path = write("time_s,current_A,T_C\n0,1,0\n1,1,\n10,1,10\n")
    values = gather(read(path, temperature="T_C", clean=["drop_bad_rows"]))
    # Between the neighbours left, straight over time, 1 °C at 1 s; by row it would be 5 °C.
    assert np.interp(1.0, values["time_s"], values["temperature_K"]) == pytest.approx(274.15, abs=1e-9)


def test_text_is_dropped_too_and_every_step_is_counted(write, read, gather):
    path = write("time_s,current_A\nabc,1\n0,1\n1,--\n2,3\nx,y\n")
    history = read(path, clean=["drop_bad_rows"])
    assert gather(history)["current_A"].tolist() == [1.0, 3.0]
    assert steps(history) == {"drop_bad_rows": (3, 2)}


def test_a_step_with_nothing_to_do_says_so(write, read):
    history = read(write("time_s,current_A\n0,1\n1,2\n"), clean=["sort_by_time", "drop_bad_rows", "bridge_gaps"])
    assert steps(history) == {"drop_bad_rows": (0, None), "sort_by_time": (0, None), "bridge_gaps": (0, None)}
    assert not {"sort_by_time", "drop_bad_rows", "bridge_gaps"} & set(codes(history))


def test_C28_sort_by_time(write, read, gather):
    history = read(write("time_s,current_A\n0,0\n2,4\n1,2\n"), clean=["sort_by_time"])
    values = gather(history)
    assert values["time_s"].tolist() == [0.0, 1.0, 2.0]
    assert charge_As(values) == 4.0
    assert steps(history) == {"sort_by_time": (1, 4)}
    assert "sort_by_time" in codes(history)


def test_sorting_keeps_the_order_of_rows_at_one_instant(write, read, gather):
    history = read(write("time_s,current_A\n1,5\n1,-5\n0,1\n1,7\n2,0\n"), clean=["sort_by_time"])
    assert gather(history)["current_A"].tolist() == [1.0, 5.0, -5.0, 7.0, 0.0]


def test_C26_rest_in_a_gap_counts_no_charge(write, read, gather):
    history = read(write("time_s,current_A\n0,0\n52200,50\n"), clean=["rest_in_gaps"])
    values = gather(history)
    assert charge_As(values) == 0.0
    assert values["time_s"].tolist() == [0.0, 0.0, 52200.0, 52200.0]
    assert values["current_A"].tolist() == [0.0, 0.0, 0.0, 50.0]
    assert (history.samples, history.duration_s) == (4, 52200.0)
    assert steps(history) == {"rest_in_gaps": (1, 3)}


def test_C26_bridging_gives_what_was_asked_for(write, read, gather):
    history = read(write("time_s,current_A\n0,0\n52200,50\n"), clean=["bridge_gaps"])
    assert charge_As(gather(history)) / 3600.0 == pytest.approx(362.5)  # 0.5 * 50 A * 14.5 h
    assert [n.severity for n in history.notices if n.code == "bridge_gaps"] == ["warning"]


@pytest.mark.parametrize("how", ["linear", "zero_order_hold"])
def test_rest_in_gaps_keeps_what_lies_around(write, read, gather, how):
    path = write(
        "time_s,current_A,T_C,U_V\n0,10,20,300\n1,10,20,300\n2,10,20,301\n2,0,20,301\n100,6,30,302\n101,6,30,303\n"
    )
    history = read(path, temperature="T_C", voltage="U_V", interpolation=how, clean=["rest_in_gaps"])
    values = gather(history)
    # By hand: 2 s at 10 A, 98 s of rest, 1 s at 6 A.
    assert charge_As(values, held=how == "zero_order_hold") == 26.0
    assert values["temperature_K"].tolist() == [293.15] * 5 + [303.15] * 3
    assert values["voltage_V"].tolist() == [300.0, 300.0, 301.0, 301.0, 301.0, 302.0, 302.0, 303.0]


def test_rest_in_gaps_for_power(write, read, gather):
    path = write("time_s,p_kW\n0,1\n1,1\n2,1\n2,0\n50,1\n51,1\n")
    history = read(path, power="p_kW", clean=["rest_in_gaps"])
    assert gather(history)["power_W"].tolist() == [1e3, 1e3, 1e3, 0.0, 0.0, 0.0, 1e3, 1e3]
    assert history.driven_by == "power"


def test_C58_a_channel_written_only_on_change(write, read, gather):
    path = write("time_s,current_A,T_C\n0,1,25\n" + "".join(f"{t},1,45\n" for t in range(3600, 3605)))
    values = gather(read(path, temperature="T_C", interpolation="zero_order_hold", clean=["bridge_gaps"]))
    step = np.diff(values["time_s"])
    mean_C = float(np.sum(step * values["temperature_K"][:-1]) / step.sum()) - 273.15
    assert mean_C == pytest.approx(25.02, abs=0.005)  # 41.67 as a mean of rows


def test_C59_nearly_equal_times_are_accepted_as_they_are(write, read, gather):
    path = write("time_s,current_A\n1.0,5\n1.11111111111111,5\n1.11111111111113,-5\n1.11111111111114,-5\n1.6,-5\n")
    history = read(path)
    values = gather(history)
    assert charge_As(values) == pytest.approx(-1.889, abs=1e-3)
    assert charge_As(values) == pytest.approx(5 * 0.111111111111115 - 5 * 0.488888888888875, abs=1e-6)
    assert len(set(values["time_s"].tolist())) == 5
    assert history.record.switching_edges == 2


def test_rows_at_one_instant_are_a_switching_edge(write, read, gather):
    history = read(write("time_s,current_A\n0,1\n1,1\n1,9\n1,-2\n2,-2\n3,-2\n"))
    assert gather(history)["current_A"].tolist() == [1.0, 1.0, 9.0, -2.0, -2.0, -2.0]
    assert history.record.switching_edges == 2
    assert "switching_edges" in codes(history)


def test_steps_that_differ_are_fine(write, read):
    history = read(write("time_s,current_A\n0,1\n1,2\n1.5,3\n4,2\n9,1\n"))
    assert history.samples == 5
    assert history.record.largest_step_s == 5.0
    assert history.record.median_step_s == pytest.approx(1.75)  # of 0.5, 1, 2.5 and 5


def test_discharge_negative_is_turned_round(write, read, gather):
    values = gather(read(write("time_s,current_A\n0,-5\n1,0\n2,3\n"), discharge_is="negative"))
    assert values["current_A"].tolist() == [5.0, 0.0, -3.0]
    assert not np.signbit(values["current_A"][1])


def test_the_sign_is_always_said(write, read):
    path = write("time_s,current_A\n0,-5\n1,3\n")
    said = {n.code: n for n in read(path).notices}["discharge_sign"]
    assert "positive" in said.message
    assert "default" in said.message
    said = {n.code: n for n in read(path, discharge_is="negative").notices}["discharge_sign"]
    assert "negative" in said.message
    assert "as stated" in said.message


def test_a_stuck_sensor_is_a_warning_and_rest_is_a_note(write, read):
    stuck = read(write("time_s,current_A\n0,7.5\n1,7.5\n2,7.5\n"))
    assert [n.severity for n in stuck.notices if n.code == "constant_current"] == ["warning"]
    rest = read(write("time_s,current_A\n0,0\n1,0\n2,0\n"))
    assert [n.severity for n in rest.notices if n.code == "all_rest"] == ["note"]
    power = read(write("time_s,p_W\n0,7\n1,7\n"), power="p_W")
    assert "constant_power" in codes(power)


def test_units_and_ambient(write, read, gather):
    path = write("t_ms,I [mA],U_mV,temp (°F)\n0,1500,3300,32\n1000,-500,3200,212\n")
    history = read(path, time="t_ms", current="I [mA]", voltage="U_mV", temperature="temp (°F)", ambient_C=20)
    values = gather(history)
    assert values["time_s"].tolist() == [0.0, 1.0]
    assert values["current_A"].tolist() == [1.5, -0.5]
    assert values["voltage_V"].tolist() == [3.3, 3.2]
    assert values["temperature_K"] == pytest.approx([273.15, 373.15], abs=1e-12)
    assert history.ambient_K == 293.15
    assert [(use.quantity, use.unit) for use in history.record.columns] == [
        ("time", "ms"),
        ("current", "mA"),
        ("voltage", "mV"),
        ("temperature", "°F"),
    ]


def test_sorting_a_long_file_finds_the_moved_rows(write, read, gather):
    order = np.arange(150_000)
    order[[1000, 140_000]] = order[[140_000, 1000]]
    path = write("time_s,current_A\n" + "".join(f"{t},{t % 13}\n" for t in order.tolist()))
    history = read(path, clean=["sort_by_time"])
    values = gather(history)
    assert np.array_equal(values["time_s"], np.arange(150_000.0))
    assert np.array_equal(values["current_A"], np.arange(150_000) % 13)
