"""MAT, HDF5, Feather, workbooks and MDF, each written by the library that usually writes it; all data made up."""

import datetime as dt
import pickle
import struct
import sys

import h5py
import numpy as np
import openpyxl
import pyarrow as pa
import pytest
from pyarrow import feather, parquet
from scipy.io import savemat

from lifetime.errors import HistoryError, MissingPackageError
from lifetime.history.formats.mdf_reader import held_on
from lifetime.history.inspection.file_report import describe_file

TIME = np.arange(6) * 0.5
CURRENT = np.array([1.5, -2.0, 3.25, 0.0, 7.0, -1e-3])
VOLTAGE = 350.0 - CURRENT
UNITS = {"time_unit": "s", "current_unit": "A"}


def same(values, **expected):
    for name, wanted in expected.items():
        assert values[name].tolist() == wanted.tolist(), name


class TestMat:
    def test_plain_arrays_rows_and_columns(self, tmp_path, read, gather):
        path = tmp_path / "log.mat"
        savemat(path, {"t": TIME.reshape(-1, 1), "i_bat": CURRENT.reshape(1, -1), "note": "hello", "n": 5})
        history = read(path, time="t", current="i_bat", **UNITS)
        same(gather(history), time_s=TIME, current_A=CURRENT)
        assert history.record.file_format == "MAT"

    def test_structures_with_times_and_signals(self, tmp_path, read, gather):
        path = tmp_path / "log.mat"
        savemat(
            path,
            {
                "i_log": {"time": TIME, "signals": {"values": CURRENT, "label": "I"}},
                "u_log": {"time": TIME, "signals": {"values": VOLTAGE}},
                "late": {"time": TIME + 1.0, "signals": {"values": VOLTAGE}},
                "short": {"time": TIME[:3], "signals": {"values": VOLTAGE[:3]}},
            },
        )
        keys = {"time": "i_log.time", "current": "i_log.signals.values", "voltage_unit": "V", **UNITS}
        values = gather(read(path, voltage="u_log.signals.values", **keys))
        same(values, time_s=TIME, current_A=CURRENT, voltage_V=VOLTAGE)
        for other in ("late", "short"):
            with pytest.raises(HistoryError, match="does not run side by side"):
                read(path, voltage=f"{other}.signals.values", **keys)

    def test_arrays_of_structures_and_matrices(self, tmp_path, read, gather):
        path = tmp_path / "log.mat"
        runs = np.empty((2,), dtype=[("t", "O"), ("I", "O")])
        runs["t"] = [TIME[:4], TIME]
        runs["I"] = [CURRENT[:4], CURRENT]
        savemat(path, {"runs": runs, "wide": np.stack([TIME, CURRENT, VOLTAGE], axis=1)})
        same(gather(read(path, time="runs(2).t", current="runs(2).I", **UNITS)), current_A=CURRENT)
        same(gather(read(path, time="wide(:,1)", current="wide(:,2)", **UNITS)), current_A=CURRENT)

    def test_version_4_as_the_format_description_has_it(self, tmp_path, read, gather):
        """Header and numbers put together by hand, in both byte orders (MAT-File Format, appendix on version 4)."""
        for order, kind in (("<", 0), (">", 1000)):
            content = b""
            for name, values in ((b"t\0", (0.0, 1.0, 2.0)), (b"i_bat\0", (5.0, -6.5, 7.0))):
                content += (
                    struct.pack(f"{order}5i", kind, 3, 1, 0, len(name)) + name + struct.pack(f"{order}3d", *values)
                )
            (tmp_path / "old.mat").write_bytes(content)
            history = read(tmp_path / "old.mat", time="t", current="i_bat", **UNITS)
            assert gather(history)["time_s"].tolist() == [0.0, 1.0, 2.0]
            assert gather(history)["current_A"].tolist() == [5.0, -6.5, 7.0]
            assert history.record.file_format == "MAT 4"

    def test_damage_and_nothing_to_read(self, tmp_path, read):
        path = tmp_path / "log.mat"
        savemat(path, {"t": TIME, "i": CURRENT})
        whole = path.read_bytes()
        for cut in range(0, len(whole), 11):
            path.write_bytes(whole[:cut])
            with pytest.raises(HistoryError):
                read(path, time="t", current="i", **UNITS)
        savemat(path, {"note": "hello"})
        with pytest.raises(HistoryError, match="no array of numbers"):
            describe_file(path)

    def test_integers_and_single_precision(self, tmp_path, read, gather):
        path = tmp_path / "log.mat"
        savemat(path, {"t": np.arange(6, dtype=np.uint8), "i": CURRENT.astype(np.float32)})
        assert gather(read(path, time="t", current="i", **UNITS))["current_A"][1] == -2.0
        savemat(path, {"t": (1.7e9 + TIME).astype(np.float32), "i": CURRENT})
        with pytest.raises(HistoryError, match="32-bit floats"):
            read(path, time="t", current="i", **UNITS)


