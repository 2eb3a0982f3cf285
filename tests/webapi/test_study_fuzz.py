"""Drawn studies through submission and worker: each is refused, assessed, or fails in words that somebody foresaw.

Runs two dozen cases; PACKWEAR_FUZZ_STUDIES=20000 in the environment makes it a soak, PACKWEAR_FUZZ_FROM=5000 begins
at another case, and what it finds is printed case by case.
"""

import os
from multiprocessing import get_context

import numpy as np
import pytest

from tests.webapi import study_fuzz
from webapi.services import histories
from webapi.settings import UploadLimits

CASES = int(os.environ.get("PACKWEAR_FUZZ_STUDIES", "25"))
FIRST = int(os.environ.get("PACKWEAR_FUZZ_FROM", "0"))
TIME_S = np.arange(0.0, 600.0, 5.0)
COLUMNS = {
    "demand": ("power", 3e4 * np.sin(TIME_S / 20.0) + 5e3),
    "battery": ("current", 60.0 * np.sin(TIME_S / 20.0) + 10.0),
    "ultracapacitor": ("current", 50.0 * np.sin(TIME_S / 10.0)),
    "speed": ("speed", 8.0 - 8.0 * np.cos(TIME_S / 30.0)),
}


@pytest.fixture
def entries(session, store, tmp_path):
    """History entries of stored files, by what they are."""
    found = {}
    for name, (role, values) in COLUMNS.items():
        path = tmp_path / f"{name}.csv"
        rows = "".join(f"{t:g},{value:.6g}\n" for t, value in zip(TIME_S, values, strict=True))
        path.write_text(f"t_s,{role}\n{rows}", encoding="utf-8")
        row, _ = histories.add_upload(session, store, path, path.name, UploadLimits())
        unit = {"power": "W", "current": "A", "speed": "m/s"}[role]
        found[name] = {"file": row.id, "time": "t_s", role: role, f"{role}_unit": unit}
    return found


def test_drawn_studies_end_in_order(engine, database_url, store, entries, tmp_path):
    # A process of its own: the memory that this one has taken already would count against the bound, and a thread
    # that cannot get its memory may wait for ever.
    with get_context("spawn").Pool(1) as pool:
        job = pool.apply_async(study_fuzz.run, (database_url, str(tmp_path / "store"), entries, FIRST, CASES))
        found = job.get(60.0 + 10.0 * CASES)
    assert found.faults == []
    assert {"refused", "done"} <= set(found.counts)
