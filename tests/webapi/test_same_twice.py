"""What one database hides and another shows: the same sent many times at once, ids of any bytes, no right to write."""

from concurrent.futures import ThreadPoolExecutor

import pytest
import sqlalchemy as sa

from webapi import models
from webapi.database import make_engine, session_factory, write
from webapi.services import jobs
from webapi.services.insert_once import insert_once

API = "/api/v1"


def test_the_same_upload_answers_created_once(client, demo_csv):
    answers = [client.post(f"{API}/histories?name=a.csv", data=demo_csv).status_code for _ in range(3)]
    assert answers == [201, 200, 200]


def test_a_row_is_inserted_once_and_the_database_says_so(factory):
    found = []
    for _ in range(2):
        with factory() as session, write(session):
            row = models.ParameterSet(sha256="a" * 64, name="n", kind="battery", title="t", document="d")
            found.append(insert_once(session, row)[1])
    assert found == [True, False]


def test_many_submitting_the_same_at_once_get_one_job(factory, client, service_study):
    """Each in a transaction of its own; on PostgreSQL they truly run beside each other."""
    from lifetime.study.schema import Study

    study = Study.model_validate(service_study)

    def submit(_):
        with factory() as session:
            job, new = jobs.submit(session, study)
            return job.id, new

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(submit, range(24)))
    assert len({key for key, _ in answers}) == 1
    assert sum(new for _, new in answers) == 1


KEYS = ["%00", "a%00b", "%FF", "%ED%A0%80", "x" * 5_000, "%F0%9F%94%8B", "'", "%0A"]


@pytest.mark.parametrize("key", KEYS, ids=lambda key: key[:12])
def test_an_id_of_any_bytes_is_not_found(client, key):
    """On every route that takes one, as part of the path or of the query; never a server's error."""
    for rule in client.application.url_map.iter_rules():
        if "GET" not in rule.methods or not rule.arguments or {"filename", "release"} & rule.arguments:
            continue
        address = rule.rule
        for name in rule.arguments:
            address = address.replace(f"<{name}>", key).replace(f"<int:{name}>", "1")
        answer = client.get(address)
        assert 400 <= answer.status_code < 500, (address, answer.status_code)
    for address in ("/studies/new?start=", "/studies/new?use=", "/studies/new/text?start=", "/compare?one="):
        assert client.get(address + key).status_code < 500, address
    for name in ("strategy", "cell", "cursor", "kind", "end_of_life_by"):
        assert client.get(f"{API}/assessments?{name}={key}").status_code < 500, name
        assert client.get(f"/find?{name}={key}").status_code < 500, name


def test_a_server_without_the_right_to_write_can_be_read(app, client, assessed, database_url):
    """The last use of a token cannot be noted there; what would write is refused, with what to do."""
    if database_url.startswith("sqlite"):
        pytest.skip("SQLite has no such state of its own; a file without the right is a matter of the file system")
    engine = make_engine(database_url)
    name = engine.url.database
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(sa.text("UPDATE tokens SET last_used_at = NULL"))
        connection.execute(sa.text(f"ALTER DATABASE {name} SET default_transaction_read_only = on"))
    engine.dispose()
    app.extensions["packwear"].engine.dispose()
    assert client.get(f"{API}/assessments/{assessed}").status_code == 200
    assert client.get(f"/assessments/{assessed}").status_code == 200
    answer = client.post(f"{API}/histories?name=b.csv", data=b"t_s,i_A\n0,1\n1,2\n")
    assert answer.status_code == 503
    assert "no changes" in answer.json["detail"]
    engine = make_engine(database_url)
    with session_factory(engine)() as session:
        assert session.scalar(sa.select(models.Token.last_used_at)) is None
    engine.dispose()