class TestHdf5:
    def test_datasets_in_groups(self, tmp_path, read, gather):
        path = tmp_path / "log.h5"
        with h5py.File(path, "w") as file:
            file["rig/time"] = TIME
            file["rig/current"] = CURRENT
            file["rig/both"] = np.stack([CURRENT, VOLTAGE], axis=1)
            file["table"] = np.array(list(zip(TIME, CURRENT, strict=True)), dtype=[("t_s", "f8"), ("i_A", "f8")])
            file["words"] = ["a", "b"]
        same(gather(read(path, time="rig/time", current="rig/current", **UNITS)), current_A=CURRENT)
        same(gather(read(path, time="rig/time", current="rig/both(:,1)", **UNITS)), current_A=CURRENT)
        same(gather(read(path, time="table.t_s", current="table.i_A")), current_A=CURRENT)

    def test_a_mat_file_of_version_7_3(self, tmp_path, read, gather):
        """As the MATLAB language stores a column, a structure and a structure array in HDF5; layout from memory."""
        path = tmp_path / "log.mat"
        with h5py.File(path, "w", userblock_size=512) as file:
            for name, values in {"t": TIME, "i": CURRENT}.items():
                file[name] = values.reshape(1, -1)
                file[name].attrs["MATLAB_class"] = np.bytes_("double")
            file["s/time"], file["s/values"] = TIME.reshape(1, -1), VOLTAGE.reshape(1, -1)
            file["note"] = np.array([[104, 105]], dtype=np.uint16)
            file["note"].attrs["MATLAB_class"] = np.bytes_("char")
            file["#refs#/b"] = CURRENT.reshape(1, -1)
            file["runs/I"] = np.array([[file["#refs#/b"].ref]], dtype=h5py.ref_dtype)
            file["thing"] = np.zeros((1, 6), dtype=np.uint32)
            file["thing"].attrs["MATLAB_object_decode"] = np.int32(3)
        content = bytearray(path.read_bytes())
        content[:19] = b"MATLAB 7.3 MAT-file"
        path.write_bytes(bytes(content))
        same(gather(read(path, time="t", current="i", **UNITS)), time_s=TIME, current_A=CURRENT)
        same(gather(read(path, time="t", current="runs.I(1)", **UNITS)), current_A=CURRENT)
        report = describe_file(path)
        assert report.file_format == "MAT 7.3"
        assert [column.name for column in report.columns] == ["i", "runs.I(1)", "s.time", "s.values", "t"]
        assert any("objects of a class" in finding.message for finding in report.findings)

    def test_long_ones_come_in_slabs(self, tmp_path, read):
        path = tmp_path / "log.h5"
        with h5py.File(path, "w") as file:
            file["time_s"] = np.arange(300_000.0)
            file["current_A"] = np.arange(300_000) % 7
        assert read(path).samples == 300_000

    @staticmethod
    def fixed_frame(path):
        """A frame in the layout "fixed", attributes as pandas 3.1 with PyTables wrote them."""
        with h5py.File(path, "w") as file:
            group = file.create_group("rig/log")
            group.attrs.update({"pandas_type": np.bytes_("frame"), "nblocks": 3, "ndim": 2})
            group["axis0"] = np.array([b"time_s", b"current_A", b"count", b"voltage_V"])
            group["axis1"] = np.arange(6) * 500_000 + 1_767_225_600_000_000  # microseconds since 1970
            group["axis1"].attrs.update({"kind": np.bytes_("datetime64[us]"), "name": np.bytes_("when")})
            group["block0_items"] = np.array([b"time_s", b"voltage_V"])
            group["block0_values"] = np.stack([TIME, VOLTAGE], axis=1)
            group["block1_items"] = np.array([b"current_A"])
            group["block1_values"] = CURRENT.reshape(-1, 1)
            group["block2_items"] = np.array([b"count"])
            group["block2_values"] = np.arange(6).reshape(1, 6)  # without "transposed", as pandas of before 2012 did
            for name in ("block0_values", "block1_values"):
                group[name].attrs["transposed"] = 1

    def test_a_frame_of_several_blocks_is_joined(self, tmp_path, read, gather):
        path = tmp_path / "log.h5"
        self.fixed_frame(path)
        keys = {"current": "rig/log/current_A", "voltage": "rig/log/voltage_V"}
        same(gather(read(path, time="rig/log/time_s", **keys)), time_s=TIME, current_A=CURRENT, voltage_V=VOLTAGE)
        same(gather(read(path, time="rig/log/when", **keys)), current_A=CURRENT)
        assert read(path, time="rig/log/when", **keys).duration_s == 2.5
        report = describe_file(path)
        counted = next(column for column in report.columns if column.name == "rig/log/count")
        assert (counted.low, counted.high, counted.mean) == (0.0, 5.0, 2.5)
        assert {suggestion.role for suggestion in report.suggestions} == {"time", "current", "voltage"}

    def test_a_frame_as_a_table_with_blocks(self, tmp_path, read, gather):
        """Layout "table" of the same libraries: names of a block are a pickled list, which is never run."""
        path = tmp_path / "log.h5"
        kind = [("index", "i8"), ("values_block_0", "f8", (2,)), ("values_block_1", "i8", (1,)), ("I", "f8")]
        rows = np.zeros(6, dtype=kind)
        rows["values_block_0"], rows["I"] = np.stack([TIME, VOLTAGE], axis=1), CURRENT
        with h5py.File(path, "w") as file:
            file["log/table"], file["log/_i_table/index"] = rows, np.arange(6)
            file["log"].attrs["pandas_type"] = np.bytes_("frame_table")
            names = {"values_block_0_kind": pickle.dumps(["time_s", "voltage_V"], 0)}
            names["values_block_1_kind"] = b"cos\nsystem\n(S'echo'\ntR."
            file["log/table"].attrs.update({name: np.bytes_(text) for name, text in names.items()})
            file["log/table"].attrs["index_kind"] = np.bytes_("integer")
        assert [column.name for column in describe_file(path).columns] == ["log/time_s", "log/voltage_V", "log/I"]
        values = gather(read(path, time="log/time_s", current="log/I", current_unit="A", voltage="log/voltage_V"))
        same(values, time_s=TIME, current_A=CURRENT, voltage_V=VOLTAGE)

    def test_a_frame_cut_or_with_a_block_missing_is_refused(self, tmp_path, read):
        path = tmp_path / "log.h5"
        self.fixed_frame(path)
        whole = path.read_bytes()
        for cut in range(0, len(whole), 211):
            path.write_bytes(whole[:cut])
            with pytest.raises(HistoryError):
                read(path, time="rig/log/time_s", current="rig/log/current_A")
        path.write_bytes(whole)
        with h5py.File(path, "a") as file:
            file["rig/log"].attrs["nblocks"] = 4
        with pytest.raises(HistoryError, match="cut or damaged"):
            describe_file(path)

    def test_damage(self, tmp_path, read):
        path = tmp_path / "log.h5"
        with h5py.File(path, "w") as file:
            file["time_s"], file["current_A"] = TIME, CURRENT
        whole = path.read_bytes()
        for cut in range(0, len(whole), 101):
            path.write_bytes(whole[:cut])
            with pytest.raises(HistoryError):
                read(path)


