"""Modes known by their content: short columns of C, D and R, whole words, gear levers told apart."""

from pathlib import Path

import pytest

from lifetime.history.inspection.file_report import describe_file
from lifetime.history.mapping.mode_words import ModeMeaning, WordCollector
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

DATA = Path(__file__).parents[4] / "shared/data"


def unsigned_log(name="Md", words=("D", "R", "C"), *, mode=True):
    """An invented cell of 3600 As: 100 s at 3 A out, 100 s rest, 100 s at 3 A in; the current has no sign."""
    header = ["t [s]", "I [A]", "U [V]", *([name] if mode else [])]
    lines = [",".join(header)]
    volts = 3.7
    for second in range(301):
        word = words[min(second // 100, 2)]
        amps = 0.0 if word == words[1] else 3.0
        volts += {words[0]: -0.001, words[1]: 0.0, words[2]: 0.001}[word]
        lines.append(",".join([f"{second}", f"{amps}", f"{volts:.4f}", *([word] if mode else [])]))
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("name", ["Md", "MD", "State", "Betriebsart"])
def test_an_unsigned_current_takes_its_direction_from_a_short_column(write, name):
    report = describe_file(write(unsigned_log(name)))
    assert report.study_keys["mode"] == name
    assert (report.study_keys["charge_modes"], report.study_keys["discharge_modes"]) == (["C"], ["D"])
    assert report.study_keys["rest_modes"] == ["R"]
    assert "discharge_is" not in report.study_keys
    assert not any("never changes sign" in finding.message for finding in report.findings)
    path = write(unsigned_log(name))
    history = open_history(HistoryInput(**{**report.study_keys, "file": path.name}), path.parent)
    currents = [amps for block in history.blocks() for amps in block.current_A.tolist()]
    # 100 rows at 3 A out and 101 at 3 A in, as written.
    assert (currents.count(3.0), currents.count(-3.0)) == (100, 101)


@pytest.mark.parametrize(("header", "sign"), [("P [W]", ""), ("I [A]", "-")])
def test_a_power_or_a_current_of_one_sign_takes_its_direction_from_the_mode(write, header, sign):
    content = unsigned_log().replace("I [A]", header).replace(",3.0,", f",{sign}3.0,")
    keys = describe_file(write(content)).study_keys
    assert (keys["mode"], keys["charge_modes"], keys["discharge_modes"]) == ("Md", ["C"], ["D"])


def test_words_that_come_late_in_a_log_are_in_the_suggested_entry(write):
    rows = ["t [s],I [A],U [V],Md"]
    rows += [f"{k},0,3.7,R" for k in range(70_000)]  # more than a block of rows at rest
    rows += [f"{70_000 + k},3,3.6,D" for k in range(50)]
    rows += [f"{70_050 + k},3,3.8,C" for k in range(50)]
    rows += [f"{70_100 + k},0,3.7,R" for k in range(2000)]
    keys = describe_file(write("\n".join(rows) + "\n")).study_keys
    assert (keys["charge_modes"], keys["discharge_modes"], keys["rest_modes"]) == (["C"], ["D"], ["R"])


def test_a_current_that_never_changes_sign_while_the_voltage_does_is_warned_of(write):
    report = describe_file(write(unsigned_log(mode=False)))
    warnings = [finding for finding in report.findings if "never changes sign" in finding.message]
    assert [(finding.severity, finding.place) for finding in warnings] == [("warning", 'column "I [A]"')]
    assert report.study_keys["discharge_is"] == "?"


@pytest.mark.parametrize("recovers", [0.0, 0.1])
def test_a_discharge_with_rests_is_not_called_unsigned(write, recovers):
    """The voltage recovers while nothing flows, and a little under a lower load; that is no charge."""
    lines = ["t [s],I [A],U [V]"]
    volts = 4.0
    for second in range(1200):
        amps = (3.0, 0.5, 0.0)[second // 100 % 3]
        volts += {3.0: -0.002, 0.5: 0.002 * recovers, 0.0: 0.0005}[amps]
        lines.append(f"{second},{amps},{volts:.5f}")
    report = describe_file(write("\n".join(lines) + "\n"))
    assert not any("never changes sign" in finding.message for finding in report.findings)


@pytest.mark.parametrize(
    ("words", "is_mode"),
    [
        ({"C", "D", "R"}, True),
        ({"CHRG", "DCHG", "REST"}, True),
        ({"CC Chg", "CC DChg", "Rest"}, True),
        ({"P", "R", "N", "D"}, False),  # a gear lever
        ({"P", "R", "D"}, False),
        ({"D", "R"}, False),  # without a name it may be a gear or a mode
        ({"DCHG", "REST"}, True),
        ({"C", "V"}, False),
        ({"dry", "rain"}, False),
        ({""}, False),
    ],
)
def test_modes_by_their_words_alone(words, is_mode):
    assert ModeMeaning.of_words(words).is_mode_whatever_its_name is is_mode


def test_free_text_is_given_up_and_keeps_no_memory():
    collector = WordCollector()
    collector.numbers([f"remark {number}" for number in range(1000)])
    assert collector.words == set()


@pytest.mark.parametrize(
    ("name", "column"),
    [("messy_exports/cycler_maccor_smartbattery.006", "State"), ("messy_exports_2/cyc_maccor_trunc.034", "State")],
)
def test_measured_cycler_files_with_the_direction_in_a_short_column(name, column):
    path = DATA / name
    if not path.exists():
        pytest.skip("the shared measured data are not here")
    mode = next(one for one in describe_file(path).suggestions if one.role == "mode")
    # The cycler's own letters: C charge, D discharge, R rest.
    assert (mode.column, mode.charging, mode.discharging) == (column, ("C",), ("D",))
    assert "R" in mode.resting


def test_a_gear_lever_of_a_measured_drive_is_no_mode():
    path = DATA / "messy_exports/ev_logger_T3_05_25_2021_3.csv"
    if not path.exists():
        pytest.skip("the shared measured data are not here")
    assert "mode" not in {one.role for one in describe_file(path).suggestions}


@pytest.mark.parametrize("with_mode", [True, False])
def test_a_study_that_leaves_the_mode_out_is_warned(write, with_mode):
    path = write(unsigned_log())
    keys = {"file": path.name, "time": "t [s]", "current": "I [A]", "voltage": "U [V]"}
    if with_mode:
        keys |= {"mode": "Md", "charge_modes": ["C"], "discharge_modes": ["D"], "rest_modes": ["R"]}
    history = open_history(HistoryInput(**keys), path.parent)
    assert ("unsigned_current" in {notice.code for notice in history.notices}) != with_mode
