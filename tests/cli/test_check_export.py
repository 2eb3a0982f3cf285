"""``check --export``: what was understood and cleaned, as Parquet; the file read back gives the same history."""

from pathlib import Path

import pyarrow.parquet as pq
import pytest

from lifetime.cli.file_check import CheckRequest, check_and_print
from lifetime.cli.terminal import console
from lifetime.errors import HistoryError, InputError
from lifetime.history.inspection.file_report import describe_file

LOG = "t [min];I_bat [mA];U_bat [V];T_bat [°C]\n" + "".join(
    f"{k};{-20000 - 10000 * (k % 2)};{360 - 0.1 * (20 + 10 * (k % 2))};{25 + k % 3}\n" for k in range(60)
)


@pytest.fixture
def export(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def _export(text, *clean, target="out.parquet", write=None):
        Path("log.csv").write_text(text, encoding="utf-8")
        request = CheckRequest(
            file="log.csv",
            as_json=True,
            plot=None,
            write=write,
            export=Path(target),
            clean=clean,
            header_row=None,
            decimal=None,
            sheet=None,
            bus_database=None,
        )
        check_and_print(request, console())
        return pq.read_table(target).to_pydict()

    return _export


def test_units_sign_and_names(export, capsys):
    """By hand: minutes become seconds, -20,000 mA with negative discharge 20 A, 25 °C 298.15 K."""
    columns = export(LOG)
    assert list(columns) == ["time_s", "current_A", "voltage_V", "temperature_K"]
    assert columns["time_s"][:3] == [0.0, 60.0, 120.0]
    assert columns["current_A"][:2] == [20.0, 30.0]
    assert columns["temperature_K"][0] == 298.15
    assert "Wrote out.parquet with 60 rows; positive while the source discharges." in capsys.readouterr().err


def test_what_is_exported_needs_no_converter(export):
    """Looked at again, every column is understood without a question."""
    export(LOG)
    report = describe_file("out.parquet")
    assert report.study_keys == {
        "file": "out.parquet",
        "time": "time_s",
        "current": "current_A",
        "voltage": "voltage_V",
        "temperature": "temperature_K",
        "discharge_is": "positive",
    }


def test_rows_are_cleaned_as_asked(export):
    with pytest.raises(HistoryError, match="where a finite number was expected"):
        export(LOG.replace("\n7;-30000", "\n7;bad"))
    assert not Path("out.parquet").exists()
    assert len(export(LOG.replace("\n7;-30000", "\n7;bad"), "drop_bad_rows")["time_s"]) == 59


def test_what_only_a_person_knows_is_not_guessed(export, capsys):
    with pytest.raises(HistoryError, match="only you know current_unit"):
        export(LOG.replace("I_bat [mA]", "current"))
    columns = export("t [s],I [A],temperature\n0,1,20\n1,2,21\n2,3,22\n")
    assert list(columns) == ["time_s", "current_A"]
    said = capsys.readouterr().err
    assert "without temperature, whose unit is not known" in said
    assert "with the sign of the file" in said


def test_the_study_is_cleaned_alike(export):
    export(LOG, "drop_bad_rows", write=Path("study.toml"))
    assert 'clean = ["drop_bad_rows"]' in Path("study.toml").read_text(encoding="utf-8")


def test_bad_requests(export):
    with pytest.raises(InputError, match="this is the file itself"):
        export(LOG, target="log.csv")
    with pytest.raises(InputError, match="there is no such step"):
        export(LOG, "polish")
