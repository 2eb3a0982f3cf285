"""Every format that the command line reads: the service gives the same assessment and says the same of the file."""

import gzip
import io
import json
import tomllib

import h5py
import numpy as np
import openpyxl
import pyarrow as pa
import pytest
import zstandard
from asammdf import MDF, Signal
from pyarrow import feather, parquet
from scipy.io import savemat

from lifetime.assessment.fingerprint import fingerprint
from lifetime.errors import HistoryError
from lifetime.history.formats.layout import AS_FOUND
from lifetime.history.formats.registry import reader_for
from lifetime.history.inspection.file_report import describe_reader
from lifetime.study.load import load_study
from webapi.services import histories, studies
from webapi.settings import UploadLimits
from webapi.store import intake
from webapi.store.files import stored_reader

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
API = "/api/v1"
TIME = np.arange(600.0)
CURRENT = np.round(20.0 * np.sin(TIME / 40.0) + 5.0, 4)  # workbooks keep sixteen digits
VOLTAGE = np.round(360.0 - 0.1 * CURRENT, 5)
COLUMNS = {"time_s": TIME, "current_A": CURRENT, "voltage_V": VOLTAGE}
SLOW = slice(None, None, 10)
STUDY = """title = "Formats"
[service]
years = 5
working_days_per_year = 200
ambient_C = 20
[battery]
cell = "lfp_naumann_2020"
series = 110
parallel = 20
start_soc = 0.8
[battery.price]
purchase = 1000
[cost]
currency = "EUR"
discount_rate = 0.05
[[strategy]]
name = "a"
battery = {{ file = "{file}", time = "{time}", current = "current_A", voltage = "voltage_V" }}
"""


def text(columns=COLUMNS):
    rows = zip(*(one.tolist() for one in columns.values()), strict=True)
    return "\n".join([",".join(columns), *(",".join(map(str, row)) for row in rows)]).encode() + b"\n"


def arrow(write):
    target = io.BytesIO()
    write(pa.table(COLUMNS), target)
    return target.getvalue()


def json_lines():
    rows = zip(*(one.tolist() for one in COLUMNS.values()), strict=True)
    return b"".join(json.dumps(dict(zip(COLUMNS, row, strict=True))).encode() + b"\n" for row in rows)


def mat(columns=COLUMNS, **options):
    target = io.BytesIO()
    savemat(target, columns, **options)
    return target.getvalue()


def hdf5(*, matlab):
    target = io.BytesIO()
    with h5py.File(target, "w", userblock_size=512 if matlab else 0) as file:
        for name, values in COLUMNS.items():
            file[name] = values.reshape(1, -1) if matlab else values
            file[name].attrs["MATLAB_class"] = np.bytes_("double")
        file["slow/t"], file["slow/x"], file["slow/note"] = TIME[SLOW], CURRENT[SLOW].astype("f4"), [b"on"] * 60
    content = target.getvalue()
    return b"MATLAB 7.3 MAT-file" + content[19:] if matlab else content


def workbook(name="Log"):
    book = openpyxl.Workbook()
    book.active.append(["nothing"])
    sheet = book.create_sheet(name, 0)
    for row in [tuple(COLUMNS), *zip(*(one.tolist() for one in COLUMNS.values()), strict=True)]:
        sheet.append(row)
    target = io.BytesIO()
    book.save(target)
    return target.getvalue()


def mdf(folder):
    """Three rasters; what is slow is held on the times of what is fast, and the other way round."""
    with MDF() as made:
        made.append([Signal(CURRENT, TIME, "", "current_A"), Signal(VOLTAGE, TIME, "", "voltage_V")])
        made.append([Signal(20.0 + TIME[SLOW] / 100.0, TIME[SLOW], "degC", "T")])
        made.append([Signal(TIME[7::13] % 5.0, TIME[7::13] + 0.5, "km/h", "v")])
        return made.save(folder / "made.mf4").read_bytes()


FORMATS = {
    "log.csv": lambda _: text(),
    "log.csv.gz": lambda _: gzip.compress(text()),
    "log.csv.zst": lambda _: zstandard.compress(text()),
    "log.parquet": lambda _: arrow(parquet.write_table),
    "log.feather": lambda _: arrow(feather.write_feather),
    "log.jsonl": lambda _: json_lines(),
    "old.mat": lambda _: mat(format="4"),
    "log.mat": lambda _: mat({**COLUMNS, "short": {"t": TIME[:50], "x": CURRENT[:50]}}),
    "new.mat": lambda _: hdf5(matlab=True),
    "log.h5": lambda _: hdf5(matlab=False),
    "log.xlsx": lambda _: workbook(),
    "log.mf4": mdf,
}


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("formats")
    for name, content in FORMATS.items():
        (folder / name).write_bytes(content(folder))
    return folder


def study(name, file):
    return STUDY.format(file=file, time="time [s]" if name.endswith(".mf4") else "time_s")


def loaded_here(made, name):
    path = made / f"{name}.toml"
    path.write_text(study(name, name), encoding="utf-8")
    return load_study(path)


def test_the_same_data_in_any_format_is_the_same_assessment(session, store, made):
    """One fingerprint for all formats, at the command line and in the service; it hashes the numbers read."""
    ids = {}
    for name in FORMATS:
        ids[name, "here"] = fingerprint(loaded_here(made, name))
        row, new = histories.add_upload(session, store, made / name, name, UploadLimits())
        assert new
        document = tomllib.loads(study(name, row.id))
        ids[name, "service"] = fingerprint(studies.check(session, store, document))
    assert len(set(ids.values())) == 1, ids


