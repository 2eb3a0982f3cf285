"""Files made to hold or to fill the service: each is refused within its bound, and the service goes on answering."""

import io
import resource
import struct
import sys
import time
from concurrent.futures import ThreadPoolExecutor, as_completed
from itertools import islice

import numpy as np
import pyarrow as pa
import pytest
from pyarrow import parquet

from lifetime.errors import HistoryError
from tests.webapi.hostile_files import BOMBS, REFUSED_AT_SIGHT
from webapi.app import create_app
from webapi.errors import LimitError, ReadingError, StoreError
from webapi.services import histories
from webapi.settings import ReadingLimits, Settings, UploadLimits
from webapi.store import intake, isolated_import
from webapi.store.reading_slots import reading_slot

API = "/api/v1"
on_one_database = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
"""The database is not asked before a file is read."""
ROWS = b"0,1\n1,2\n2,3\n"
HOSTILE = {
    "brackets": b"t_s,a[" + b" " * 2_000 + b"x\n" + ROWS,
    "long brackets": b"t_s,a[" + b" " * 900_000 + b"x\n" + ROWS,
    "digits in a cell": b"t_s,i_A\n0," + b"1" * 8_000 + b"x\n" + ROWS,
    "many digits in a cell": b"t_s,i_A\n0," + b"1" * 120_000 + b"x\n" + ROWS,
    "blanks in a line": b"t_s i_A\n0 1" + b" " * 900_000 + b"x\n" + ROWS.replace(b",", b" "),
    "a duration of digits": b"t,i_A\n" + b"9" * 5_000 + b":00:00,1\n1:00:00,2\n",
    "a long name": b"t_s," + b"n" * 5_000 + b"\n" + ROWS,
    "a long field": b"t_s,note\n0," + b"n" * 50_000 + b"\n1,b\n",
    "a thousand equal names": b",".join([b"a"] * 1_000) + b"\n" + b",".join([b"1"] * 1_000) + b"\n",
}


def forged(rows):
    """A Parquet file of one row whose footer claims very many."""
    target = io.BytesIO()
    parquet.write_table(pa.table({"t_s": np.zeros(64), "i_A": np.zeros(64)}), target, compression="none")
    data = bytearray(target.getvalue())
    # Thrift's compact protocol writes 64 rows as the zigzag number 128: two bytes; as many bytes must replace them.
    length = struct.unpack("<I", data[-8:-4])[0]
    footer = data[-8 - length : -8]
    assert footer.count(b"\x80\x01") > 0
    return bytes(data[: -8 - length] + footer.replace(b"\x80\x01", rows) + data[-8:])


