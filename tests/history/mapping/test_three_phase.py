"""Phases of a machine: recognised as sets, named with their voltages, never taken for a source's direct current."""

import numpy as np
import pytest

from lifetime.history.inspection.file_report import describe_file
from lifetime.history.mapping.alternation import AlternationCheck
from lifetime.history.mapping.three_phase import winding_sets
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

AMPLITUDE_A, AMPLITUDE_V = 100.0, 200.0
TIME = np.arange(2000) / 2000.0  # one second at 2 kHz
ANGLE = 2.0 * np.pi * 50.0 * TIME


LINES = ("uv", "vw", "wu")


def phases(amplitude, lag=0.0, noise=0.0):
    generator = np.random.default_rng(1)
    shifts = [lag + number * 2.0 * np.pi / 3.0 for number in range(3)]
    return [amplitude * np.sin(ANGLE - shift) + noise * generator.normal(size=TIME.size) for shift in shifts]


def machine(names, sets=(("i1", "u1", 0.0), ("i2", "u2", np.pi / 6.0)), **more):
    """A machine of two winding sets, 30 degrees apart, each phase current in phase with its voltage."""
    columns = {"t [s]": TIME}
    for current, voltage, lag in sets:
        columns |= dict(zip([f"{current}{name} [A]" for name in names], phases(AMPLITUDE_A, lag, 0.5), strict=True))
        columns |= dict(zip([f"{voltage}{name} [V]" for name in names], phases(AMPLITUDE_V, lag, 1.0), strict=True))
    return columns | more


def text(columns):
    rows = np.column_stack(list(columns.values()))
    lines = [",".join(columns), *(",".join(f"{value:.6g}" for value in row) for row in rows)]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("names", ["uvw", "abc", "123", "RST"])
def test_two_winding_sets_are_recognised_and_no_phase_is_a_direct_current(write, names):
    report = describe_file(write(text(machine(names))))
    assert {one.role for one in report.suggestions} == {"time"}
    sets = [finding for finding in report.findings if "winding set" in finding.message]
    assert [f"winding set {number} of 2" in finding.message for number, finding in enumerate(sets, 1)] == [True, True]
    for number, finding in enumerate(sets, 1):
        currents = ", ".join(f'"i{number}{name} [A]"' for name in names)
        voltages = ", ".join(f'"u{number}{name} [V]"' for name in names)
        assert f"phase_currents = [{currents}]" in finding.remedy
        assert f"phase_voltages = [{voltages}]" in finding.remedy
    # Which source feeds which set only a person knows.
    assert report.study_entry is None


def test_one_winding_set_is_the_suggested_demand(write):
    path = write(text(machine("uvw", sets=(("i_", "u_", 0.0),))))
    report = describe_file(path)
    assert report.study_entry.startswith("demand = ")
    keys = {**report.study_keys, "file": path.name, "discharge_is": "positive"}
    history = open_history(HistoryInput(**keys), path.parent)
    power_W = np.concatenate([block.power_W for block in history.blocks()])
    # Three phases in phase: 3/2 times 100 A times 200 V are 30 kW, constant (common practice, no source).
    assert power_W.mean() == pytest.approx(30_000.0, rel=0.01)


def test_the_direct_current_beside_the_phases_is_suggested(write):
    battery_A = 80.0 + 5.0 * np.sin(2.0 * np.pi * TIME)
    report = describe_file(write(text(machine("uvw", **{"I_dc [A]": battery_A, "U_dc [V]": 380.0 - 0.1 * battery_A}))))
    assert {one.role: one.column for one in report.suggestions} == {
        "time": "t [s]",
        "current": "I_dc [A]",
        "voltage": "U_dc [V]",
    }


def test_two_sets_of_equal_currents_are_kept_apart_by_their_names():
    currents = dict(enumerate([*phases(AMPLITUDE_A), *phases(AMPLITUDE_A)]))
    names = ["i_u1", "i_v1", "i_w1", "i_u2", "i_v2", "i_w2"]
    assert [one.currents for one in winding_sets(currents, {}, names)] == [(0, 1, 2), (3, 4, 5)]


