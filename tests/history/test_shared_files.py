"""Every readable file of the shared data gives its right rows, span, unit and sign.

Rows and spans come from the files' own notes (README.md beside them), or are counted here line by line with the
standard library alone; signs and units come from those notes.
"""

from pathlib import Path

import pytest

from lifetime.errors import HistoryError
from lifetime.history.formats.layout import Layout
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

DATA = Path(__file__).parents[3] / "shared" / "data"
pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason="the shared measured data are not here")


def lines(name, before, encoding="latin-1"):
    """Lines of data that hold anything but separators."""
    text = (DATA / name).read_text(encoding=encoding).splitlines()[before:]
    return [line for line in text if line.strip(" ,;\t")]


def number(text, decimal="."):
    return float(text.strip().strip('"').replace(decimal, "."))


# name, lines before the data, separator, place of the time column, decimal mark, sign of discharge or None
TABLES = [
    ("cell_nissan_leaf_bitrode/NissanLeaf-cell-Low-Current-HPPC-25C-2.csv", 1, ",", 1, ".", "negative"),
    ("drive_cycles/bus_18m_urban_1hz.csv", 1, ",", 0, ".", None),
    ("drive_cycles/heavy_truck_long_haul_first2h.csv", 1, ",", 0, ".", None),
    ("drive_cycles/hwfet.csv", 1, ",", 0, ".", None),
    ("drive_cycles/udds.csv", 1, ",", 0, ".", None),
    ("drive_cycles/us06.csv", 1, ",", 0, ".", None),
    ("drive_cycles/wltc_3a.csv", 1, ",", 0, ".", None),
    ("drive_cycles/wltc_3b.csv", 1, ",", 0, ".", None),
    ("ev_trips_bmw_i3/TripA01.csv", 1, ";", 0, ".", "negative"),
    ("ev_trips_bmw_i3/TripA04.csv", 1, ";", 0, ".", "negative"),
    ("ev_trips_bmw_i3/TripB13.csv", 1, ";", 0, ".", "negative"),
    ("ev_trips_bmw_i3/TripB26.csv", 1, ";", 0, ".", "negative"),
    ("messy_exports/cycler_arbin_example.csv", 1, ",", 1, ".", "negative"),
    ("messy_exports/cycler_biologic_decimal_comma_gcpl.mpt", 81, "\t", 7, ",", "negative"),
    ("messy_exports/instrument_semicolon_sections.csv", 20, ";", 1, ".", None),
    ("messy_exports/sim_vehicle_18m_Urban_1Hz_first1500s.vmod", 2, ",", 0, ".", None),
    *(
        (f"edlc_discharge/{name}", 26, ",", 0, ".", None)
        for name in (
            "C_A4_DUT1_V1_EATON_25F_cut.csv",
            "C_A4_DUT1_V1_Kyocera_25F_cut.csv",
            "C_A4_DUT1_V1_Maxwell_25F_cut.csv",
            "C_A4_DUT1_V1_Vishay_25F_cut.csv",
            "C_A4_DUT2_V1_EATON_25F_cut.csv",
            "C_B1_DUT1_V1_EATON_25F_cut.csv",
            "C_B1_DUT1_V1_Kyocera_25F_cut.csv",
            "C_B1_DUT1_V1_Maxwell_25F_cut.csv",
            "C_B1_DUT1_V1_Vishay_25F_cut.csv",
            "C_B1_DUT1_V1_Vishay_50F_cut.csv",
        )
    ),
]


@pytest.mark.parametrize(("name", "before", "separator", "place", "decimal", "sign"), TABLES)
def test_rows_span_and_sign(name, before, separator, place, decimal, sign):
    data = lines(name, before)
    first, last = (number(data[at].split(separator)[place], decimal) for at in (0, -1))
    report = describe_file(DATA / name)
    assert report.rows == len(data)
    assert report.time.span == pytest.approx(last - first, rel=1e-9)
    shown = None if report.sign is None else report.sign.sign
    if sign is not None:
        assert shown == sign