class TestFeather:
    def test_numbers_text_and_times(self, tmp_path, read, gather):
        path = tmp_path / "log.feather"
        stamps = [f"2026-01-01T00:00:0{k}" for k in range(6)]
        table = pa.table(
            {
                "time_s": TIME,
                "current_A": CURRENT,
                "stamp": stamps,
                "when": pa.array((TIME * 1000).astype(int), pa.timestamp("ms")),
            }
        )
        for compression in ("zstd", "lz4", "uncompressed"):
            feather.write_feather(table, path, compression=compression)
            same(gather(read(path)), time_s=TIME, current_A=CURRENT)
            assert read(path, time="stamp", time_format="iso").duration_s == 5.0
            assert read(path, time="when").duration_s == 2.5

    def test_damage(self, tmp_path, read):
        path = tmp_path / "log.feather"
        feather.write_feather(pa.table({"time_s": TIME, "current_A": CURRENT}), path, compression="uncompressed")
        whole = path.read_bytes()
        for cut in range(0, len(whole), 13):
            path.write_bytes(whole[:cut])
            with pytest.raises(HistoryError):
                read(path)


class TestWorkbooks:
    @pytest.fixture
    def book(self, tmp_path):
        path = tmp_path / "log.xlsx"
        book = openpyxl.Workbook()
        first = book.active
        first.title = "Notes"
        first.append(["nothing", "here"])
        data = book.create_sheet("Data")
        data.append(["Rig 7", None, None])
        data.append([])
        data.append(["When", "Time", "Current"])
        data.append([None, "s", "A"])
        start = dt.datetime(2026, 1, 1, 12, 0, 0)  # noqa: DTZ001 - a workbook knows no zones
        for t, i in zip(TIME, CURRENT, strict=True):
            data.append([start + dt.timedelta(seconds=float(t)), float(t), float(i)])
        book.save(path)
        return path

    def test_sheet_preamble_units_row_and_times(self, book, read, gather):
        keys = {"current": "Current [A]", "sheet": "Data"}
        history = read(book, time="Time [s]", **keys)
        same(gather(history), time_s=TIME, current_A=CURRENT)
        assert history.record.details == 'sheet "Data", header in row 3'
        assert read(book, time="When", **keys).duration_s == 2.5

    def test_messages(self, book, read):
        with pytest.raises(HistoryError, match="has no table of numbers"):
            read(book)
        with pytest.raises(HistoryError, match="It has Notes, Data"):
            read(book, sheet="Date")

    def test_damage(self, book, read):
        whole = book.read_bytes()
        for cut in range(0, len(whole), 211):
            book.write_bytes(whole[:cut])
            with pytest.raises(HistoryError):
                read(book, time="Time [s]", current="Current [A]", sheet="Data")


