"""The web server: slow clients hold nobody up, bodies come once their sender is known, stopping loses nothing."""

import http.client
import json
import socket
import threading
from contextlib import ExitStack, contextmanager

import pytest

from webapi import connection, web_server
from webapi.connection import SMALL_BODY_BYTES, Request
from webapi.serve import listening
from webapi.web_server import Threads, WebServer

LARGE = 10 * SMALL_BODY_BYTES
HELLO = b"GET /hello HTTP/1.1\r\nHost: x\r\n\r\n"


class Application:
    """Says what body it got; a request to /wait is answered when the test lets it go."""

    def __init__(self):
        self.waiting, self.go_on = threading.Event(), threading.Event()
        self.bodies = []

    def __call__(self, environ, start_response):
        if environ["PATH_INFO"] == "/wait":
            self.waiting.set()
            assert self.go_on.wait(60.0)
        body = environ["wsgi.input"].read()
        self.bodies.append(len(body))
        answer = str(len(body)).encode()
        start_response("200 OK", [("Content-Length", str(len(answer)))])
        return [answer]

    @staticmethod
    def admits(environ):
        return environ.get("HTTP_AUTHORIZATION") == "known"


@contextmanager
def serving(app, threads=None):
    listener = listening("127.0.0.1", 0)
    server = WebServer(app, listener, app.admits, threads or Threads(1, 1), body_bytes=1_000_000)
    running = threading.Thread(target=server.run)
    running.start()
    try:
        yield server
    finally:
        app.go_on.set()
        server.stop(0.0)
        running.join(60.0)
        assert not running.is_alive()


@pytest.fixture
def app():
    return Application()


@pytest.fixture
def server(app):
    with serving(app) as running:
        yield running


def connected(server, first=b""):
    opened = socket.create_connection(("127.0.0.1", server.effective_port), timeout=60.0)
    opened.sendall(first)
    return opened


def answer_on(opened):
    answer = http.client.HTTPResponse(opened)
    answer.begin()
    return answer.status, answer.headers, answer.read()


def head(body_bytes, *lines):
    return "\r\n".join(["POST / HTTP/1.1", "Host: x", f"Content-Length: {body_bytes}", *lines, "", ""]).encode()


def test_a_crowd_of_slow_connections_holds_nobody_up(server, app):
    """150 that drip a header, 150 that drip an admitted body: one thread each way still answers everybody else."""
    with ExitStack() as stack:
        slow = [stack.enter_context(connected(server, b"GET / HT")) for _ in range(150)]
        slow += [stack.enter_context(connected(server, head(LARGE, "Authorization: known") + b"x")) for _ in range(150)]
        for _ in range(3):
            for one in slow:
                one.sendall(b"T")
            with connected(server, HELLO) as quick:
                assert answer_on(quick)[0] == 200
            with connected(server, head(3) + b"abc") as quick:
                assert answer_on(quick)[2] == b"3"
    assert set(app.bodies) == {0, 3}


def test_an_upload_that_waits_leaves_readers_alone(server, app):
    with connected(server, b"POST /wait HTTP/1.1\r\nHost: x\r\n\r\n") as upload:
        assert app.waiting.wait(60.0)
        with connected(server, HELLO) as reader:
            assert answer_on(reader)[0] == 200
        app.go_on.set()
        assert answer_on(upload)[0] == 200


@pytest.mark.parametrize("known", [True, False])
def test_a_large_body_comes_only_from_somebody_known(server, app, known):
    """RFC 9110, 10.1.1: a client that expects 100 waits for it, or for the final answer in its place."""
    sender = "Authorization: known" if known else "Authorization: Basic eDp5"
    with connected(server, head(LARGE, sender, "Expect: 100-continue")) as waiting:
        if known:
            assert waiting.recv(9).startswith(b"HTTP/1.1 ")
            assert waiting.recv(16) == b"100 Continue\r\n\r\n"
            waiting.sendall(b"x" * LARGE)
        status, headers, body = answer_on(waiting)
    assert (status, body) == (200, str(LARGE if known else 0).encode())
    assert (headers["Connection"] == "close") is not known
    assert app.bodies == [LARGE if known else 0]


