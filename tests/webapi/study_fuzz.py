"""The fuzz run's cases, one after another, in a process that may take no more memory than a job."""

import copy
import json
import logging
import random
import resource
import time
import traceback
import warnings
from dataclasses import dataclass, field

from lifetime.errors import StudyError
from lifetime.report.html import report_html
from tests.webapi.study_cases import case
from webapi.database import make_engine, session_factory
from webapi.services import assessments, job_work, jobs, studies
from webapi.settings import StudyLimits
from webapi.store import open_store

REPORT_EVERY = 20
"""Pictures take most of the time."""
MEMORY = 3_000_000_000


@dataclass
class Outcomes:
    """How many cases ended in which way, and what is to be mended."""

    counts: dict[str, int] = field(default_factory=dict)
    faults: list[tuple[int, str, str]] = field(default_factory=list)


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


def run(database_url, store_url, entries, first, cases):
    """Outcomes of drawn studies with these history entries; bounds the memory of the process it runs in."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    warnings.simplefilter("ignore")
    engine = make_engine(database_url)
    factory, store = session_factory(engine), open_store(store_url)
    found = Outcomes()
    begun = time.monotonic()
    for number in range(first, first + cases):
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
        found.counts[word] = found.counts.get(word, 0) + 1
        if fault:
            found.faults.append((number, word, fault))
            print(f"case {number}: {word}: {fault}"[:600], flush=True)
        if number % 500 == 499:
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            told = f"{number + 1}: {found.counts}, {len(found.faults)} to mend"
            print(f"{told}, {peak:.0f} MiB, {time.monotonic() - begun:.0f} s", flush=True)
    engine.dispose()
    return found