@pytest.mark.parametrize("name", FORMATS)
def test_the_store_says_what_check_says(database_url, made, tmp_path, name):
    """Suggestions, evidence, sign and findings, from the stored Parquet and from the file itself."""
    intake.take_in(made / name, tmp_path / "stored", name, UploadLimits())
    stored = stored_reader(tmp_path / "stored", name)
    itself = reader_for(made / name, name, AS_FOUND)
    report = describe_reader(itself, name)
    assert describe_reader(stored, name) == report
    assert report.sign is not None
    assert report.sign.by_voltage == "positive"
    for position in range(len(itself.columns)):
        assert stored.together(position) == itself.together(position)
        if position not in itself.number_columns():
            assert stored.text_sample(position) == itself.text_sample(position)
        assert stored.field(3, position) == itself.field(3, position)


@pytest.mark.parametrize(
    ("last", "kept"), [(b"3,4,on", True), (b"3", False), (b"3,4,on\n", None)], ids=["whole", "cut", "ended"]
)
def test_a_text_whose_last_row_has_no_end(database_url, tmp_path, last, kept):
    """A whole row is kept and may be left out; a cut one is refused as in the file itself, unless it is left out."""
    path = tmp_path / "log.csv"
    path.write_bytes(b"Rig 7\n\nt_s,i_A,note\n1,2,\n\n2,3, off \n" + last)
    intake.take_in(path, tmp_path / "stored", "log.csv", UploadLimits())
    stored, itself = stored_reader(tmp_path / "stored", "log.csv"), reader_for(path, "log.csv")
    assert (stored.unfinished, stored.notices) == (itself.unfinished, itself.notices)
    assert (stored.header.cut and stored.header.cut.kept) == kept
    notes = [row[2] for row in stored.head(5)]
    assert notes == (["", "off", "on"] if kept is not False else ["", "off"])
    times = [
        np.concatenate([one.values[0] for one in file.chunks([0], drop_unfinished=True)]) for file in (stored, itself)
    ]
    assert times[0].tolist() == times[1].tolist() == ([1.0, 2.0] if kept is not None else [1.0, 2.0, 3.0])
    faults = [_fault(file) for file in (stored, itself)]
    assert faults[0] == faults[1]
    assert (faults[0] is None) == (kept is not False)


def _fault(file):
    try:
        list(file.chunks([0]))
    except HistoryError as error:
        return error.problem, error.row, error.remedy
    return None


@pytest.mark.parametrize("along", ["current_A", "T [degC]", "v [km/h]"])
def test_rasters_are_held_on_one_another_as_in_the_file(database_url, made, tmp_path, along):
    intake.take_in(made / "log.mf4", tmp_path / "stored", "log.mf4", UploadLimits())
    stored = stored_reader(tmp_path / "stored", "log.mf4")
    itself = reader_for(made / "log.mf4", "log.mf4")
    first = itself.columns.index(along)
    wanted = [0, first, *(at for at in range(1, len(itself.columns)) if at != first)]
    (kept,), (read,) = list(stored.chunks(wanted)), list(itself.chunks(wanted))
    assert np.array_equal(kept.rows, read.rows)
    for mine, theirs in zip(kept.values, read.values, strict=True):
        assert np.array_equal(mine, theirs, equal_nan=True)


def test_the_page_of_an_upload_with_two_tables(client, made):
    """It shows the evidence for the sign and an entry to paste; columns of two tables are not drawn together."""
    content = (made / "log.h5").read_bytes()
    key = client.post(f"{API}/histories?name=log.h5", data=content).json["id"]
    answer = client.get(f"/histories/{key}/trace.json?x=time_s&y=slow/x")
    assert answer.status_code == 422
    assert "side by side" in answer.text
    row = client.get(f"{API}/histories/{key}").json
    rows = client.get(f"{API}/histories/{key}/preview").json["rows"]
    second = dict(zip([one["name"] for one in row["columns"]], rows[1], strict=True))
    assert (second["time_s"], second["slow/t"], second["slow/note"]) == ("1.0", "10.0", "on")
    assert row["rows"] == 600
    page = client.get(f"/histories/{key}").text
    assert row["report"]["sign"]["message"] in page
    assert f"battery = {{ file = &#34;{key}&#34;, time = &#34;time_s&#34;" in page


def test_a_sheet_is_stated_with_the_upload(client, session, store, tmp_path):
    """The same content with another statement is another history; one that fits nothing is refused."""
    content = workbook("Other")
    path = tmp_path / "two.xlsx"
    path.write_bytes(content)
    first, _ = histories.add_upload(session, store, path, "two.xlsx", UploadLimits())
    stated = histories.stated_layout({"sheet": "Other"})
    other, new = histories.add_upload(session, store, path, "two.xlsx", UploadLimits(), layout=stated)
    again = client.post(f"{API}/histories?sheet=Other", data={"file": (io.BytesIO(content), "two.xlsx")})
    assert (new, again.status_code, again.json["id"]) == (True, 200, other.id)
    assert first.id != other.id
    nothing = client.post(f"{API}/histories?name=two.xlsx&sheet=Sheet", data=content)
    assert nothing.status_code == 422
    assert "no table of numbers" in nothing.json["detail"]
    assert client.post(f"{API}/histories?name=two.xlsx&header_row=x", data=content).status_code == 400
