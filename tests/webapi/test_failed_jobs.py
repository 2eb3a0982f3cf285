"""Whatever goes wrong in a job ends that job in words, never its worker."""

import pytest
from sqlalchemy.exc import IntegrityError, OperationalError

from lifetime.errors import AssessmentError, Fault, StudyError
from webapi.errors import StoreError
from webapi.services import job_work, jobs

API = "/api/v1"

FORESEEN_AGAIN = [StoreError("the store is full"), MemoryError(), OSError(28, "No space left on device")]
CERTAIN_AGAIN = [
    ZeroDivisionError("float division by zero"),
    OverflowError(34, "Numerical result out of range"),
    KeyError("x"),
    RecursionError(),
    UnicodeEncodeError("utf-8", "\ud800", 0, 1, "half a character"),
    AssertionError(),
    IntegrityError("INSERT", {}, Exception("constraint")),
    AssessmentError("no answer\x00 \ud800"),
    StudyError("study", [Fault("a\x00", "b\ud800")] * 2_000),
]


@pytest.fixture
def failing(client, service_study, factory, store, monkeypatch):
    """Submit a study whose assessment raises, let the worker take it, and give the job as the API shows it."""

    def run(error):
        def raising(*_):
            raise error

        monkeypatch.setattr(job_work, "assess", raising)
        job = client.post(f"{API}/studies", json=service_study).json
        assert job_work.run(factory, store, job["id"], 60.0), "the job was ended here"
        monkeypatch.undo()
        return client.get(f"{API}/jobs/{job['id']}").json

    return run


@pytest.mark.parametrize("error", CERTAIN_AGAIN, ids=lambda error: type(error).__name__)
def test_what_happens_again_is_not_offered_again(failing, client, service_study, error):
    job = failing(error)
    assert (job["state"], job["retryable"], job["assessment_id"]) == ("failed", False, None)
    assert job["message"]
    again = client.post(f"{API}/studies", json=service_study)
    assert (again.status_code, again.json["state"]) == (200, "failed")
    assert client.get(f"/jobs/{job['id']}").status_code == 200


@pytest.mark.parametrize("error", FORESEEN_AGAIN, ids=lambda error: type(error).__name__)
def test_what_the_machine_did_may_be_tried_again(failing, client, service_study, work, error):
    job = failing(error)
    assert (job["state"], job["retryable"]) == ("failed", True)
    assert client.post(f"{API}/studies", json=service_study).status_code == 202
    assert work() == [True]
    assert client.get(f"{API}/jobs/{job['id']}").json["state"] == "done"


def test_a_busy_database_does_not_end_work_under_way(client, service_study, work, monkeypatch):
    """Notes on progress may be refused; the result is what counts."""
    real = jobs.note

    def busy(session, key, attempt, progress=None, message=None):
        if message is not None:
            raise OperationalError("UPDATE", {}, Exception("database is locked"))
        return real(session, key, attempt, progress, message)

    monkeypatch.setattr(jobs, "note", busy)
    job = client.post(f"{API}/studies", json=service_study).json
    assert work() == [True]
    assert client.get(f"{API}/jobs/{job['id']}").json["state"] == "done"
