"""What people ask for in an address: dates as they write them, and bytes of any kind; never a 5xx."""

import base64
import json
from datetime import UTC, datetime
from urllib.parse import quote

import pyarrow as pa
import pytest
from pyarrow import parquet

from lifetime.errors import HistoryError
from webapi import models
from webapi.database import write
from webapi.errors import QueryError
from webapi.services import histories
from webapi.services.instants import span
from webapi.services.local_histories import ANY_SIZE
from webapi.store.intake import take_in

API = "/api/v1"
LAST = datetime.max.replace(tzinfo=UTC)


def utc(*parts):
    return datetime(*parts, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "first", "end"),
    [
        ("2026", utc(2026, 1, 1), utc(2027, 1, 1)),
        ("2026-02", utc(2026, 2, 1), utc(2026, 3, 1)),
        ("2026-12", utc(2026, 12, 1), utc(2027, 1, 1)),
        ("2024-02-29", utc(2024, 2, 29), utc(2024, 3, 1)),
        ("9999", utc(9999, 1, 1), LAST),
        ("9999-12", utc(9999, 12, 1), LAST),
        ("9999-12-31", utc(9999, 12, 31), LAST),
        ("2026-01-31T12:00:00Z", utc(2026, 1, 31, 12), utc(2026, 1, 31, 12)),
        ("2026-01-31t12:00z", utc(2026, 1, 31, 12), utc(2026, 1, 31, 12)),
        ("2026-01-31T12:00:00+05:30", utc(2026, 1, 31, 6, 30), utc(2026, 1, 31, 6, 30)),
        ("2026-01-31T12:00:00 05:30", utc(2026, 1, 31, 6, 30), utc(2026, 1, 31, 6, 30)),
        ("2026-01-31 12:00:00 0530", utc(2026, 1, 31, 6, 30), utc(2026, 1, 31, 6, 30)),
        ("20260131T120000-08", utc(2026, 1, 31, 20), utc(2026, 1, 31, 20)),
        ("2026-01-31T12:00:00\N{MINUS SIGN}08:00", utc(2026, 1, 31, 20), utc(2026, 1, 31, 20)),
        ("2026-01-31T12:00:00.250+00:00", utc(2026, 1, 31, 12, 0, 0, 250_000), utc(2026, 1, 31, 12, 0, 0, 250_000)),
    ],
)
def test_a_date_stands_for_all_of_it_and_an_instant_has_any_offset(text, first, end):
    """ISO 8601 (2004), 4.1.2 and 4.2.5: dates of reduced accuracy, and offsets with and without minutes or colon."""
    found = span("created_to", text)
    assert (found.first, found.end) == (first, end)


