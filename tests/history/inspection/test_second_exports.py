"""Sixteen real exports: each read right, or refused with what to export.

Rows are counted in the files line by line, spans are from their first and last rows, signs from the direction of the
voltage in them. What flows in them is compared with pandas in tests/endtoend/test_suggested_studies.py.
"""

from pathlib import Path

import pytest

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

FOLDER = Path(__file__).parents[4] / "shared" / "data" / "messy_exports_2"
pytestmark = pytest.mark.skipif(not FOLDER.is_dir(), reason="the shared measured data are not here")

# file, rows, span [s], sign of discharge, columns of time, current, voltage and temperature
READ = [
    ("cyc_maccor_trunc.034", 4061, 82_621.28, "negative", ("Test (Sec)", "Amps", "Volts", None)),
    ("cyc_arbin_tc.csv", 287, 1_022.8913, "negative", ("Test_Time", "Current", "Voltage", "Temperature")),
    ("cyc_biologic_mb.csv", 9_999, 102_040.77, "negative", ("time/s", "I/mA", "Ecell/V", None)),
    (
        "cyc_neware_nova.csv",
        3_942,
        17.434575 * 3600.0,
        None,
        ("Run Time (h)", "Current (A)", "Potential (V)", "Temperature (°C)"),
    ),
    (
        "cyc_novonix.csv",
        207,
        3.4131889 * 3600.0,
        "negative",
        ("Run Time (h)", "Current (A)", "Potential (V)", "Temperature (°C)"),
    ),
    ("cyc_basytec.txt", 74, 70.2358036666668, "negative", ("~Time[s]", "I[A]", "U[V]", None)),
    (
        "cyc_biologic_ca1.txt",
        1_397,
        139.5240066270344,
        "negative",
        ("time/s", "I/mA", "Ecell/V", "Temperature/\ufffdC"),
    ),
    (
        "cyc_crate1.csv",
        7_148,
        121_581 - 114_434,
        "positive",
        ("Time [s]", "Current [A]", "Voltage [V]", "TempBottom [C]"),
    ),
]


@pytest.mark.parametrize(("file", "rows", "span_s", "sign", "columns"), READ, ids=[row[0] for row in READ])
def test_read_right(file, rows, span_s, sign, columns):
    report = describe_file(FOLDER / file)
    roles = {one.role: one.column for one in report.suggestions}
    assert not [one for one in report.findings if one.severity == "error"]
    assert report.rows == rows
    assert report.time.span == pytest.approx(span_s, rel=3e-4)
    assert (None if report.sign is None else report.sign.sign) == sign
    assert tuple(roles.get(role) for role in ("time", "current", "voltage", "temperature")) == columns


# file, what is said, what to do about it
REFUSED = [
    ("can_candump.log", "raw frames of a vehicle bus", "data base to signals"),
    ("can_outlander.csv", "raw frames of a vehicle bus", "data base to signals"),
    ("cyc_digatron_c20.csv", "no column of numbers looks like current, power or speed", "export one with the samples"),
    ("json_structure.json", "JSON document", "Export it as CSV"),
    ("veh_openxc_trace.json", "each line has one signal", "Export it as CSV"),
    ("osc_rigol_ds1204b.csv", "no column of numbers looks like current, power or speed", "export one with the samples"),
    ("osc_rs_rtp05.csv", "no column looks like time", "export one with the samples"),
]


@pytest.mark.parametrize(("file", "said", "remedy"), REFUSED, ids=[row[0] for row in REFUSED])
def test_refused_with_what_to_export(file, said, remedy):
    try:
        report = describe_file(FOLDER / file)
    except HistoryError as refused:
        assert said in refused.problem  # noqa: PT017 - some are refused at once, some after a look at them
        assert remedy in refused.remedy  # noqa: PT017
        return
    errors = [one for one in report.findings if one.severity == "error"]
    assert report.study_entry is None
    assert any(said in one.message and remedy in one.remedy for one in errors)


def test_a_frame_in_blocks_is_read_by_the_names_of_its_items():
    """Time, current and voltage are the first, third and seventh of its second block."""
    frame = "time_series_data"
    spec = HistoryInput(
        file=str(FOLDER / "h5_indigo.h5"),
        time=f"{frame}/time_s",
        current=f"{frame}/cell_current_a",
        current_unit="A",
        voltage=f"{frame}/cell_voltage_v",
        voltage_unit="V",
        discharge_is="negative",
        clean=["bridge_gaps"],
    )
    history = open_history(spec, Path())
    assert history.samples == 20_000
    assert history.duration_s == pytest.approx(504_899.96875 - 31.532018661499023)
    current = [block.current_A for block in history.blocks()]
    # -205.4 and 50.0 A in the file, whose discharge is negative.
    assert max(float(one.max()) for one in current) == pytest.approx(205.41668701171875)
    assert min(float(one.min()) for one in current) == pytest.approx(-50.015438079833984)
