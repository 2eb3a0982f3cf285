"""The real service as processes: killed at any moment nothing is lost, nothing is doubled, nothing half is shown."""

import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
import tomllib
import urllib.error
import urllib.request
from pathlib import Path

import pytest
import sqlalchemy as sa

from lifetime.packs.locate import profiles_folder
from webapi import migrate, models
from webapi.database import make_engine, session_factory
from webapi.services import job_work, jobs, tokens
from webapi.store import open_store

DEMO = profiles_folder() / "demo"
PROGRAM = [sys.executable, "-c", "from webapi.cli import main; main()"]
ROUNDS = int(os.environ.get("PACKWEAR_TEST_KILLS", "4"))
"""Kills at random moments; the soak of 50 is asked for by setting the variable."""
SOAK = ROUNDS >= 20
CLIENTS = 20 if SOAK else 2


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


class Service:
    """One running service; every process of it can be killed."""

    def __init__(self, folder, database_url, token, **more):
        self.folder, self.port, self.token = folder, free_port(), token
        self.environment = {
            **os.environ,
            "PACKWEAR_DATABASE_URL": database_url,
            "PACKWEAR_STORE_URL": str(folder / "store"),
            "PACKWEAR_STALE_JOB_S": "2",
            "PACKWEAR_UPLOADS_PER_MINUTE": "10000",
            "PACKWEAR_SUBMISSIONS_PER_MINUTE": "10000",
            "PACKWEAR_WEB_PROCESSES": "2",
            **more,
        }
        self.process = None
        self.start()

    def start(self):
        log = (self.folder / "log").open("ab")
        self.process = subprocess.Popen(
            [*PROGRAM, "serve", "--port", str(self.port)],
            env=self.environment,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
        log.close()
        end = time.monotonic() + 60.0
        while time.monotonic() < end:
            try:
                if self.call("GET", "/api/v1/health/ready", timeout=2.0)[0] == 200:
                    return
            except OSError:
                time.sleep(0.05)
        raise AssertionError((self.folder / "log").read_text())

    def call(self, method, path, body=None, timeout=30.0):
        headers = {"Authorization": f"Bearer {self.token}"} if self.token else {}
        data = body
        if isinstance(body, dict):
            data, headers["Content-Type"] = json.dumps(body).encode(), "application/json"
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", data, headers, method=method)
        try:
            with urllib.request.urlopen(request, timeout=timeout) as answer:
                return answer.status, json.loads(answer.read())
        except urllib.error.HTTPError as error:
            with error:
                return error.code, json.loads(error.read())

    def processes(self):
        """Ids of web processes and worker: children of the process that was started, but not its helper."""
        found = []
        for status in Path("/proc").glob("[0-9]*/status"):
            try:
                text = status.read_text()
                command = (status.parent / "cmdline").read_bytes()
            except OSError:
                continue
            if f"PPid:\t{self.process.pid}\n" in text and b"spawn_main" in command:
                found.append(int(status.parent.name))
        return found

    def kill_web(self):
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def stop(self):
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(timeout=10)
            except subprocess.TimeoutExpired:
                self.kill_web()
        with pytest.MonkeyPatch.context():
            for pid in self.processes():
                os.kill(pid, signal.SIGKILL)


@pytest.fixture
def token(database_url):
    engine = make_engine(database_url)
    migrate.upgrade(engine)
    with session_factory(engine)() as opened:
        _, secret = tokens.create(opened, "tests", "administrator")
    engine.dispose()
    return secret


@pytest.fixture
def service(tmp_path, database_url, token):
    made = Service(tmp_path, database_url, token)
    yield made
    made.stop()


def study(number, key):
    data = tomllib.loads((DEMO / "yard_tractor.toml").read_text(encoding="utf-8"))
    data["title"] = f"study {number}"
    data["strategy"] = data["strategy"][::3]
    for strategy in data["strategy"]:
        strategy["demand"]["file"] = key
    return data


def insist(action):
    """Repeat until it is answered, as a client would whose connection broke."""
    end = time.monotonic() + 600.0
    while True:
        try:
            return action()
        except (OSError, http.client.HTTPException):
            if time.monotonic() > end:
                raise
            time.sleep(0.1)


def finish(service, keys):
    end = time.monotonic() + 600.0
    left = set(keys)
    while left and time.monotonic() < end:
        for key in list(left):
            state = insist(lambda key=key: service.call("GET", f"/api/v1/jobs/{key}"))[1]
            assert state["state"] != "failed", state
            if state["state"] == "done":
                left.discard(key)
        time.sleep(2.0 if SOAK else 0.1)
    assert not left, f"{len(left)} jobs never ended"


def test_killed_at_random_nothing_is_lost_and_nothing_doubled(service, database_url, tmp_path):
    """kill -9 of a web process, of the worker, or of all at once, amid uploads, submissions and jobs."""
    chance = random.Random(20260401)
    rows = (DEMO / "yard_shift.csv").read_bytes()
    accepted, uploads, ended = {}, set(), threading.Event()

    def busy(number):
        step = 0
        while not ended.is_set():
            step += 1
            name = f"{number}-{step}"
            body = rows + f"3601.{step},{number}00\n".encode()
            _, history = insist(lambda body=body: service.call("POST", "/api/v1/histories?name=x.csv", body))
            uploads.add(history["id"])
            status, job = insist(
                lambda name=name, history=history: service.call("POST", "/api/v1/studies", study(name, history["id"]))
            )
            assert status in {200, 202}, job
            accepted[name] = job["id"]
            finish(service, [job["id"]])

    clients = [threading.Thread(target=busy, args=(number,)) for number in range(CLIENTS)]
    for client in clients:
        client.start()
    kills = 0
    for _ in range(ROUNDS):
        if SOAK:  # every kill falls amid work, however slow the machine
            answered = len(uploads) + len(accepted)
            until(lambda: len(uploads) + len(accepted), lambda now, before=answered: now > before)
        time.sleep(chance.uniform(0.3, 1.5))
        running = service.processes()
        if chance.random() < 0.7 and running:
            os.kill(chance.choice(running), signal.SIGKILL)
        else:
            service.kill_web()
            service.start()
        kills += 1
        until(service.processes, lambda found: len(found) >= 3)
    ended.set()
    for client in clients:
        client.join()
    finish(service, accepted.values())
    print(f"\n{kills} kills, {len(uploads)} uploads, {len(accepted)} studies")

    engine = make_engine(database_url)
    with session_factory(engine)() as opened:
        count = {
            model: opened.scalar(sa.select(sa.func.count()).select_from(model))
            for model in (models.History, models.Study, models.Job, models.Assessment, models.AssessmentSource)
        }
        assert count[models.Study] == count[models.Job] == count[models.Assessment] == len(accepted)
        assert len(set(accepted.values())) == len(accepted)
        # Two strategies, one of them with a bank: three sources each, never more, never fewer.
        assert count[models.AssessmentSource] == 3 * len(accepted)
        assert count[models.History] == len(uploads)
        store = open_store(str(tmp_path / "store"))
        for row in opened.scalars(sa.select(models.History)):
            assert store.condition(row.store_key) == "sound"
    engine.dispose()


def test_a_job_whose_worker_died_runs_again_once(factory, store, client, service_study, monkeypatch):
    """The dead worker's attempt can no longer write; the next one ends the job."""
    job = client.post("/api/v1/studies", json=service_study).json["id"]
    with factory() as opened:
        dead = jobs.claim(opened, job, stale_s=0.05)
        assert jobs.claim(opened, job, stale_s=60.0) is None, "a job in good hands is not taken away"
    time.sleep(0.1)
    assert job_work.run(factory, store, job, stale_s=0.05)
    with factory() as opened:
        assert jobs.get(opened, job).state == "done"
        assert not jobs.note(opened, job, dead, progress=0.1)
        assert not jobs.fail(opened, job, dead, "too late", (), retryable=False)
        assert opened.scalar(sa.select(sa.func.count()).select_from(models.Assessment)) == 1
    assert not job_work.run(factory, store, job, stale_s=0.05), "running it twice changes nothing"


def test_a_job_that_kills_every_worker_is_given_up(factory, client, service_study):
    job = client.post("/api/v1/studies", json=service_study).json["id"]
    with factory() as opened:
        for _ in range(jobs.MOST_ATTEMPTS):
            assert jobs.claim(opened, job, stale_s=0.0) is not None
        assert jobs.claim(opened, job, stale_s=0.0) is None
        assert jobs.get(opened, job).state == "failed"
    again = client.post("/api/v1/studies", json=service_study)
    assert (again.status_code, again.json["state"]) == (202, "queued"), "the fault lay with the machine"


def test_many_submitting_the_same_at_once_get_one_job(service):
    rows = (DEMO / "yard_shift.csv").read_bytes()
    key = service.call("POST", "/api/v1/histories?name=x.csv", rows)[1]["id"]
    answers = []

    def submit():
        answers.append(service.call("POST", "/api/v1/studies", study("one", key)))

    threads = [threading.Thread(target=submit) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(status for status, _ in answers) == [200] * 7 + [202]
    assert len({job["id"] for _, job in answers}) == 1
    finish(service, [answers[0][1]["id"]])


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="memory is read from /proc")
def test_two_gigabytes_are_refused_without_taking_memory(service):
    """With the length said, and without: a clear 413, and the server's memory stays where it was."""
    before = resident_MB(service.processes())
    piece = b"1,2,3,4\n" * 131_072

    def send(*, chunked):
        connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=60)
        connection.putrequest("POST", "/api/v1/histories?name=big.csv")
        connection.putheader("Authorization", f"Bearer {service.token}")
        if chunked:
            connection.putheader("Transfer-Encoding", "chunked")
        else:
            connection.putheader("Content-Length", str(2_000_000_000))
        connection.endheaders()
        try:
            for _ in range(2000):
                connection.send(b"%x\r\n%s\r\n" % (len(piece), piece) if chunked else piece)
        except OSError:
            pass  # refused before all was sent; the answer is waiting
        try:
            answer = connection.getresponse()
            return answer.status, answer.headers.get_content_type()
        finally:
            connection.close()

    try:
        assert send(chunked=False) == (413, "application/problem+json")
        assert send(chunked=True)[0] == 413
    except ConnectionError:
        pass  # the kernel may drop an answer when the sender was still sending; the refusal itself is seen below
    assert resident_MB(service.processes()) < before + 200.0
    assert service.call("GET", "/api/v1/histories")[1]["items"] == []
    assert service.call("GET", "/api/v1/health/ready")[0] == 200


