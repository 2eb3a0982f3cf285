"""Rate limits that all web processes share."""

import multiprocessing
from concurrent.futures import ProcessPoolExecutor

from webapi import limits
from webapi.limits import RateLimit


def asked_elsewhere(per_minute, kind, file, caller):
    return RateLimit(per_minute, kind, file).wait_s(caller)


def test_two_processes_share_a_callers_allowance(tmp_path):
    """One action a minute: whichever process is asked first lets it pass, the other one does not."""
    file = tmp_path / "limits.db"
    here = RateLimit(1, "uploads", file)
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
        assert here.wait_s("a") == 0.0
        assert 0.0 < pool.submit(asked_elsewhere, 1, "uploads", file, "a").result() <= 60.0
        assert pool.submit(asked_elsewhere, 1, "uploads", file, "b").result() == 0.0
        assert 0.0 < here.wait_s("b") <= 60.0
        assert RateLimit(1, "checks", file).wait_s("a") == 0.0, "what is counted elsewhere is another matter"
        assert RateLimit(1, "uploads").wait_s("a") == 0.0, "without a file the process counts for itself"


def test_a_bucket_fills_again_and_is_forgotten_when_full(tmp_path, monkeypatch):
    """Three a minute: after three at once 20 s for each further one; waiting in vain takes nothing."""
    clock = [1_000.0]
    monkeypatch.setattr(limits.time, "monotonic", lambda: clock[0])
    limit = RateLimit(3)
    assert [limit.wait_s("a") for _ in range(4)] == [0.0, 0.0, 0.0, 20.0]
    clock[0] += 15.0
    assert round(limit.wait_s("a"), 9) == 5.0
    clock[0] += 5.0
    assert limit.wait_s("a") == 0.0
    clock[0] += 61.0
    assert [limit.wait_s("b"), limit.wait_s("a"), limit.wait_s("a"), limit.wait_s("a")] == [0.0] * 4
    clock[0] -= 3_600.0
    assert 0.0 < limit.wait_s("a") <= 60.0, "a clock that goes back gives nothing away"
    clock[0] += 10_000.0
    limit.wait_s("c")
    assert limit._buckets.execute("SELECT count(*) FROM buckets").fetchone() == (1,)