class TestMdf:
    @pytest.fixture
    def recording(self, tmp_path):
        from asammdf import MDF, Signal

        path = tmp_path / "log.mf4"
        with MDF() as mdf:
            mdf.append(
                [
                    Signal(CURRENT, TIME, name="I_bat", unit="A"),
                    Signal(VOLTAGE, TIME, name="U_bat", unit="V"),
                ]
            )
            mdf.append([Signal(np.array([40.0, 41.0]), np.array([1.0, 2.0]), name="T_bat", unit="degC")])
            mdf.save(path, overwrite=True)
        return path

    def test_channels_of_one_raster(self, recording, read, gather):
        values = gather(read(recording, time="time [s]", current="I_bat [A]", voltage="U_bat [V]"))
        same(values, time_s=TIME, current_A=CURRENT, voltage_V=VOLTAGE)

    def test_C49_a_channel_that_starts_late_is_not_held_backwards(self, recording, read, gather):
        keys = {"time": "time [s]", "current": "I_bat [A]", "temperature": "T_bat [degC]"}
        with pytest.raises(HistoryError, match="is empty") as caught:
            read(recording, **keys)
        assert caught.value.row == 2
        values = gather(read(recording, clean=["drop_bad_rows"], **keys))
        assert values["time_s"].tolist() == [1.0, 1.5, 2.0, 2.5]
        assert values["temperature_K"] == pytest.approx([313.15, 313.15, 314.15, 314.15])

    @pytest.mark.parametrize("order", [("fast", "slow", "long"), ("long", "slow", "fast"), ("slow", "long", "fast")])
    def test_the_span_is_that_of_the_columns_used(self, tmp_path, read, gather, order):
        """Three groups with rates and spans of their own. Worked out by hand: 10 A every 10 ms from 2 s to 12 s are
        100 As; temperatures come every second from 1 s to 8 s, so that from 9 s on none is known."""
        from asammdf import MDF, Signal

        fast, slow, long = 2.0 + np.arange(1001) / 100.0, np.arange(1.0, 9.0), np.arange(200) / 10.0
        groups = {
            "fast": Signal(np.full(1001, 10.0), fast, name="I_bat", unit="A"),
            "slow": Signal(20.0 + slow, slow, name="T_bat", unit="degC"),
            "long": Signal(np.full(200, 350.0), long, name="U_bat", unit="V"),
        }
        path = tmp_path / "log.mf4"
        with MDF() as mdf:
            for name in order:
                mdf.append([groups[name]])
            mdf.save(path, overwrite=True)
        keys = {"time": "time [s]", "current": "I_bat [A]", "voltage": "U_bat [V]"}
        history = read(path, **keys)
        assert (history.samples, round(history.duration_s, 9)) == (1001, 10.0)
        values = gather(history)
        assert np.trapezoid(values["current_A"], values["time_s"]) == pytest.approx(100.0)
        with pytest.raises(HistoryError, match="is empty") as caught:
            read(path, temperature="T_bat [degC]", **keys)
        assert caught.value.row == 2 + 701  # 9.01 s, the header being row 1
        with_temperature = read(path, temperature="T_bat [degC]", clean=["drop_bad_rows"], **keys)
        assert round(with_temperature.duration_s, 9) == 7.0
        assert gather(with_temperature)["temperature_K"][[0, -1]] == pytest.approx([295.15, 301.15])
        report = describe_file(path)
        assert (report.rows, round(report.time.span, 9)) == (1001, 10.0)

    def test_cut_files_are_refused_or_whole(self, recording, read):
        whole = recording.read_bytes()
        for cut in range(0, len(whole), 257):
            recording.write_bytes(whole[:cut])
            with pytest.raises(HistoryError):
                read(recording, time="time [s]", current="I_bat [A]")

    def test_a_data_base_that_is_not_there(self, recording, read):
        with pytest.raises(HistoryError, match=r"none\.dbc does not exist"):
            read(recording, time="time [s]", current="I_bat [A]", bus_database="none.dbc")


