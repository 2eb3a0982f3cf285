"""A job that takes too much memory or time ends in words, its worker lives, and the next job is done."""

import os
import time

import pytest

from webapi import job_process
from webapi.services import job_work, jobs
from webapi.settings import Settings

API = "/api/v1"


@pytest.fixture
def submitted(client, service_study):
    """Submit the study under a title; answers the job's id."""

    def submit(title):
        service_study["title"] = title
        return client.post(f"{API}/studies", json=service_study).json["id"]

    return submit


def big(*_):
    return bytearray(1 << 40)


def endless(*_):
    while True:
        pass


def killed(*_):
    os.kill(os.getpid(), 9)


@pytest.fixture
def process_of(monkeypatch):
    """Puts an assessment of ours into the job's process, which is forked from this one here."""
    import multiprocessing

    monkeypatch.setattr(job_process, "_processes", lambda: multiprocessing.get_context("fork"))

    def put(function):
        monkeypatch.setattr(job_work, "assess", function)

    return put


@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_too_much_ends_the_job_alone(client, settings, factory, submitted, process_of, monkeypatch):
    """4 GB are 3,814 MiB."""
    ways = {
        "more than the 3,814 MiB of memory that a job may take": (big, 60.0),
        "longer than the 1 s": (endless, 1.0),
        "exit code -9": (killed, 60.0),
    }
    for words, (function, seconds) in ways.items():
        process_of(function)
        key = submitted(words)
        assert job_process.run(settings.model_copy(update={"job_s": seconds}), factory, key)
        job = client.get(f"{API}/jobs/{key}").json
        assert (job["state"], job["retryable"]) == ("failed", True)
        assert words in job["message"]
    monkeypatch.undo()
    neighbour = submitted("neighbour, in the real way")
    assert job_process.run(settings, factory, neighbour)
    assert client.get(f"{API}/jobs/{neighbour}").json["state"] == "done"


def test_the_process_has_its_limits(tmp_path):
    """What is asked of the system is what the settings say."""
    import subprocess
    import sys

    code = (
        "import resource; from webapi.job_process import _limit_memory; from webapi.settings import JobLimits;"
        "_limit_memory(JobLimits(10.0, 2_000_000_000)); print(resource.getrlimit(resource.RLIMIT_AS)[0]);"
        "import numpy as np\ntry: np.ones(10**9)\nexcept MemoryError: print('refused')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.split() == ["2000000000", "refused"]
    assert Settings(database_url="sqlite:///x", store_url="y").job_limits.memory_MiB == 3_814


@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_a_cancelled_job_ends_within_two_seconds(client, settings, factory, submitted, process_of):
    import threading

    process_of(endless)
    key = submitted("endless")
    ended = []
    worker = threading.Thread(target=lambda: ended.append(job_process.run(settings, factory, key)))
    worker.start()
    while client.get(f"{API}/jobs/{key}").json["state"] == "queued":
        time.sleep(0.05)
    begun = time.monotonic()
    answer = client.post(f"{API}/jobs/{key}/cancel")
    assert (answer.status_code, answer.json["state"]) == (200, "cancelled")
    worker.join(timeout=30.0)
    assert ended == [True]
    assert time.monotonic() - begun < 5.0, "a busy machine included"
    assert client.get(f"{API}/jobs/{key}").json["state"] == "cancelled"


def test_what_comes_too_late_is_void_and_it_can_be_submitted_again(client, factory, submitted, work):
    """However often: cancelling does not use up the attempts that a job has."""
    attempts = []
    for _ in range(jobs.MOST_ATTEMPTS + 1):
        key = submitted("cancelled")
        with factory() as session:
            attempts.append(jobs.claim(session, key, 60.0))
        assert client.post(f"{API}/jobs/{key}/cancel").json["state"] == "cancelled"
        assert client.post(f"{API}/jobs/{key}/cancel").status_code == 200, "twice is once"
    assert work() == [], "it waits no longer"
    page = client.get(f"/jobs/{key}").text
    assert "Cancelled." in page
    assert "Submit again" in page
    assert submitted("cancelled") == key
    with factory() as session:
        assert not jobs.note(session, key, attempts[-1])
        assert not jobs.fail(session, key, attempts[-1], "late", (), retryable=False)
    assert attempts == sorted(set(attempts))
    assert work() == [True]
    assert client.get(f"{API}/jobs/{key}").json["state"] == "done"
    answer = client.post(f"{API}/jobs/{key}/cancel")
    assert answer.status_code == 409
    assert "has ended already (done)" in answer.json["detail"]
    assert client.post(f"{API}/jobs/none/cancel").status_code == 404


def test_a_study_is_bounded_before_work_is_done(app, client, settings, service_study, monkeypatch):
    """4,700 ways to read one history took 24 s and 1.2 GB; the demo's has 3,601 rows, read in one way."""
    from webapi.services import studies

    held = app.extensions["packwear"]
    with monkeypatch.context() as patch:
        patch.setattr(studies, "resolve_study", lambda *_: pytest.fail("work was done"))
        object.__setattr__(held, "settings", settings.model_copy(update={"study_rows": 3_600}))
        assert "reads 3601 rows" in faults(client, service_study)[0]
        one = service_study["strategy"][0]
        many = [{**one, "name": f"{n}", "demand": {**one["demand"], "ambient_C": n / 100}} for n in range(4_700)]
        strategies, readings = faults(client, {**service_study, "strategy": many})
        assert "has 4700 entries, allowed are 50" in strategies
        assert "4700 different ways, allowed are 60" in readings
    object.__setattr__(held, "settings", settings.model_copy(update={"study_rows": 3_601}))
    assert client.post(f"{API}/studies/check", json=service_study).status_code == 200


def faults(client, study):
    """What check and submission say alike."""
    answers = [client.post(f"{API}/studies{path}", json=study) for path in ("/check", "")]
    assert [one.status_code for one in answers] == [422, 422]
    assert answers[0].json["faults"] == answers[1].json["faults"]
    return [one["message"] for one in answers[0].json["faults"]]