@on_one_database
@pytest.mark.parametrize("content", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_file_is_answered_in_words(client, content):
    """Taken or refused, never a 5xx; the patterns that took minutes are timed in tests/contracts/test_patterns.py."""
    answer = client.post(f"{API}/histories?name=hostile.csv", data=content)
    assert answer.status_code in {201, 413, 422}, answer.text
    assert client.get(f"{API}/health/ready").status_code == 200
    if answer.status_code == 201:
        assert client.get(answer.headers["Location"] + "/preview").status_code == 200
    else:
        assert "hostile.csv" in answer.json["detail"]


@pytest.fixture(scope="module")
def low(tmp_path_factory):
    """A service with low limits, on an embedded database of its own."""
    folder = tmp_path_factory.mktemp("low")
    settings = Settings(
        database_url=f"sqlite:///{folder / 'x.db'}",
        store_url=str(folder / "store"),
        uploads_per_minute=1000,
        upload_bytes=10_000_000,
        unpacked_bytes=20_000_000,
        reading_s=2.0,
        reading_bytes=1_000_000_000,
    )
    return settings.model_copy(update={"reading_bytes": 800_000_000})  # less than an honest file may need


@pytest.fixture(scope="module")
def low_client(low):
    app = create_app(low)
    yield app.test_client()
    app.extensions["packwear"].engine.dispose()


@pytest.mark.parametrize("kind", BOMBS)
def test_a_bomb_ends_one_upload(low, low_client, tmp_path, kind):
    """Refused in one sentence of ours; what it took is bounded, and nothing of it is left here or on disk."""
    content = BOMBS[kind](tmp_path)
    assert len(content) < low.upload_bytes, "a small file"
    before, spent = _peak_bytes(), _children_s()
    answer = low_client.post(f"{API}/histories?name=bomb.bin", data=content)
    assert answer.status_code in {413, 422}, answer.text
    detail = answer.json["detail"]
    assert detail.startswith("bomb.bin: ")
    assert "ended unexpectedly" not in detail, "somebody foresaw it"
    assert "Traceback" not in detail
    assert _children_s() - spent < low.reading_s + 5.5, "the hard limit of processor time"
    assert _peak_bytes() - before < 100_000_000, "nothing is unpacked here"
    assert low_client.get(f"{API}/health/ready").status_code == 200
    assert low_client.get(f"{API}/histories").json["items"] == []


@pytest.mark.parametrize("kind", REFUSED_AT_SIGHT)
def test_what_is_refused_at_sight(tmp_path, kind):
    """No process of its own is needed to see it, so here it is read without one."""
    path = tmp_path / "bomb.bin"
    path.write_bytes(REFUSED_AT_SIGHT[kind](tmp_path))
    begun = time.process_time()
    with pytest.raises((HistoryError, LimitError), match=r"^bomb\.bin: "):
        intake.take_in(path, tmp_path / "stored", "bomb.bin", UploadLimits())
    assert time.process_time() - begun < 3.0


def _peak_bytes():
    return 1024 * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def _children_s():
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


@on_one_database
@pytest.mark.parametrize("rows", [b"\xfe\x7f", b"\x81\x01", b"\x00\x00"])
def test_a_forged_parquet_file_is_refused(client, rows):
    answer = client.post(f"{API}/histories?name=forged.parquet", data=forged(rows))
    assert answer.status_code in {201, 413, 422}, answer.text


@on_one_database
def test_a_name_and_a_field_have_their_longest(client):
    long_name = client.post(f"{API}/histories?name=a.csv", data=HOSTILE["a long name"])
    long_field = client.post(f"{API}/histories?name=a.csv", data=HOSTILE["a long field"])
    assert (long_name.status_code, long_field.status_code) == (413, 413)
    assert "allowed are 500" in long_name.json["detail"]
    assert "allowed are 10000" in long_field.json["detail"]


@pytest.fixture
def bad_reader(monkeypatch, tmp_path):
    """Puts a module of ours in the place of the one that reads, within the process of its own."""

    def _bad(code):
        folder = tmp_path / "bad"
        folder.mkdir()
        (folder / "sitecustomize.py").write_text(
            f"import webapi.store.intake as intake\ndef bad(*_):\n    {code}\nintake.take_in = bad\n"
        )
        monkeypatch.syspath_prepend(str(folder))

    return _bad


@on_one_database
@pytest.mark.parametrize(
    ("code", "expected", "words"),
    [
        ("while True: pass", LimitError, "longer than the 1 s"),
        ("import time; time.sleep(60)", LimitError, "longer than the 1 s"),
        ("bytearray(10**11)", LimitError, "bytes of memory"),
        ("import os; os.abort()", ReadingError, "ended unexpectedly"),
        ("import os, signal; os.kill(os.getpid(), signal.SIGKILL)", ReadingError, "ended unexpectedly"),
        ("raise KeyError('x')", ReadingError, "ended unexpectedly"),
        ("import sys; sys.exit(0)", ReadingError, "ended unexpectedly"),
        ("raise OSError(28, 'No space left on device')", Exception, "No space left"),
    ],
)
def test_what_kills_the_reader_ends_that_upload_alone(session, store, tmp_path, bad_reader, code, expected, words):
    bad_reader(code)
    path = tmp_path / "a.csv"
    path.write_bytes(b"t_s,i_A\n" + ROWS)
    begun = time.process_time()
    with pytest.raises(expected, match=words):
        limits = ReadingLimits(seconds=1.0 if "longer" in words else 20.0, memory_bytes=2_000_000_000)
        histories.add_upload(session, store, path, "a.csv", UploadLimits(), limits)
    assert time.process_time() - begun < 5.0, "the work was not done here"
    assert list(store.workspace().iterdir()) == []
    assert histories.listed(session).items == ()


@on_one_database
def test_the_reader_knows_no_secrets(session, store, tmp_path, bad_reader, monkeypatch):
    monkeypatch.setenv("PACKWEAR_SECRET_KEY", "very secret")
    bad_reader("import os, sys; sys.exit(0 if 'very secret' in os.environ.values() else os.abort())")
    path = tmp_path / "a.csv"
    path.write_bytes(b"t_s,i_A\n" + ROWS)
    said = []
    monkeypatch.setattr(
        isolated_import.logging.getLogger("packwear"), "error", lambda *_, extra: said.append(extra["facts"])
    )
    with pytest.raises(ReadingError):
        histories.add_upload(session, store, path, "a.csv", UploadLimits(), ReadingLimits())
    assert said[0]["words"].startswith("exit code -6")


@on_one_database
def test_read_apart_or_here_it_is_the_same(session, store, tmp_path, demo_csv):
    path = tmp_path / "a.csv"
    path.write_bytes(demo_csv)
    folder = tmp_path / "folder"
    folder.mkdir()
    here = intake.take_in(path, folder / "here", "a.csv", UploadLimits())
    there = isolated_import.take_in_apart(path, folder / "there", "a.csv", UploadLimits(), ReadingLimits(), folder)
    assert (folder / "here").read_bytes() == (folder / "there").read_bytes()
    assert (there.format, there.rows, there.columns) == (here.format, here.rows, here.columns)
    assert there.report.keys() == here.report.keys()


def test_few_files_are_read_at_once(tmp_path, bad_reader):
    """Of eight uploads two are read and one waits; five are told at once to come again, and hold no thread."""
    flag, marks = tmp_path / "flag", tmp_path / "marks"
    marks.mkdir()
    bad_reader(
        f"import os, tempfile, time\n    tempfile.mkstemp(dir={str(marks)!r})\n"
        f"    while not os.path.exists({str(flag)!r}): time.sleep(0.05)\n    raise KeyError"
    )
    folders = [tmp_path / str(number) for number in range(8)]
    with ThreadPoolExecutor(8) as pool:
        sent = [pool.submit(_taken_in, folder) for folder in folders]
        refused = [one.result() for one in islice(as_completed(sent, timeout=60.0), 5)]
        assert len(list(marks.iterdir())) <= 2
        flag.touch()
        ended = [one.result() for one in sent]
    assert refused == ["StoreError"] * 5
    assert sorted(ended) == ["ReadingError"] * 3 + ["StoreError"] * 5
    assert not list(tmp_path.glob("reading-*"))


def _taken_in(folder):
    folder.mkdir()
    limits, reading = UploadLimits(), ReadingLimits(60.0, 2_000_000_000)
    try:
        isolated_import.take_in_apart(folder / "a.csv", folder / "stored", "a.csv", limits, reading, folder)
    except (StoreError, ReadingError) as error:
        return type(error).__name__
    return "taken in"


@pytest.mark.skipif(sys.platform == "win32", reason="no locks of files there")
def test_a_slot_outlives_no_holder(tmp_path):
    """All slots taken: the next is told to come again; one left behind by a killed process is free."""
    (tmp_path / "reading-0").touch()
    both = reading_slot(tmp_path, 0.0), reading_slot(tmp_path, 0.0)
    third = reading_slot(tmp_path, 0.0)
    with both[0], both[1], pytest.raises(StoreError, match="Too many files"), third:
        pass
    with reading_slot(tmp_path, 0.0):
        assert [one.name for one in tmp_path.iterdir()] == ["reading-0"]