# What the notes say: rows or span in seconds.
@pytest.mark.parametrize(
    ("name", "rows", "span_s"),
    [
        ("drive_cycles/udds.csv", None, 1369.0),
        ("drive_cycles/us06.csv", None, 600.0),
        ("drive_cycles/hwfet.csv", None, 765.0),
        ("drive_cycles/wltc_3a.csv", None, 1800.0),
        ("drive_cycles/wltc_3b.csv", None, 1800.0),
        ("drive_cycles/heavy_truck_long_haul_first2h.csv", 7200, None),
        ("messy_exports/cycler_maccor_example.001", 8, None),
        ("messy_exports/cycler_neware_flat.csv", 9065, None),
        ("messy_exports/cycler_arbin_example.csv", 2142, None),
        ("messy_exports/sim_vehicle_18m_Urban_1Hz_first1500s.vmod", 1500, None),
        ("messy_exports/sim_simulink_ev_wltc_results.mat", 3601, 1800.0),
        ("messy_exports/can_ev_uds_00000170.MF4", 2010, 299.0),
        ("ambient_temperature/phoenix_az_hot_dry.csv", 8760, None),
        ("ambient_temperature/minneapolis_mn_cold.csv", 8760, None),
        ("ambient_temperature/seattle_wa_mild_marine.csv", 8760, None),
    ],
)
def test_what_the_notes_say(name, rows, span_s):
    report = describe_file(DATA / name)
    if rows is not None:
        assert report.rows == rows
    if span_s is not None:
        assert report.time.span == pytest.approx(span_s, abs=0.5)


# A study's line for each kind of file, and what it gives: samples, span [s], largest and smallest current [A].
STUDIES = [
    (
        # 33.1 Ah cell, no header: column 13 says DCHG throughout, the current is about 92 A (3C) in 1 s rows.
        {
            "file": "cell_nissan_leaf_bitrode/3C-Discharge-Bitrode-data.csv",
            "time": "column 2",
            "time_unit": "s",
            "current": "column 9",
            "current_unit": "A",
            "mode": "column 14",
            "charge_modes": ["CHRG"],
            "discharge_modes": ["DCHG"],
            "rest_modes": ["REST"],
            "clean": ["rest_in_gaps"],
        },
        (85.0, 100.0),
    ),
    (
        # 3C discharge of a 3 Ah cell, about 9 A, negative in the file.
        {
            "file": "messy_exports/labview_no_header_bom_3C.csv",
            "time": "column 1",
            "time_unit": "s",
            "current": "column 2",
            "current_unit": "A",
            "voltage": "column 3",
            "voltage_unit": "V",
            "temperature": "column 5",
            "temperature_unit": "°C",
            "discharge_is": "negative",
        },
        (8.5, 9.5),
    ),
    (
        # Positive means discharge; -98 to 131 A.
        {
            "file": "messy_exports/sim_simulink_ev_wltc_results.mat",
            "time": "tws_I_bat_ev.time",
            "time_unit": "s",
            "current": "tws_I_bat_ev.signals.values",
            "current_unit": "A",
            "voltage": "tws_Ubat_ev.signals.values",
            "voltage_unit": "V",
        },
        (130.0, 131.5),
    ),
    (
        # Random currents of 0 to 6 A, positive means discharge.
        {
            "file": "cell_random_load_18650/Exp25_R1.mat",
            "time": "rw_data(1).t",
            "time_unit": "s",
            "current": "rw_data(1).I",
            "current_unit": "A",
            "voltage": "rw_data(1).V",
            "voltage_unit": "V",
            "temperature": "rw_data(1).T",
            "temperature_unit": "°C",
        },
        (0.5, 6.1),
    ),
    (
        # Positive means discharge, one row about every five minutes, 12 September 2022.
        {
            "file": "ev_trips_nissan_leaf/2022_Denver_to_Portland_day1.csv",
            "time": "Date/Time",
            "time_format": "%m/%d/%Y %H:%M:%S",
            "current": "Pack Amps",
            "voltage": "Pack Volts",
            "clean": ["bridge_gaps"],
        },
        (20.0, 150.0),
    ),
    (
        # A laboratory cell below 1 mA with durations up to 144 h.
        {
            "file": "messy_exports/cycler_neware_flat.csv",
            "time": "Cumulative Time",
            "time_format": "duration",
            "current": "Current(A)",
            "voltage": "Voltage(V)",
            "discharge_is": "negative",
        },
        (0.0005, 0.001),
    ),
    (
        # Rows of a smart battery with durations of days; C and D say which way.
        {
            "file": "messy_exports/cycler_maccor_smartbattery.006",
            "time": "TestTime",
            "time_format": "duration",
            "current": "Amps",
            "mode": "State",
            "charge_modes": ["C"],
            "discharge_modes": ["D"],
            "clean": ["bridge_gaps"],
        },
        None,
    ),
    (
        # Key and value lines first; several times in one row, of which the total counts hours.
        {
            "file": "messy_exports/cycler_pec_Test25205.csv",
            "time": "Total Time (Hours in hh:mm:ss.xxx)",
            "time_format": "duration",
            "current": "Current (A)",
            "voltage": "Voltage (V)",
            "clean": ["bridge_gaps"],
        },
        None,
    ),
    (
        # One cell of many, measured current negative while discharging.
        {
            "file": "messy_exports/matlab_struct_B0049.mat",
            "time": "B0049.cycle(3).data.Time",
            "time_unit": "s",
            "current": "B0049.cycle(3).data.Current_measured",
            "current_unit": "A",
            "discharge_is": "negative",
            "clean": ["bridge_gaps"],
        },
        None,
    ),
]