@pytest.mark.parametrize("lines", [[], ["Transfer-Encoding: chunked"]])
def test_a_stranger_who_sends_all_the_same_gets_the_answer(server, app, lines):
    start = head(LARGE) if not lines else b"POST / HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n9c400\r\n"
    with connected(server, start) as stranger:
        stranger.sendall(b"x" * LARGE)
        assert answer_on(stranger)[::2] == (200, b"0")


def test_a_body_beyond_the_limit_is_refused_in_the_usual_words(server, app):
    with connected(server, head(2_000_000, "Authorization: known")) as sender:
        sender.sendall(b"x" * 1_000_000)
        status, headers, body = answer_on(sender)
    assert (status, headers.get_content_type()) == (413, "application/problem+json")
    assert "larger" in json.loads(body)["detail"]
    assert app.bodies == []


@pytest.mark.parametrize("start", [b"GET / HT", head(LARGE, "Authorization: known") + b"x"])
def test_a_request_that_does_not_come_is_given_up(server, app, monkeypatch, start):
    monkeypatch.setattr(connection, "HEADER_S", 0.0)
    monkeypatch.setattr(connection, "BODY_GRACE_S", 0.0)
    with connected(server, start) as slow:
        status, headers, body = answer_on(slow)
        assert (status, headers.get_content_type()) == (408, "application/problem+json")
        assert "slowly" in json.loads(body)["detail"]
    assert app.bodies == []


def test_a_body_without_room_on_the_disk_is_answered(server, app, monkeypatch):
    def full(self, data):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("waitress.receiver.FixedStreamReceiver.received", full)
    with connected(server, head(LARGE, "Authorization: known") + b"x") as sender:
        sender.sendall(b"x" * 1_000)
        status, headers, body = answer_on(sender)
    assert (status, headers.get_content_type()) == (503, "application/problem+json")
    assert "disk is full" in json.loads(body)["detail"]
    monkeypatch.undo()
    with connected(server, HELLO) as next_one:
        assert answer_on(next_one)[0] == 200


def test_what_is_slow_is_a_matter_of_pace(server):
    """10 s for a header; 30 s and a second for each 10 kB of body: half a gigabyte may take 14 h, one byte 30 s."""
    request = Request(server.adj)
    begun = request.begun_s
    request.received(b"POST / HTTP/1.1\r\n")
    assert not request.is_late(begun + 9.9)
    assert request.is_late(begun + 10.1)
    request.received(b"Host: x\r\nContent-Length: 600000\r\n\r\n")
    assert not request.is_late(begun + 29.9)
    assert request.is_late(begun + 30.1)
    request.received(b"x" * 500_000)
    assert not request.is_late(begun + 79.9)
    assert request.is_late(begun + 80.1)
    request.close()


def test_stopping_answers_what_is_in_hand_and_what_is_on_its_way(app, monkeypatch):
    monkeypatch.setattr(web_server, "_PARTING_S", 60.0)
    with (
        serving(app, Threads(2, 1)) as server,
        connected(server, HELLO) as resting,
        connected(server, b"GET /wait HTTP/1.1\r\nHost: x\r\n\r\n") as busy,
    ):
        assert answer_on(resting)[0] == 200
        assert app.waiting.wait(60.0)
        server.stop(60.0)
        with pytest.raises(OSError, match="refused|reset"):
            while True:
                connected(server).close()
        resting.sendall(HELLO)
        status, headers, _ = answer_on(resting)
        assert (status, headers["Connection"]) == (200, "close")
        app.go_on.set()
        status, headers, _ = answer_on(busy)
        assert (status, headers["Connection"]) == (200, "close")
        assert busy.recv(1) == b""
