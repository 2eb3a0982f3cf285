"""Real driving trips: Latin-1, semicolons, CRLF, negative discharge, trailing rows with an empty state of charge.

M. Steinstraeter, J. Buberger, D. Trifonov, Battery and Heating Data in Real Driving Cycles, IEEE DataPort, 2020.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

TRIPS = Path(__file__).parents[3] / "shared" / "data" / "ev_trips_bmw_i3"
pytestmark = pytest.mark.skipif(not TRIPS.is_dir(), reason="the open data set is not beside the repository")
NAMES = ["TripA01.csv", "TripA04.csv", "TripB13.csv", "TripB26.csv"]
COLUMNS = {
    "time": "Time [s]",
    "current": "Battery Current [A]",
    "voltage": "Battery Voltage [V]",
    "temperature": "Battery Temperature [°C]",
    "discharge_is": "negative",
}


def independently(name, column):
    """A column as the standard library reads it."""
    with (TRIPS / name).open(encoding="latin-1", newline="") as file:
        rows = list(csv.reader(file, delimiter=";"))
    header = [title.strip() for title in rows[0]]
    return [row[header.index(column)] for row in rows[1:]]


@pytest.mark.parametrize("name", NAMES)
def test_trips_open_without_cleaning(name):
    history = open_history(HistoryInput(file=name, **COLUMNS), TRIPS)
    current = np.array([float(text) for text in independently(name, COLUMNS["current"])])
    temperature = np.array([float(text) for text in independently(name, COLUMNS["temperature"])])
    block = next(history.blocks())
    assert history.samples == current.size
    assert np.array_equal(block.current_A, -current + 0.0)
    assert np.array_equal(block.temperature_K, temperature + 273.15)
    assert history.record.median_step_s == pytest.approx(0.1)  # 10 Hz, as the data set's description says
    assert history.record.steps == ()
    assert "latin1_encoding" in {notice.code for notice in history.notices}


@pytest.mark.parametrize("name", ["TripB13.csv", "TripB26.csv"])
def test_rows_with_an_empty_state_of_charge_matter_only_when_asked_for(name):
    texts = independently(name, "SoC [%]")
    empty = [number for number, text in enumerate(texts, start=2) if text == ""]
    assert empty
    # The state of charge serves here as any channel with missing values would; its unit is of no matter.
    report = describe_file(TRIPS / name)
    column = next(column for column in report.columns if column.name == "SoC [%]")
    assert (column.missing, column.first_missing_row) == (len(empty), empty[0])


@pytest.mark.parametrize("name", NAMES)
def test_the_sign_shows_in_voltage_and_state_of_charge(name):
    sign = describe_file(TRIPS / name).sign
    assert (sign.agree, sign.sign) == (True, "negative")  # as the data set's description says


def test_other_real_exports_give_a_report_or_one_clear_sentence():
    folders = ("messy_exports", "ev_trips_nissan_leaf", "cell_nissan_leaf_bitrode", "edlc_discharge", "drive_cycles")
    for folder in folders:
        for path in sorted((TRIPS.parent / folder).iterdir()):
            try:
                assert describe_file(path).columns
            except HistoryError as error:
                assert error.remedy  # noqa: PT017 - either outcome is right, a crash is not
