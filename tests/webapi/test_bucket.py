"""The store in a bucket, against a server of the S3 protocol in a process of its own, with connections that break."""

import contextlib
import os
import socket
import subprocess
import sys
import threading
import time
import urllib.request

import pytest
import sqlalchemy as sa

from webapi import migrate, models
from webapi.app import create_app
from webapi.database import make_engine, session_factory
from webapi.errors import StoreError
from webapi.services import health, histories
from webapi.services.local_histories import ANY_SIZE
from webapi.settings import Settings
from webapi.store import open_store
from webapi.store.integrity import hash_of, key_for

pytest.importorskip("moto", reason="the server of the S3 protocol is moto, of the extra test")
SIZE = 12_000_000
"""Goes up in two parts: one part is 10 MB."""


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


@pytest.fixture(scope="module")
def server():
    """Port of the server."""
    port = free_port()
    command = [sys.executable, "-m", "moto.server", "-H", "127.0.0.1", "-p", str(port)]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        end = time.monotonic() + 60.0
        while time.monotonic() < end:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1.0):
                break
            threading.Event().wait(0.05)
        yield port
    finally:
        process.kill()
        process.wait()


class Line:
    """A line to the server that breaks after so many bytes one way, and stays broken until it is mended."""

    def __init__(self, server):
        self.server, self.left, self.way = server, None, ""
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.port = self.listening.getsockname()[1]
        self.open = []
        threading.Thread(target=self._accept, daemon=True).start()

    def break_after(self, size, way):
        self.left, self.way = size, way

    def mend(self):
        self.left = None

    def close(self):
        self.listening.close()
        self._cut()

    def _accept(self):
        with contextlib.suppress(OSError):
            while True:
                here, _ = self.listening.accept()
                if self.left is not None and self.left <= 0:
                    here.close()
                    continue
                there = socket.create_connection(("127.0.0.1", self.server))
                self.open += [here, there]
                for one, other, way in ((here, there, "up"), (there, here, "down")):
                    threading.Thread(target=self._carry, args=(one, other, way), daemon=True).start()

    def _carry(self, one, other, way):
        with contextlib.suppress(OSError):
            while piece := one.recv(1 << 16):
                if self.left is not None and way == self.way:
                    self.left -= len(piece)
                    if self.left <= 0:
                        self._cut()
                        return
                other.sendall(piece)
        with contextlib.suppress(OSError):
            other.shutdown(socket.SHUT_WR)

    def _cut(self):
        for one in self.open:
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()
        self.open = []


@pytest.fixture
def line(server):
    made = Line(server)
    yield made
    made.close()


@pytest.fixture
def bucket_url(server, line, tmp_path, monkeypatch):
    """An empty bucket at the end of the line."""
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", "invented")
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", "invented")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    name = f"b{os.urandom(6).hex()}"
    made = urllib.request.Request(f"http://127.0.0.1:{server}/{name}", method="PUT")
    urllib.request.urlopen(made, timeout=30).close()
    return f"s3://{name}/histories?region=us-east-1&scheme=http&endpoint_override=127.0.0.1%3A{line.port}"


def big_file(store):
    path = store.workspace() / "big"
    content = os.urandom(SIZE)
    path.write_bytes(content)
    with path.open("rb") as file:
        return path, key_for("a" * 64, hash_of(file)), content


def test_an_upload_that_breaks_keeps_nothing_half_and_works_again(bucket_url, line):
    store = open_store(bucket_url)
    path, key, content = big_file(store)
    line.break_after(11_000_000, "up")
    with pytest.raises(StoreError, match="cannot be stored .* Nothing was kept; .* then upload again"):
        store.put(path, key)
    line.mend()
    assert list(store.entries()) == []
    assert store.condition(key) == "missing"
    assert path.read_bytes() == content
    store.put(path, key)
    assert list(store.entries()) == [(key, SIZE)]
    assert store.condition(key) == "sound"
    # The way back breaks as well, and leaves no half a copy behind.
    line.break_after(11_000_000, "down")
    with pytest.raises(StoreError, match="cannot be read"):
        store.local(key)
    line.mend()
    assert [one for one in store.cache.rglob("*") if one.is_file()] == []
    assert store.local(key).read_bytes() == content


def test_a_source_that_cannot_be_read_to_its_end_leaves_no_object(bucket_url, monkeypatch):
    """Closing the stream to a bucket completes the object with what it got."""
    store = open_store(bucket_url)
    path, key, _ = big_file(store)

    def breaks(source, target, length):
        target.write(source.read(length))
        raise OSError(5, "Input/output error")

    monkeypatch.setattr("webapi.store.files.shutil.copyfileobj", breaks)
    with pytest.raises(StoreError, match="Input/output error"):
        store.put(path, key)
    assert list(store.entries()) == []


def test_a_copy_that_went_bad_is_fetched_anew(bucket_url):
    store = open_store(bucket_url)
    path, key, content = big_file(store)
    store.put(path, key)
    copy = store.local(key)
    copy.write_bytes(content[::-1])
    assert store.local(key).read_bytes() == content


def test_planted_numbers_in_a_bucket_are_refused_until_the_file_is_uploaded_again(bucket_url, tmp_path, demo_csv):
    settings = Settings(database_url=f"sqlite:///{tmp_path / 'r.db'}", store_url=bucket_url, unpacked_bytes=100_000_000)
    engine = make_engine(settings.database_url)
    migrate.upgrade(engine)
    (tmp_path / "yard.csv").write_bytes(demo_csv)
    (tmp_path / "other.csv").write_bytes(demo_csv.replace(b"3500", b"9500"))
    app = create_app(settings)
    client = app.test_client()
    with session_factory(engine)() as session:
        one, other = (
            histories.add_upload(session, open_store(bucket_url), tmp_path / name, name, ANY_SIZE)[0]
            for name in ("yard.csv", "other.csv")
        )
        assert client.get(f"/api/v1/histories/{one.id}/preview").status_code == 200
        fresh = open_store(bucket_url)
        fresh.filesystem.copy_file(f"{fresh.root}/{other.store_key}", f"{fresh.root}/{one.store_key}")
        (fresh.cache / one.store_key).unlink()
        answer = client.get(f"/api/v1/histories/{one.id}/preview")
        assert (answer.status_code, "damaged" in answer.json["detail"]) == (503, True)
        found = health.examine(session, fresh)
        assert not found.sound
        assert 'damaged in the store: 1. "yard.csv"' in found.lines[1]
        session.rollback()
        histories.add_upload(session, fresh, tmp_path / "yard.csv", "yard.csv", ANY_SIZE)
        assert client.get(f"/api/v1/histories/{one.id}/preview").status_code == 200
        assert health.examine(session, fresh).sound
        assert session.scalar(sa.select(sa.func.count()).select_from(models.History)) == 2
    app.extensions["packwear"].engine.dispose()
    engine.dispose()