@pytest.mark.parametrize(("keys", "peak_A"), STUDIES, ids=[keys["file"].rsplit("/")[-1] for keys, _ in STUDIES])
def test_a_study_reads_it(keys, peak_A):
    history = open_history(HistoryInput(**keys), DATA)
    largest = max(float(block.current_A.max()) for block in history.blocks())
    assert history.samples >= 2
    if peak_A is not None:
        assert peak_A[0] <= largest <= peak_A[1]
    if "voltage" in keys and "sign_disagrees" in {notice.code for notice in history.notices}:
        raise AssertionError("the voltage contradicts the sign that the notes state")


def test_date_and_time_in_two_columns():
    report = describe_file(DATA / "messy_exports/ev_logger_T3_05_25_2021_3.csv")
    rows = lines("messy_exports/ev_logger_T3_05_25_2021_3.csv", 1)
    clocks = [
        sum(int(part) * unit for part, unit in zip(row.split(",")[1].split(":"), (3600, 60, 1), strict=True))
        for row in (rows[0], rows[-1])
    ]
    assert (report.rows, report.time.span) == (len(rows), clocks[1] - clocks[0])
    assert {suggestion.role for suggestion in report.suggestions} >= {"time", "date"}


def test_a_sheet_of_trips():
    # README: one row a trip; the sheet is no history, and says so.
    report = describe_file(DATA / "ev_trips_bmw_i3/Overview.xlsx")
    assert report.file_format == "Excel"
    assert any("looks like current, power or speed" in finding.message for finding in report.findings)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("messy_exports/cycler_biologic_binary.mpr", "instrument's own binary file"),
        ("messy_exports/cycler_neware_binary.ndax", "zip archive"),
        ("messy_exports/sim_circuit_rectifier_stepped.raw", "Export the waveforms you need as text"),
        ("messy_exports/can_vector_precharge_relay_on.asc", "Decode it with the bus's data base"),
        ("messy_exports/can_gvret_221210-2.csv", "Decode it with the bus's data base"),
        ("messy_exports_2/can_outlander.csv", "Decode it with the bus's data base"),
        ("messy_exports_2/can_candump.log", "Decode it with the bus's data base"),
        ("messy_exports_2/json_structure.json", "JSON lines are read"),
        ("messy_exports_2/veh_openxc_trace.json", "Bring the signals side by side"),
    ],
)
def test_binary_kinds_are_refused_with_what_to_export(name, expected):
    with pytest.raises(HistoryError, match=expected):
        describe_file(DATA / name)


def test_raw_frames_with_their_data_base():
    """The answers of this bus come in several frames, which are not put together here; a sentence says so."""
    layout = Layout(bus_database=DATA / "messy_exports/can_ev_uds.dbc")
    try:
        report = describe_file(DATA / "messy_exports/can_ev_uds_00000170.MF4", layout)
    except HistoryError as error:
        assert "several frames" in str(error)  # noqa: PT017 - either outcome is right
    else:
        assert report.rows > 0


@pytest.mark.parametrize("name", ["Exp25_R1.mat", "Exp25_R2.mat"])
def test_structures_against_the_general_reader(name):
    from scipy.io import loadmat

    raw = loadmat(DATA / "cell_random_load_18650" / name, squeeze_me=True, struct_as_record=True)
    wanted = raw["rw_data"][6]["I"]
    keys = {"time": "rw_data(7).t", "time_unit": "s", "current": "rw_data(7).I", "current_unit": "A"}
    history = open_history(HistoryInput(file=f"cell_random_load_18650/{name}", **keys), DATA)
    assert next(history.blocks()).current_A.tolist() == wanted.tolist()


def test_a_frame_of_three_blocks_in_hdf5():
    """Rows, names and first values as ``h5dump`` and the file's side arrays have them: 20,000 rows in blocks of 5, 1
    and 7 columns; the current is the third item of the last block."""
    h5py = pytest.importorskip("h5py")
    path = DATA / "messy_exports_2" / "h5_indigo.h5"
    with h5py.File(path) as file:
        items = [name.decode() for name in file["time_series_data/block2_items"]]
        wanted = file["time_series_data/block2_values"][:, items.index("cell_current_a")]
    spec = HistoryInput(
        file=path.name,
        time="time_series_data/time_s",
        current="time_series_data/cell_current_a",
        current_unit="A",
        clean=["bridge_gaps"],
    )
    blocks = list(open_history(spec, path.parent).blocks())
    assert sum(block.time_s.size for block in blocks) == 20_000
    assert blocks[0].current_A.tolist() == wanted[: blocks[0].current_A.size].tolist()
