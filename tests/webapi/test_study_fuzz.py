"""Drawn studies through submission and worker: each is refused, assessed, or fails in words that somebody foresaw.

Runs two dozen cases; PACKWEAR_FUZZ_STUDIES=20000 in the environment makes it a soak, PACKWEAR_FUZZ_FROM=5000 begins
at another case, and what it finds is printed case by case.
"""

import copy
import json
import logging
import os
import random
import resource
import time
import traceback

import numpy as np
import pytest

from lifetime.errors import StudyError
from lifetime.report.html import report_html
from tests.webapi.study_cases import case
from webapi.services import assessments, histories, job_work, jobs, studies
from webapi.settings import StudyLimits, UploadLimits

CASES = int(os.environ.get("PACKWEAR_FUZZ_STUDIES", "25"))
FIRST = int(os.environ.get("PACKWEAR_FUZZ_FROM", "0"))
REPORT_EVERY = 20
"""Pictures take most of the time."""
MEMORY = 3_000_000_000
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


@pytest.fixture
def bounded():
    """The process may take no more memory than a job, so that what asks for too much is seen."""
    before = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, before[1]))
    yield
    resource.setrlimit(resource.RLIMIT_AS, before)


class _Log(logging.Handler):
    """Keeps where the last unforeseen exception came from."""

    where = ""

    def emit(self, record):
        if record.exc_info:
            frames = traceback.extract_tb(record.exc_info[2])[-3:]
            lines = [f"{one.filename.rsplit('/', 2)[-2]}/{one.name}:{one.lineno}" for one in frames]
            self.where = f"{record.exc_info[0].__name__}: {record.exc_info[1]} at {' < '.join(reversed(lines))}"


def outcome(factory, store, document, *, in_full):
    """What becomes of a study: the word for it, and what is wrong with that."""
    try:
        with factory() as session:
            loaded = studies.check(session, store, document, limits=StudyLimits())
            job, _ = jobs.submit(session, loaded.study)
    except StudyError as error:
        json.dumps([(one.place, one.message) for one in error.faults]).encode()
        return "refused", "" if error.faults else "no fault is named"
    log = _Log()
    logging.getLogger("packwear").addHandler(log)
    try:
        job_work.run(factory, store, job.id, 600.0)
    finally:
        logging.getLogger("packwear").removeHandler(log)
    with factory() as session:
        job = jobs.get(session, job.id)
        if job.state == "failed":
            return "failed", log.where or ("memory" if "memory" in job.message else "")
        if job.state != "done":
            return job.state, "the job did not end"
        document = assessments.document_of(assessments.get(session, job.assessment_id))
        if in_full:
            report_html(document)
    return "done", ""


@pytest.mark.filterwarnings("ignore::RuntimeWarning", "ignore::UserWarning")
def test_drawn_studies_end_in_order(factory, store, entries, bounded):
    counts, faults = {}, []
    begun = time.monotonic()
    for number in range(FIRST, FIRST + CASES):
        document = case(random.Random(number), copy.deepcopy(entries))
        once = time.process_time()
        try:
            word, fault = outcome(factory, store, document, in_full=number % REPORT_EVERY == 0)
        except Exception as error:
            frames = traceback.extract_tb(error.__traceback__)[-3:]
            word, fault = "raised", f"{error!r} at {[f'{one.filename}:{one.lineno}' for one in frames]}"
        took = time.process_time() - once
        if took > 20.0:
            fault = fault or f"took {took:.0f} s"
        counts[word] = counts.get(word, 0) + 1
        if fault:
            faults.append((number, word, fault))
            print(f"case {number}: {word}: {fault}"[:600], flush=True)
        if number % 500 == 499:
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"{number + 1}: {counts}, {len(faults)} to mend, {peak:.0f} MiB, {time.monotonic() - begun:.0f} s",
                flush=True,
            )
    assert faults == []
    assert {"refused", "done"} <= set(counts)
