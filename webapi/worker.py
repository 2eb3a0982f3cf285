"""Workers: the job rows tell them what to do.

A worker looks at the rows a few times a second and takes what is queued or abandoned. There is nothing beside the rows
that could forget a job, or tell of one that is not there.
"""

import threading
from typing import Final

from sqlalchemy import Engine
from sqlalchemy.exc import SQLAlchemyError

from webapi import job_process, migrate
from webapi.database import engine_from, session_factory
from webapi.job_process import end_with_parent
from webapi.logs import LOGGER, start_logging
from webapi.services import jobs
from webapi.settings import Settings

_LOOK_EVERY_S: Final = 0.2
"""Short next to the seconds of an assessment; one look is a seek in an index."""
_MOVED_WAIT_S: Final = 5.0


def work_forever(settings: Settings, ended: threading.Event | None = None) -> None:
    """Do jobs until the process is stopped.

    Args:
        settings: With database and store.
        ended: Set by someone to end the work after the job in hand.

    Raises:
        DatabaseStateError: The database does not fit the program.
    """
    end_with_parent()
    start_logging(settings.log_level)
    engine = engine_from(settings)
    try:
        migrate.require_current(engine)
        _work(engine, settings, ended or threading.Event())
    finally:
        engine.dispose()


def _work(engine: Engine, settings: Settings, stop: threading.Event) -> None:
    factory = session_factory(engine)
    LOGGER.info("worker ready")
    while not stop.is_set():
        try:
            if migrate.state(engine).state != "current":
                LOGGER.error("the database was upgraded or taken back; this worker waits for its own version")
                stop.wait(_MOVED_WAIT_S)
                continue
            with factory() as session:
                found = jobs.waiting(session, settings.stale_job_s)
            for key in found:
                if stop.is_set():
                    break
                done = job_process.run(settings, factory, key)
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
            stop.wait(_LOOK_EVERY_S)