def resident_MB(pids):
    texts = [Path(f"/proc/{pid}/status").read_text() for pid in pids]
    lines = [line for text in texts for line in text.splitlines() if line.startswith("VmRSS")]
    return sum(int(line.split()[1]) for line in lines) / 1024


def test_a_full_disk_is_said_and_nothing_half_is_kept(client, app, demo_csv, monkeypatch):
    from webapi.store import files

    def full(self, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.Path, "replace", full)
    answer = client.post("/api/v1/histories?name=x.csv", data=demo_csv)
    assert answer.status_code == 503
    assert "No space left" in answer.json["detail"]
    assert client.get("/api/v1/histories").json["items"] == []
    monkeypatch.undo()
    assert client.post("/api/v1/histories?name=x.csv", data=demo_csv).status_code == 201


def test_a_locked_database_is_said_after_waiting(tmp_path):
    from webapi.app import create_app
    from webapi.settings import Settings

    settings = Settings(
        database_url=f"sqlite:///{tmp_path / 'x.db'}", store_url=str(tmp_path / "store"), busy_timeout_s=0.3
    )
    app = create_app(settings)
    engine = app.extensions["packwear"].engine
    client = app.test_client()
    import sqlite3

    other = sqlite3.connect(tmp_path / "x.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    answer = client.post("/api/v1/histories?name=x.csv", data=b"t_s,i_A\n0,1\n1,2\n")
    assert answer.status_code == 503
    assert answer.headers["Retry-After"]
    assert client.get("/api/v1/histories").status_code == 200, "readers are not disturbed"
    other.execute("ROLLBACK")
    other.close()
    assert client.post("/api/v1/histories?name=x.csv", data=b"t_s,i_A\n0,1\n1,2\n").status_code == 201
    engine.dispose()


def asked_without_end(service, ended, failures):
    """One client on one connection that it keeps, as browsers and proxies do."""
    opened = http.client.HTTPConnection("127.0.0.1", service.port, timeout=60.0)
    while not ended.is_set():
        try:
            opened.request("GET", "/api/v1/health/live")
            answer = opened.getresponse()
            answer.read()
            if answer.status != 200:
                failures.append(answer.status)
        except (OSError, http.client.HTTPException) as error:
            failures.append(error)
            opened.close()
    opened.close()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="processes are read from /proc")