def test_C50_rasters_that_differ_in_the_last_digit():
    # Running sums of 0.05 against multiples of 0.05: 12 of 20 differ in the last digit (IEEE 754).
    summed = np.cumsum(np.full(20, 0.05)) - 0.05
    assert held_on(np.arange(20) * 0.05, summed, np.arange(20.0)).tolist() == list(range(20))


@pytest.mark.parametrize(
    ("name", "package", "content"),
    [
        ("a.h5", "h5py", b"\x89HDF\r\n\x1a\n" + bytes(64)),
        ("a.mf4", "asammdf", b"MDF     4.10    " + bytes(64)),
        ("a.zst", "zstandard", b"\x28\xb5\x2f\xfd" + bytes(64)),
    ],
)
def test_a_package_that_is_not_installed(tmp_path, monkeypatch, name, package, content):
    monkeypatch.setitem(sys.modules, package, None)
    (tmp_path / name).write_bytes(content)
    with pytest.raises(MissingPackageError, match=r"pip install 'packwear\[formats\]'") as caught:
        describe_file(tmp_path / name)
    assert str(caught.value).count("\n") == 0


def test_workbooks_need_their_package(tmp_path, monkeypatch):
    path = tmp_path / "a.xlsx"
    openpyxl.Workbook().save(path)
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    with pytest.raises(MissingPackageError, match="openpyxl"):
        describe_file(path)


def test_times_stored_as_times_in_parquet(tmp_path, read):
    for kind, step in (("s", 1), ("ms", 1000), ("us", 10**6), ("ns", 10**9)):
        when = pa.array([k * step for k in range(4)], pa.timestamp(kind))
        parquet.write_table(pa.table({"when": when, "current_A": [1.0, 2.0, 3.0, 4.0]}), tmp_path / "log.parquet")
        assert read(tmp_path / "log.parquet", time="when").duration_s == 3.0
