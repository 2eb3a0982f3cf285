"""Who works on a job: a worker of its own version, found out by one clock, and none whose parent is gone."""

import subprocess
import sys
import time
from datetime import timedelta

import pytest
import sqlalchemy as sa

from webapi import database, models
from webapi.database import write
from webapi.services import jobs

API = "/api/v1"


@pytest.fixture
def job(client, service_study):
    return client.post(f"{API}/studies", json=service_study).json["id"]


def test_another_versions_job_is_left_to_its_worker(client, factory, store, job, monkeypatch):
    with factory() as session, write(session):
        session.execute(sa.update(models.Job).values(program_version="0.0.1"))
    with factory() as session:
        assert jobs.waiting(session, 60.0) == []
        assert jobs.claim(session, job, 60.0) is None
    monkeypatch.setattr(jobs, "program_version", lambda: "0.0.1")
    with factory() as session:
        assert jobs.waiting(session, 60.0) == [job]


@pytest.mark.parametrize("shift", [timedelta(hours=-1), timedelta(hours=1)])
def test_a_clock_that_was_set_does_not_hang_an_abandoned_job(factory, job, shift):
    """Its last sign of life then lies an hour ahead or behind."""
    with factory() as session:
        first = jobs.claim(session, job, 60.0)
        assert jobs.claim(session, job, 60.0) is None
    with factory() as session, write(session):
        session.execute(sa.update(models.Job).values(heartbeat_at=database.now(session) + shift))
    with factory() as session:
        assert jobs.waiting(session, 60.0) == [job]
        assert jobs.claim(session, job, 60.0) == first + 1


def test_this_machines_clock_does_not_matter_where_the_database_has_its_own(factory, job, monkeypatch, database_url):
    if database_url.startswith("sqlite"):
        pytest.skip("the embedded database has this machine's clock")
    monkeypatch.setattr(database, "utc_now", lambda: pytest.fail("the machine's clock was asked"))
    with factory() as session:
        attempt = jobs.claim(session, job, 60.0)
        assert jobs.note(session, job, attempt)
        assert jobs.waiting(session, 60.0) == []


PARENT = """
import multiprocessing, os, sys, time
from webapi.job_process import end_with_parent
def child():
    end_with_parent()
    print(os.getpid(), flush=True)
    time.sleep(60)
if __name__ == "__main__":
    one = multiprocessing.get_context("spawn").Process(target=child)
    one.start()
    sys.stdin.read()
    os.kill(os.getpid(), 9)
"""


def test_a_worker_ends_with_its_parent(tmp_path):
    (tmp_path / "parent.py").write_text(PARENT)
    with subprocess.Popen(
        [sys.executable, str(tmp_path / "parent.py")], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as parent:
        assert int(parent.stdout.readline()) > 0
        begun = time.monotonic()
        parent.stdin.close()
        assert parent.stdout.read() == b"", "the pipe closes when both are gone"
    assert time.monotonic() - begun < 50.0


def test_a_full_disk_is_no_mistake_of_the_program(client, demo_csv, monkeypatch):
    from webapi.services import histories

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(histories, "add_upload", full)
    answer = client.post(f"{API}/histories?name=a.csv", data=demo_csv)
    assert answer.status_code == 503
    assert "disk is full" in answer.json["detail"]


def test_a_database_that_another_version_upgraded_takes_nothing_more(client, engine, service_study, demo_csv):
    """The answer names what helps: this program's own upgrade would refuse."""
    with engine.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    for answer in (
        client.post(f"{API}/studies", json=service_study),
        client.post(f"{API}/histories?name=a.csv", data=demo_csv),
        client.get(f"{API}/health/ready"),
    ):
        assert answer.status_code == 503
        assert "pip install --upgrade packwear" in answer.json["detail"]
    assert client.get(f"{API}/histories").status_code == 200


def test_checks_of_a_study_are_limited_for_each_caller(app, client, service_study):
    from webapi.limits import RateLimit

    held = app.extensions["packwear"]
    object.__setattr__(held, "checks", RateLimit(2))
    answers = [client.post(f"{API}/studies/check", json=service_study) for _ in range(3)]
    assert [one.status_code for one in answers] == [200, 200, 429]
    assert int(answers[-1].headers["Retry-After"]) > 0
