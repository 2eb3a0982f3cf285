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


def test_a_job_in_its_own_process_is_done_and_bounded(client, settings, factory, submitted):
    """The real way: one study as submitted, one whose memory does not suffice for anything."""
    key = submitted("as usual")
    assert job_process.run(settings, factory, key)
    assert client.get(f"{API}/jobs/{key}").json["state"] == "done"


@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
@pytest.mark.parametrize(
    ("function", "words", "update"),
    [
        (big, "more than the 3,814 MiB of memory that a job may take", {}),
        (endless, "longer than the 1 s", {"job_s": 1.0}),
        (killed, "exit code -9", {}),
    ],
)
def test_too_much_ends_the_job_alone(
    client, settings, factory, submitted, process_of, monkeypatch, function, words, update
):
    """4 GB are 3,814 MiB."""
    limited = settings.model_copy(update=update)
    process_of(function)
    key, neighbour = submitted("too much"), submitted("neighbour")
    assert job_process.run(limited, factory, key)
    job = client.get(f"{API}/jobs/{key}").json
    assert (job["state"], job["retryable"]) == ("failed", True)
    assert words in job["message"]
    monkeypatch.undo()
    assert job_process.run(settings, factory, neighbour)
    assert client.get(f"{API}/jobs/{neighbour}").json["state"] == "done"
    assert client.post(f"{API}/studies/check", json={}).status_code == 422, "the service answers"


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


class TestCancel:
    def test_what_comes_too_late_is_void_and_it_can_be_submitted_again(self, client, factory, submitted, work):
        key = submitted("cancelled while running")
        with factory() as session:
            attempt = jobs.claim(session, key, 60.0)
        assert client.post(f"{API}/jobs/{key}/cancel").json["state"] == "cancelled"
        assert client.post(f"{API}/jobs/{key}/cancel").status_code == 200, "twice is once"
        assert submitted("cancelled while running") == key
        with factory() as session:
            again = jobs.claim(session, key, 60.0)
            assert again > attempt
            assert not jobs.fail(session, key, attempt, "late", (), retryable=False)
            assert not jobs.note(session, key, attempt)
            assert jobs.is_held(session, key, again)

    def test_a_job_waits_no_longer_once_cancelled(self, client, submitted, work):
        key = submitted("cancelled while queued")
        client.post(f"{API}/jobs/{key}/cancel")
        assert work() == []
        page = client.get(f"/jobs/{key}")
        assert "Cancelled." in page.text
        assert "Submit again" in page.text

    def test_what_has_ended_cannot_be_cancelled(self, client, submitted, work):
        key = submitted("done")
        work()
        answer = client.post(f"{API}/jobs/{key}/cancel")
        assert answer.status_code == 409
        assert "has ended already (done)" in answer.json["detail"]
        assert client.post(f"{API}/jobs/none/cancel").status_code == 404

    def test_cancelling_often_does_not_use_up_the_attempts(self, client, factory, submitted, work):
        for _ in range(jobs.MOST_ATTEMPTS + 1):
            key = submitted("again and again")
            with factory() as session:
                assert jobs.claim(session, key, 60.0) is not None
            client.post(f"{API}/jobs/{key}/cancel")
        submitted("again and again")
        assert work() == [True]
        assert client.get(f"{API}/jobs/{key}").json["state"] == "done"


class TestStudySize:
    @pytest.fixture
    def small(self, app, settings):
        held = app.extensions["packwear"]

        def limit(**update):
            object.__setattr__(held, "settings", settings.model_copy(update=update))

        return limit

    def faults(self, client, study):
        answers = [client.post(f"{API}/studies{path}", json=study) for path in ("/check", "")]
        assert [one.status_code for one in answers] == [422, 422]
        assert answers[0].json["faults"] == answers[1].json["faults"]
        return [one["message"] for one in answers[0].json["faults"]]

    def test_strategies_and_readings_are_bounded_before_work_is_done(self, client, service_study, monkeypatch):
        """4,700 ways to read one history took 24 s and 1.2 GB."""
        from webapi.services import studies

        monkeypatch.setattr(studies, "resolve_study", lambda *_: pytest.fail("work was done"))
        one = service_study["strategy"][0]
        service_study["strategy"] = [
            {**one, "name": f"{n}", "demand": {**one["demand"], "ambient_C": n / 100}} for n in range(4_700)
        ]
        strategies, readings = self.faults(client, service_study)
        assert "has 4700 entries, allowed are 50" in strategies
        assert "4700 different ways, allowed are 60" in readings

    def test_rows_are_bounded_by_what_they_add_up_to(self, client, service_study, small):
        """The demo's history has 18,001 rows, and both strategies read it in the same way."""
        small(study_rows=18_000)
        assert "reads 18001 rows" in self.faults(client, service_study)[0]
        small(study_rows=18_001)
        assert client.post(f"{API}/studies/check", json=service_study).status_code == 200
