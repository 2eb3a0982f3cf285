"""Workers: a queue in the same database wakes them, the job rows tell them what to do.

The queue (huey) forgets a task whose worker dies, so nothing depends on it: at its start and every few seconds a
worker looks at the rows itself and takes what is queued or abandoned.
"""

import multiprocessing
import os
import threading
from functools import cache
from pathlib import Path
from typing import Any, Final

from sqlalchemy.engine import make_url
from sqlalchemy.exc import SQLAlchemyError

from webapi import migrate
from webapi.database import engine_from, session_factory
from webapi.logs import LOGGER, start_logging
from webapi.private import make_file
from webapi.services import jobs
from webapi.settings import Settings
from webapi.store import open_store

_NAME: Final = "packwear"
_LOOK_EVERY_S: Final = 5.0


@cache
def _queue(database_url: str) -> Any:
    """The queue beside the database's own tables."""
    url = make_url(database_url)
    if url.get_backend_name() == "sqlite":
        from huey import SqliteHuey  # noqa: PLC0415 - one of the two

        # A file of its own beside the database: the queue's writes then never wait for ours.
        path = Path(str(url.database))
        queue = path.with_name(path.name + ".queue")
        make_file(queue)
        return SqliteHuey(_NAME, filename=str(queue), fsync=False)
    from huey import PostgresHuey  # noqa: PLC0415

    return PostgresHuey(_NAME, dsn=url.set(drivername="postgresql").render_as_string(hide_password=False))


def wake(settings: Settings, job_id: str) -> None:
    """Tell the workers that a job waits; where that fails they find it by themselves a little later.

    Args:
        settings: With the database.
        job_id: The job.
    """
    try:
        queue = _queue(settings.database_url)
        queue.storage.enqueue(job_id.encode())
    except Exception as error:  # noqa: BLE001 - whatever the queue raises, the row is what counts
        LOGGER.warning("queue", extra={"facts": {"job": job_id, "error": type(error).__name__}})


def work_forever(settings: Settings, ended: threading.Event | None = None) -> None:
    """Do jobs until the process is stopped.

    Args:
        settings: With database and store.
        ended: Set by someone to end the work after the job in hand.

    Raises:
        DatabaseStateError: The database does not fit the program.
    """
    start_logging(settings.log_level)
    _end_with_parent()
    engine = engine_from(settings)
    migrate.require_current(engine)
    factory, store = session_factory(engine), open_store(settings.store_url)
    stop = ended or threading.Event()
    LOGGER.info("worker ready")
    while not stop.is_set():
        try:
            if migrate.has_moved(engine):
                LOGGER.error("the database was upgraded or taken back; this worker waits for its own version")
                stop.wait(_LOOK_EVERY_S)
                continue
            with factory() as session:
                found = jobs.waiting(session, settings.stale_job_s)
            for key in found:
                if stop.is_set():
                    break
                done = jobs.run(factory, store, key, settings.stale_job_s)
                LOGGER.info("job", extra={"facts": {"job": key, "ended_here": done}})
        except SQLAlchemyError as error:
            # The database may be restarting; the rows are still there when it is back.
            LOGGER.warning("database", exc_info=error)
            stop.wait(1.0)
            continue
        except Exception as error:  # noqa: BLE001 - a worker lives on whatever happens; the row shows an abandoned job
            LOGGER.error("worker", exc_info=error)
            stop.wait(1.0)
            continue
        if not found:
            _wait(settings, stop)
    engine.dispose()


def _end_with_parent() -> None:
    """End this process when the one that started it does; a job in hand is taken up by the next worker."""
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=watch, name="parent", daemon=True).start()


def _wait(settings: Settings, stop: threading.Event) -> None:
    """Wait until woken, at most a few seconds."""
    waited = 0.0
    while waited < _LOOK_EVERY_S and not stop.is_set():
        try:
            if _queue(settings.database_url).storage.dequeue() is not None:
                return
        except Exception as error:  # noqa: BLE001 - without a queue the rows are looked at every few seconds
            LOGGER.warning("queue", extra={"facts": {"error": type(error).__name__}})
            stop.wait(_LOOK_EVERY_S)
            return
        stop.wait(0.2)
        waited += 0.2
