"""PostgreSQL restarted under load: requests fail with a clear answer or wait, jobs end, nothing is lost."""

import os
import signal
import threading
import time
import uuid

import sqlalchemy as sa

from webapi import migrate, models
from webapi.app import create_app
from webapi.database import make_engine, session_factory
from webapi.services import tokens
from webapi.settings import Settings
from webapi.worker import work_forever


def test_restarted_under_load(own_postgres, tmp_path, demo_csv, demo_study):
    url = sa.engine.make_url(own_postgres.get_uri()).set(drivername="postgresql+psycopg")
    text = url.render_as_string(hide_password=False)
    engine = make_engine(text)
    migrate.upgrade(engine)
    with session_factory(engine)() as opened:
        _, token = tokens.create(opened, "tests", "administrator")
    settings = Settings(
        database_url=text, store_url=str(tmp_path / "store"), stale_job_s=2.0, submissions_per_minute=10_000
    )
    app = create_app(settings)
    client = app.test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {token}"
    ended = threading.Event()
    worker = threading.Thread(target=work_forever, args=(settings, ended), daemon=True)
    worker.start()
    key = client.post("/api/v1/histories?name=x.csv", data=demo_csv).json["id"]
    for strategy in demo_study["strategy"]:
        strategy["demand"]["file"] = key
    accepted, statuses = [], set()
    for number in range(12):
        if number in {4, 8}:
            os.kill(own_postgres.get_pid(), signal.SIGQUIT)  # an immediate shutdown, as when the machine fails
            threading.Timer(0.5, own_postgres.ensure_postgres_running).start()
        demo_study["title"] = f"{number} {uuid.uuid4().hex}"
        end = time.monotonic() + 60.0
        while time.monotonic() < end:
            answer = client.post("/api/v1/studies", json=demo_study)
            statuses.add(answer.status_code)
            if answer.status_code in {200, 202}:
                accepted.append(answer.json["id"])
                break
            assert answer.mimetype == "application/problem+json"
            time.sleep(0.1)
    assert len(accepted) == 12
    assert statuses <= {200, 202, 503}
    end = time.monotonic() + 90.0
    while time.monotonic() < end:
        states = [client.get(f"/api/v1/jobs/{job}") for job in accepted]
        if all(one.status_code == 200 and one.json["state"] == "done" for one in states):
            break
        time.sleep(0.2)
    ended.set()
    worker.join(timeout=20.0)
    assert not worker.is_alive()
    with session_factory(engine)() as opened:
        for model in (models.Study, models.Job, models.Assessment):
            assert opened.scalar(sa.select(sa.func.count()).select_from(model)) == 12
    engine.dispose()
    app.extensions["packwear"].engine.dispose()