def test_voltages_with_the_switching_of_the_inverter_in_common_are_found_by_their_names():
    common = 150.0 * np.sign(np.sin(40.0 * ANGLE))
    columns = dict(enumerate([*phases(AMPLITUDE_A), *(phase + common for phase in phases(AMPLITUDE_V))]))
    currents, voltages = {at: columns[at] for at in range(3)}, {at: columns[at] for at in range(3, 6)}
    names = ["i_u", "i_v", "i_w", "u_u", "u_v", "u_w"]
    assert winding_sets(currents, voltages, names)[0].voltages == (3, 4, 5)


def test_voltages_between_two_phases_are_not_suggested(write):
    """They sum to zero as well; with the phase currents their products would give 3/2 of the power (by hand: cos 30
    degrees times the root of 3), or another multiple at another power factor."""
    phase = phases(AMPLITUDE_V)
    between = {f"u_{names} [V]": phase["uvw".index(names[0])] - phase["uvw".index(names[1])] for names in LINES}
    currents = dict(zip([f"i_{name} [A]" for name in "uvw"], phases(AMPLITUDE_A), strict=True))
    report = describe_file(write(text({"t [s]": TIME, **currents, **between})))
    assert {one.role for one in report.suggestions} == {"time"}
    assert report.study_entry is None
    assert any("not between two phases" in finding.remedy for finding in report.findings)


def test_three_currents_of_three_packs_are_no_winding_set():
    packs = {at: (10.0 + at) * np.sin(ANGLE / 500.0) + 3.0 for at in range(3)}
    assert winding_sets(packs, {}, ["i_1", "i_2", "i_3"]) == ()


def test_a_single_alternating_current_is_not_suggested_and_warned_of(write):
    report = describe_file(write(text({"t [s]": TIME, "Battery Current [A]": phases(AMPLITUDE_A)[0]})))
    assert "current" not in {one.role for one in report.suggestions}
    warnings = [finding for finding in report.findings if "alternates" in finding.message]
    assert [(one.severity, one.place) for one in warnings] == [("warning", 'column "Battery Current [A]"')]


def test_a_study_that_names_a_phase_as_current_is_warned(write):
    path = write(text(machine("uvw")))
    history = open_history(HistoryInput(file=path.name, time="t [s]", current="i1u [A]"), path.parent)
    notices = {notice.code: notice for notice in history.notices}
    assert notices["alternating_current"].severity == "warning"
    assert "50 Hz" in notices["alternating_current"].message


@pytest.mark.parametrize(("header", "is_suggested"), [("t [h]", True), ("time", True), ("t [s]", False)])
def test_a_slow_current_over_hours_is_not_taken_for_a_fast_one(write, header, is_suggested):
    """Twelve periods in an hour are 0.0033 Hz, and in a second 12 Hz; a time without a unit tells neither."""
    current = 10.0 * np.sin(2.0 * np.pi * 12.0 * TIME)
    report = describe_file(write(text({header: TIME, "I [A]": current})))
    assert ("current" in {one.role for one in report.suggestions}) == is_suggested


def checked(time_s, values):
    check = AlternationCheck()
    for start in range(0, time_s.size, 700):
        check.add(time_s[start : start + 700], values[start : start + 700])
    return check.alternation()


def test_the_frequency_is_that_of_the_wave_in_any_pieces():
    assert checked(TIME, phases(AMPLITUDE_A)[0]).frequency_Hz == pytest.approx(50.0, rel=0.02)
    assert checked(TIME, phases(AMPLITUDE_A)[0]).rms == pytest.approx(AMPLITUDE_A / np.sqrt(2.0), rel=1e-3)


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("ripple on a direct current", 50.0 + 10.0 * np.sin(ANGLE)),
        ("a drive that turns every second", 50.0 * np.sin(2.0 * np.pi * TIME)),
        ("nothing", 0.0 * TIME),
        ("a single pulse pair", np.where(TIME < 0.5, 10.0, -10.0)),
    ],
)
def test_direct_currents_are_left_alone(name, values):
    del name
    assert checked(TIME, values) is None
