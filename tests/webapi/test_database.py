"""Tables, migrations and types, the same on SQLite and PostgreSQL."""

import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy.exc import IntegrityError, StatementError

from lifetime.errors import NumberError
from webapi import migrate, models
from webapi.database import make_engine, session_factory, write
from webapi.errors import DatabaseStateError


def test_models_and_migrations_agree(engine):
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, models.Base.metadata) == []


def test_upgrade_twice_changes_nothing(engine, session):
    with write(session):
        session.add(models.Study(id="s", title="kept", document={}))
    assert migrate.upgrade(engine).state == "current"
    assert session.get(models.Study, "s").title == "kept"


def test_down_and_up_again_ends_where_it_was(engine):
    migrate.downgrade(engine, "base")
    assert migrate.state(engine).state == "empty"
    migrate.upgrade(engine)
    assert migrate.state(engine).state == "current"


NEXT = '''"""A made-up next revision.

Revision ID: 9999_made_up
Revises: HEAD
"""

import sqlalchemy as sa
from alembic import op

revision = "9999_made_up"
down_revision = "HEAD"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("studies") as batch:
        batch.add_column(sa.Column("remark", sa.Text(), nullable=False, server_default="none"))
        batch.alter_column("title", new_column_name="heading")


def downgrade() -> None:
    with op.batch_alter_table("studies") as batch:
        batch.alter_column("heading", new_column_name="title")
        batch.drop_column("remark")
'''


def test_upgrade_and_downgrade_keep_every_row(engine, session, tmp_path, monkeypatch):
    """A revision that rebuilds a table others point at, up and down again, on both databases."""
    import shutil

    folder = tmp_path / "migrations"
    shutil.copytree(migrate.migrations_folder(), folder, ignore=shutil.ignore_patterns("__pycache__"))
    head = migrate.state(engine).head
    (folder / "versions" / "9999_made_up.py").write_text(NEXT.replace("HEAD", head), encoding="utf-8")
    with write(session):
        session.add(models.Study(id="s", title="kept", document={"a": 1}))
        session.flush()
        session.add(models.Job(id="j", study_id="s", program_version="1"))
    session.close()
    monkeypatch.setattr(migrate, "migrations_folder", lambda: folder)
    assert migrate.state(engine).state == "behind"
    migrate.upgrade(engine)
    with engine.connect() as connection:
        rows = connection.execute(sa.text("SELECT heading, remark FROM studies")).all()
    assert rows == [("kept", "none")]
    migrate.downgrade(engine, head)
    assert session.get(models.Study, "s").document == {"a": 1}
    assert session.get(models.Job, "j").study_id == "s"


def test_two_programs_may_upgrade_at_once(database_url):
    code = (
        "import sys; from webapi import migrate; from webapi.database import make_engine; "
        "print(migrate.upgrade(make_engine(sys.argv[1])).state)"
    )
    runs = [
        subprocess.Popen([sys.executable, "-c", code, database_url], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        for _ in range(3)
    ]
    results = [run.communicate(timeout=120) for run in runs]
    assert [run.returncode for run in runs] == [0, 0, 0], results
    assert sorted(out.decode().strip() for out, _ in results) == ["current", "current", "empty"]
    engine = make_engine(database_url)
    assert migrate.state(engine).state == "current"
    engine.dispose()


def test_a_newer_database_is_refused_with_the_command_that_helps(engine):
    with engine.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999_from_the_future'"))
    for action in (migrate.require_current, migrate.upgrade):
        with pytest.raises(DatabaseStateError, match="pip install --upgrade packwear"):
            action(engine)


def test_an_empty_database_names_the_command_that_helps(database_url):
    engine = make_engine(database_url)
    with pytest.raises(DatabaseStateError, match="packwear db upgrade"):
        migrate.require_current(engine)
    engine.dispose()


class TestValues:
    """Cases of the kind DB."""

    @pytest.mark.parametrize("bad", [float("nan"), float("inf"), np.float64("nan")])
    def test_c100_nan_never_reaches_a_column(self, session, bad):
        row = models.Assessment(
            id="a", study_id="s", title="", program_version="", currency="", strategies=0, document={}
        )
        row.service_years = bad
        with pytest.raises((NumberError, StatementError), match="nan|inf"), write(session):
            session.add(models.Study(id="s", title="", document={}))
            session.flush()
            session.add(row)
        assert session.get(models.Study, "s") is None, "nothing of the transaction may stay"

    def test_c100_nor_a_document(self, session):
        with pytest.raises((NumberError, StatementError), match="nan"), write(session):
            session.add(models.Study(id="s", title="", document={"deep": [1.0, {"x": float("nan")}]}))

    def test_numpy_numbers_become_plain(self, session):
        with write(session):
            session.add(models.Study(id="s", title="", document={"x": np.float64(1.5), "y": np.arange(2)}))
        session.expire_all()
        assert session.get(models.Study, "s").document == {"x": 1.5, "y": [0, 1]}

    def test_c101_nothing_points_at_what_is_gone(self, session):
        with pytest.raises(IntegrityError), write(session):
            session.add(models.Job(id="j", study_id="nowhere", program_version="1"))
        with write(session):
            session.add(models.Study(id="s", title="", document={}))
            session.flush()
            session.add(models.Job(id="j", study_id="s", program_version="1"))
        with pytest.raises(IntegrityError), write(session):
            session.execute(sa.delete(models.Study))
        assert session.get(models.Job, "j") is not None

    def test_c101_foreign_keys_hold_on_every_pooled_connection(self, engine):
        if engine.dialect.name != "sqlite":
            pytest.skip("PostgreSQL has no switch for it")
        connections = [engine.connect() for _ in range(3)]
        assert [one.execute(sa.text("PRAGMA foreign_keys")).scalar() for one in connections] == [1, 1, 1]
        for one in connections:
            one.close()

    def test_c103_an_instant_keeps_its_zone(self, session):
        """2024-06-01T12:00+02:00 is 10:00Z, and a filter from 09:59Z to 10:01Z finds it."""
        moment = datetime(2024, 6, 1, 12, tzinfo=timezone(timedelta(hours=2)))
        with write(session):
            session.add(models.Study(id="s", title="", document={}, created_at=moment))
        session.expire_all()
        stored = session.get(models.Study, "s").created_at
        assert stored == moment
        assert stored.utcoffset() == timedelta(0)
        low, high = datetime(2024, 6, 1, 9, 59, tzinfo=UTC), datetime(2024, 6, 1, 10, 1, tzinfo=UTC)
        query = sa.select(models.Study.id).where(models.Study.created_at.between(low, high))
        assert session.scalars(query).all() == ["s"]

    def test_a_time_without_zone_is_refused(self, session):
        with pytest.raises((ValueError, StatementError), match="zone"), write(session):
            session.add(models.Study(id="s", title="", document={}, created_at=datetime(2024, 6, 1)))  # noqa: DTZ001


def test_writers_wait_for_each_other(engine):
    """Two threads that read, then write, on SQLite: neither is refused."""
    import threading

    factory = session_factory(engine)
    failed = []

    def add(number):
        try:
            for step in range(20):
                with factory() as opened:
                    opened.get(models.Study, "none")
                    with write(opened):
                        opened.add(models.Study(id=f"{number}-{step}", title="", document={}))
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=add, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    with factory() as opened:
        assert opened.scalar(sa.select(sa.func.count()).select_from(models.Study)) == 80
