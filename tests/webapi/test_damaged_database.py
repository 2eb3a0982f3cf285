"""A damaged database file is found, is not backed up, and what its tables still hold is made whole again."""

import sqlite3
from contextlib import closing

import pytest
import sqlalchemy as sa
from typer.testing import CliRunner

from webapi import migrate, models
from webapi.app import create_app
from webapi.backup import back_up
from webapi.cli.program import program
from webapi.database import make_engine, session_factory, write
from webapi.errors import DatabaseStateError
from webapi.services import health
from webapi.services.repair import repair
from webapi.settings import Settings
from webapi.store import open_store


@pytest.fixture
def place(tmp_path, monkeypatch):
    """An embedded database with forty studies, of which no process has the file open."""
    path = tmp_path / "record.sqlite"
    monkeypatch.setenv("PACKWEAR_DATABASE_URL", f"sqlite:///{path}")
    monkeypatch.setenv("PACKWEAR_STORE_URL", str(tmp_path / "store"))
    engine = make_engine(f"sqlite:///{path}")
    migrate.upgrade(engine)
    with session_factory(engine)() as session, write(session):
        session.add_all(models.Study(id=f"s{number}", title="x" * 200, document={}) for number in range(40))
    engine.dispose()
    return path


def spoil(path, table):
    """Overwrite the page on which a table begins."""
    with closing(sqlite3.connect(path)) as connection:
        page = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)).fetchone()[0]
        size = connection.execute("PRAGMA page_size").fetchone()[0]
    with path.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\xff" * size)


def lose_an_index_entry(path):
    """A row that an index of its table does not have."""
    index = "ix_studies_created_at_id"
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        row = connection.execute("SELECT * FROM sqlite_master WHERE name = ?", (index,)).fetchone()
        connection.execute("PRAGMA writable_schema=ON")
        connection.execute("DELETE FROM sqlite_master WHERE name = ?", (index,))
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("INSERT INTO studies SELECT 'lost', title, document, created_at FROM studies LIMIT 1")
        connection.execute("PRAGMA writable_schema=ON")
        connection.execute("INSERT INTO sqlite_master VALUES (?, ?, ?, ?, ?)", row)


def test_a_damaged_database_is_not_backed_up(place, tmp_path):
    settings = Settings.from_environment()
    back_up(settings, tmp_path / "before.db")
    spoil(place, "studies")
    with pytest.raises(DatabaseStateError, match="damaged .*no backup was made"):
        back_up(settings, tmp_path / "after.db")
    assert sorted(one.name for one in tmp_path.glob("*.db*")) == ["before.db"]


@pytest.mark.parametrize("table", ["studies", "alembic_version", "sqlite_schema"])
def test_every_command_names_the_damage_and_leaves_no_trace_of_the_program(place, tmp_path, table):
    if table == "sqlite_schema":
        place.write_bytes(b"no database at all, but long enough to be one" * 100)
    else:
        spoil(place, table)
    for command in (["check"], ["repair"], ["backup", str(tmp_path / "copy.db")]):
        done = CliRunner().invoke(program(), ["db", *command])
        assert done.exit_code == 1
        assert "damaged" in " ".join(done.output.split())
        assert isinstance(done.exception, SystemExit)


def test_the_service_names_the_damage_too(place):
    app = create_app(Settings.from_environment())
    client = app.test_client()
    assert client.get("/api/v1/studies").status_code == 200
    app.extensions["packwear"].engine.dispose()
    spoil(place, "studies")
    answer = client.get("/api/v1/studies")
    assert answer.status_code == 503
    assert "damaged" in answer.json["detail"]
    app.extensions["packwear"].engine.dispose()


def test_a_lost_index_entry_is_made_again(place, tmp_path):
    lose_an_index_entry(place)
    engine = make_engine(f"sqlite:///{place}")
    store = open_store(str(tmp_path / "store"))
    with session_factory(engine)() as session:
        newest = sa.text("SELECT id FROM studies INDEXED BY ix_studies_created_at_id ORDER BY created_at, id")
        assert len(session.execute(newest).all()) == 40
        session.rollback()
        done = list(repair(session, store, []))
        assert done == ["The database's indexes were damaged and are made anew."]
        assert len(session.execute(newest).all()) == 41
        assert health.examine(session, store).sound
    engine.dispose()


def test_a_backup_says_where_the_histories_are(place, tmp_path):
    done = CliRunner().invoke(program(), ["db", "backup", str(tmp_path / "copy.db")])
    assert done.exit_code == 0
    assert "The histories are not in it" in " ".join(done.output.split())
    assert str(tmp_path / "store") in done.output.replace("\n", "")
