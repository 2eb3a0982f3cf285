"""What the service keeps is for its own user: rights of files and folders, leftovers, caches, what the log holds."""

import logging
import os
import secrets
import stat

import pytest
import sqlalchemy as sa
from pyarrow import fs

from webapi import migrate
from webapi.backup import back_up
from webapi.database import make_engine
from webapi.errors import StoreError
from webapi.file_rights import is_own, remove_abandoned
from webapi.logs import JsonFormatter
from webapi.settings import data_folder
from webapi.store import open_store
from webapi.store.files import HistoryStore


def rights(path):
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def open_umask():
    """As most systems have it: everybody may read."""
    before = os.umask(0o022)
    yield
    os.umask(before)


def test_nobody_else_can_read_what_is_kept(open_umask, tmp_path, embedded, demo_csv):
    from webapi.app import create_app

    app = create_app(embedded)
    client = app.test_client()
    assert client.post("/api/v1/histories?name=a.csv", data=demo_csv).status_code == 201
    back_up(embedded, tmp_path / "data" / "copy.db")
    app.extensions["packwear"].engine.dispose()
    found = list((tmp_path / "data").rglob("*"))
    names = {path.name for path in found}
    assert {"packwear.db", "store", "unfinished", "copy.db"} <= names
    assert any(path.suffix == ".parquet" for path in found)
    loose = {str(path): oct(rights(path)) for path in found if rights(path) & 0o077}
    assert not loose
    assert rights(tmp_path / "data") == 0o700


@pytest.fixture
def embedded(tmp_path):
    from webapi.settings import Settings

    data = tmp_path / "data"
    return Settings(database_url=f"sqlite:///{data / 'packwear.db'}", store_url=str(data / "store"))


def test_a_folder_that_is_there_keeps_its_rights(open_umask, tmp_path):
    """The user may have made it for others, too."""
    shared = tmp_path / "shared"
    shared.mkdir(mode=0o755)
    engine = make_engine(f"sqlite:///{shared / 'packwear.db'}")
    migrate.upgrade(engine)
    engine.dispose()
    assert rights(shared) == 0o755
    assert rights(shared / "packwear.db") == 0o600


def test_what_was_left_unfinished_is_removed_at_the_next_start_and_nothing_else(store):
    place = store.workspace()
    old, young = place / "tmpold", place / "tmpyoung"
    for folder in (old, young):
        folder.mkdir()
        (folder / "upload").write_bytes(b"x")
    (place / "tmpfile").write_bytes(b"x")
    for path in (old / "upload", old, place / "tmpfile"):
        os.utime(path, (0, 0))
    outside = place.parent / "outside"
    outside.mkdir()
    (outside / "kept").write_bytes(b"x")
    (place / "link").symlink_to(outside)
    os.utime(place / "link", (0, 0), follow_symlinks=False)
    assert store.clean() == 2
    assert {path.name for path in place.iterdir()} == {"tmpyoung", "link"}
    assert (outside / "kept").exists()
    assert store.clean() == 0


def test_leftovers_of_a_missing_folder_are_none(tmp_path):
    assert remove_abandoned(tmp_path / "nowhere", 0.0) == 0


def test_the_cache_of_a_bucket_lies_in_the_users_own_folder(monkeypatch, tmp_path):
    """Whoever could write to it could plant numbers; two buckets do not share one."""
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    one, other = open_store("s3://one/x?region=none"), open_store("s3://other/x?region=none")
    assert one.cache != other.cache
    assert data_folder() in one.cache.parents


@pytest.fixture
def bucket(tmp_path):
    """A store that is reached as a bucket is, with its cache."""
    (tmp_path / "bucket" / "ab").mkdir(parents=True)
    (tmp_path / "bucket" / "ab" / "abc.parquet").write_bytes(b"from the bucket")
    return HistoryStore(fs.LocalFileSystem(), str(tmp_path / "bucket"), None, tmp_path / "cache")


def test_a_cache_that_others_can_write_is_not_trusted(bucket):
    bucket.cache.mkdir()
    bucket.cache.chmod(0o777)
    (bucket.cache / "ab").mkdir()
    (bucket.cache / "ab" / "abc.parquet").write_bytes(b"planted")
    with pytest.raises(StoreError, match="not trusted"):
        bucket.local("ab/abc.parquet")


def test_a_link_in_place_of_the_cache_is_not_trusted(bucket, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    bucket.cache.symlink_to(tmp_path / "elsewhere")
    assert not is_own(bucket.cache)
    with pytest.raises(StoreError, match="not trusted"):
        bucket.local("ab/abc.parquet")


def test_what_is_fetched_is_kept_for_this_user(open_umask, bucket):
    path = bucket.local("ab/abc.parquet")
    assert path.read_bytes() == b"from the bucket"
    assert rights(path) == 0o600
    assert rights(bucket.cache) == 0o700
    assert list(bucket.workspace().iterdir()) == []


def test_the_log_holds_no_parameters(engine):
    """What people wrote stays out of it, whatever the database objects to."""
    written = secrets.token_hex(16)  # no text of this file, which a traceback would show
    with pytest.raises(sa.exc.SQLAlchemyError) as caught, engine.connect() as connection:
        connection.execute(sa.text("SELECT * FROM nowhere WHERE title = :title"), {"title": written})
    error = caught.value
    record = logging.LogRecord("packwear", 40, "", 0, "database", (), (type(error), error, error.__traceback__))
    assert "nowhere" in JsonFormatter().format(record)
    assert written not in JsonFormatter().format(record)