@pytest.mark.parametrize(
    "text",
    ["", "x", "0000", "2026-13", "2026-02-30", "1767225600", "2026-W05", "2026-01-31T12:00:00", "2026-01-31 12:00",
     "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "٢٠٢٦", "2026-01-31T25:00Z", "9" * 59],
)  # fmt: skip
def test_what_is_no_date_is_refused_with_an_example(text):
    with pytest.raises(QueryError, match="2026-01-31"):
        span("created_from", text)


@pytest.fixture
def three(session):
    """Sources around the turns of two years."""
    moments = [utc(2025, 12, 31, 23, 30), utc(2026, 1, 31, 23, 30), utc(2027, 1, 1, 0, 30)]
    with write(session):
        session.add(models.Study(id="s", title="", document={}))
        session.flush()
        plain = {"title": "", "program_version": "0", "currency": "EUR", "service_years": 1.0}
        session.add(models.Assessment(id="a", study_id="s", strategies=3, document={}, **plain))
        session.flush()
        for number, moment in enumerate(moments):
            session.add(
                models.AssessmentSource(
                    assessment_id="a", strategy=str(number), strategy_folded=str(number), kind="battery", cell="x",
                    cell_sha256="", grade="unverified", life_state="reached", life_years=1.0, life_key=1.0,
                    equivalent_full_cycles_per_year=1.0, throughput_Ah_per_year=1.0, rms_current_A=1.0,
                    peak_current_A=1.0, energy_losses_kWh_per_year=1.0, cost_key=1.0, created_at=moment, **plain,
                )
            )  # fmt: skip


FOUND = {
    "created_from=2026&created_to=2026": "1",
    "created_to=2026-01": "01",
    "created_from=2026-01-31&created_to=2026-01-31": "1",
    "created_from=2027-01-01T01:00:00+01:00": "2",  # 2027-01-01T00:00Z; the plus arrives as a space
    "created_from=2027-01-01T01:31:00%2B01:00": "",
    "created_to=2026-01-31T23:30:00Z": "0",
    "created_from=0001&created_to=9999": "012",
}


def test_a_search_takes_dates_as_people_write_them(client, three):
    for query, found in FOUND.items():
        answer = client.get(f"{API}/assessments?{query}&sort=strategy")
        assert answer.status_code == 200, answer.text
        assert "".join(one["strategy"] for one in answer.json["items"]) == found, query


def cursor(*parts):
    return base64.urlsafe_b64encode(json.dumps(parts).encode()).decode()


ODD_CURSORS = [
    cursor("strategy", "\ud800", 1),
    cursor("strategy", "a\x00b", 1),
    cursor("strategy", "a", 2**63),
    cursor("strategy", "a", True),
    cursor("strategy", ["a"], 1),
    cursor("-created_at", "0001-01-01T00:00:00+14:00", 1),
    cursor("-created_at", "0001-01-01T00:00:00+14:00", "a"),
    cursor("-created_at", "9999-12-31T23:59:59-14:00", "a"),
    cursor("-created_at", "2026-01-01T00:00:00+00:00", "\x00"),
    cursor("-created_at", "2026-01-01T00:00:00+00:00", "\ud800"),
    cursor("-created_at", "2026-01-01", "a"),
    cursor("life", 1e999, 1),
    cursor("life", 10**400, 1),
    "é",
    "\x00",
    "=",
]


def test_a_cursor_of_any_bytes_is_refused_in_words(client):
    for given in ODD_CURSORS:
        sort = json.loads(base64.urlsafe_b64decode(given))[0] if len(given) > 8 else "-created_at"
        for path in (f"{API}/assessments", "/search"):
            answer = client.get(f"{path}?sort={sort}&cursor={quote(given)}")
            assert answer.status_code == 400, (path, given)
            assert "cursor" in answer.text
        for path in (f"{API}/studies", f"{API}/histories", "/", "/studies", "/histories"):
            assert client.get(f"{path}?cursor={quote(given)}").status_code == 400, (path, given)


FILE_NAMES = ["\x00.csv", "\ud800.csv", "a\nb\u202e.csv", "..", "../../x.csv", "é" * 300, "\U0001f50b.csv", ""]
COLUMN_NAMES = [b"i\x00_A", b"i_A\xff", b"\xf0\x9f\x94\x8b", b"\xed\xa0\x80", b"i_A\x1b[31m"]


def test_a_file_may_have_any_name(session, store, tmp_path):
    path = tmp_path / "x"
    for number, name in enumerate(FILE_NAMES):
        path.write_bytes(b"time_s,i_A\n0,1\n1,%d\n" % number)
        row, _ = histories.add_upload(session, store, path, name, ANY_SIZE)
        assert row.file_name.isprintable(), name
        assert 0 < len(row.file_name) <= 255
        assert "/" not in row.file_name


def test_a_column_may_have_any_name(session, store, tmp_path):
    path = tmp_path / "x.csv"
    for name in COLUMN_NAMES:
        path.write_bytes(b"time_s," + name + b"\n0,1\n1,2\n2,3\n")
        row, _ = histories.add_upload(session, store, path, "x.csv", ANY_SIZE)
        shown = histories.preview(session, store, row.id)
        assert shown["rows"] == [["0.0", "1.0"], ["1.0", "2.0"], ["2.0", "3.0"]], name


def spoiled_text(kind):
    fields = pa.array([b"idle", b"dr\xffve"], pa.large_binary() if kind == "large" else pa.binary())
    buffers = [None, *fields.buffers()[1:]]
    text = pa.Array.from_buffers(pa.large_string() if kind == "large" else pa.string(), 2, buffers)
    return pa.DictionaryArray.from_arrays(pa.array([0, 1]), text) if kind == "dictionary" else text


@pytest.mark.parametrize("kind", ["plain", "large", "dictionary"])
def test_text_that_is_not_utf_8_is_refused_when_it_is_uploaded(tmp_path, kind):
    path = tmp_path / "x.parquet"
    parquet.write_table(pa.table({"t_s": [0.0, 1.0], "i_A": [1.0, 2.0], "mode": spoiled_text(kind)}), path)
    with pytest.raises(HistoryError, match=r"x\.parquet.*(not UTF-8|UTF8)"):
        take_in(path, tmp_path / "out", "x.parquet", ANY_SIZE)


def test_a_name_that_is_not_utf_8_is_refused_when_it_is_uploaded(tmp_path):
    path = tmp_path / "x.parquet"
    parquet.write_table(pa.table({"t_s": [0.0, 1.0], "current_qz": [1.0, 2.0]}), path)
    path.write_bytes(path.read_bytes().replace(b"current_qz", b"current_q\xff"))
    with pytest.raises(HistoryError, match="name of a column is not UTF-8"):
        take_in(path, tmp_path / "out", "x.parquet", ANY_SIZE)