def test_processes_are_replaced_without_a_lost_request_and_end_with_their_parent(tmp_path):
    """SIGHUP replaces all; a web process that is killed comes back; killing the parent ends all."""
    service = Service(tmp_path, f"sqlite:///{tmp_path / 'packwear.db'}", None)
    try:
        failures, ended = [], threading.Event()
        clients = [threading.Thread(target=asked_without_end, args=(service, ended, failures)) for _ in range(2)]
        for client in clients:
            client.start()
        before = set(service.processes())
        assert len(before) == 3, "two web processes and a worker"
        service.process.send_signal(signal.SIGHUP)
        after = until(lambda: set(service.processes()), lambda found: len(found) == 3 and not found & before)
        ended.set()
        for client in clients:
            client.join()
        assert failures == []

        os.kill(min(after), signal.SIGKILL)
        until(lambda: set(service.processes()), lambda found: len(found) == 3 and found != after)
        assert service.call("GET", "/api/v1/health/ready")[0] == 200

        last = service.processes()
        service.process.kill()
        service.process.wait()
        until(lambda: [pid for pid in last if Path(f"/proc/{pid}").exists()], lambda left: not left)
        service.start()
        service.process.terminate()
        assert service.process.wait(timeout=60) == 0
        assert "Traceback" not in (tmp_path / "log").read_text()
    finally:
        service.stop()


def until(look, is_right):
    """Look until what is seen is right."""
    end = time.monotonic() + 600.0
    while not is_right(seen := look()):
        assert time.monotonic() < end, seen
        time.sleep(0.05)
    return seen
