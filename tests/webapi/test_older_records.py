"""Records that version 1 of the program stored open in pages, API and rerun, with the numbers they were stored with.

The records under ``tests/results/version_1`` were written by packwear 0.1.0 at database revision 0003: the demo study,
and an invented study of small histories with a parameter set of its own. They are fixtures of the stored form; every
expected number is read from the record itself.
"""

import hashlib
import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa

from lifetime.results.document import SCHEMA_VERSION
from webapi import migrate
from webapi.app import create_app
from webapi.database import make_engine, session_factory
from webapi.services import reruns, tokens
from webapi.settings import UploadLimits
from webapi.store.intake import take_in

STORED = Path(__file__).parents[1] / "results" / "version_1"
NAMES = ("demo", "histories")
MEANT_OTHERWISE = {"demo": set(), "histories": {"Low-pass, 30 s", "State table", "Ten times the power"}}
"""Strategies that this version gives other numbers: it samples a demand as a history is sampled, linearly."""
NEXT_TO_AN_AGED_BANK = {"Battery limited to 30 kW", "Battery limited to 60 kW", "Low-pass, 5 s", "Low-pass, 20 s"}
"""Their battery is now judged next to a bank that ages too: by some per cent less or more, no further."""
COST = "net present cost"
"""Differs everywhere: it was reckoned with the energy lost, and is with all energy bought."""
TABLES = ("histories", "parameter_sets", "studies", "assessments", "assessment_sources")
ANY_SIZE = UploadLimits(2**40, 2**40, 1e9, 10_000)


def record(name):
    return json.loads((STORED / f"{name}.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def records():
    return {name: record(name) for name in NAMES}


@pytest.fixture
def engine(database_url, records):
    """A database as version 1 left it, brought to today's revision."""
    made = make_engine(database_url)
    migrate.upgrade(made)
    migrate.downgrade(made, "0003_sweeps")
    old = sa.MetaData()
    old.reflect(made)
    with made.begin() as connection:
        for table in TABLES:
            rows = {_key(row): _typed(row) for one in records.values() for row in one[table]}
            connection.execute(old.tables[table].insert(), list(rows.values()))
    migrate.upgrade(made)
    yield made
    made.dispose()


def _typed(row):
    created = datetime.fromisoformat(row["created_at"]).replace(tzinfo=UTC)
    return {**row, "created_at": created}


def _key(row):
    return row["id"] if "id" in row else row["sha256"]


@pytest.fixture
def filled_store(store):
    """The store with the numbers of the histories, under the keys they were stored with."""
    files = [*(STORED / "files").iterdir()]
    before = {row["id"]: row["store_key"] for name in NAMES for row in record(name)["histories"]}
    for path in files:
        target = store.workspace() / path.name
        take_in(path, target, path.name, ANY_SIZE)
        store.put(target, before[hashlib.sha256(path.read_bytes()).hexdigest()])
    return store


@pytest.fixture
def client(engine, settings):
    secret = None
    if settings.needs_token:
        with session_factory(engine)() as opened:
            _, secret = tokens.create(opened, "tests", "administrator")
    app = create_app(settings)
    made = app.test_client()
    if secret is not None:
        made.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {secret}"
    yield made
    app.extensions["packwear"].engine.dispose()


def stored_result(records, name):
    row = records[name]["assessments"][0]
    return row["id"], row["document"], row["detail"]


@pytest.mark.parametrize("name", NAMES)
def test_the_api_tells_the_numbers_as_they_were_stored(client, records, name):
    key, document, detail = stored_result(records, name)
    told = client.get(f"/api/v1/assessments/{key}").json
    assert told["schema_version"] == SCHEMA_VERSION
    assert told["study"]["id"] == key
    for new, old, shown in zip(told["strategies"], document["strategies"], detail["strategies"], strict=True):
        assert (new["name"], new["rank"]) == (old["name"], old["rank"])
        assert new["cost"].get("net_present_cost") == old["cost"]["net_present"]
        assert [one["amount"] for one in new["cost"].get("cash_flows", [])] == [
            one["amount"] for one in old["cost"].get("payments", [])
        ]
        assert new["battery"]["life_years"] == old["battery"]["life_years"]
        assert new["battery"]["energy_losses_kWh_per_year"] == old["battery"]["heat_kWh_per_year"]
        assert new["battery"]["trajectory"]["capacity_fraction"] == shown["battery"]["course"]["capacity_fraction"]
        assert new["battery"]["time_map"]["hours_per_year"] == shown["battery"]["time_map"]["hours_per_year"]
        assert (new["day"] is None) == (shown["day"] is None)
        if new["day"] is not None:
            assert new["day"]["ultracapacitor_W"] == shown["day"]["bank_W"]
            assert [row["mode"] for row in new["day"]["modes"]].count("battery_to_ultracapacitor") == [
                row["mode"] for row in shown["day"]["modes"]
            ].count("battery_to_bank")


@pytest.mark.parametrize("name", NAMES)
def test_search_finds_them_under_the_new_words(client, records, name):
    key, document, _ = stored_result(records, name)
    found = client.get("/api/v1/assessments?limit=500").json["items"]
    rows = [row for row in found if row["assessment_id"] == key]
    states = {row["life_state"] for row in rows}
    assert states <= {"reached", "beyond_search_limit", "requirement_not_met"}
    costs = {one["name"]: one["cost"]["net_present"] for one in document["strategies"]}
    assert {row["strategy"]: row["strategy_net_present_cost_currency"] for row in rows} == costs
    assert not {row["parameter_grade"] for row in rows} & {"read", "reproduced", "from memory"}


def test_a_requirement_not_met_is_found_by_its_criterion(client, records):
    key, _, _ = stored_result(records, "histories")
    found = client.get("/api/v1/assessments?end_of_life_criterion=requirement").json["items"]
    assert [(row["assessment_id"], row["strategy"]) for row in found] == [(key, "Ten times the power")]


@pytest.mark.parametrize("name", NAMES)
def test_every_page_opens(client, filled_store, records, name):
    key, document, _ = stored_result(records, name)
    pages = [f"/assessments/{key}", f"/assessments/{key}/report", f"/studies/{records[name]['studies'][0]['id']}"]
    pages += [f"/assessments/{key}/strategies/{number + 1}" for number in range(len(document["strategies"]))]
    pages += ["/", "/search", "/studies", f"/studies/new?start={records[name]['studies'][0]['id']}"]
    for page in pages:
        answer = client.get(page)
        assert answer.status_code == 200, (page, answer.text[:500])
        for old in ("battery_to_bank", "beyond_horizon", "cannot_deliver", "from memory"):
            assert f">{old}<" not in answer.text
    life = document["strategies"][0]["battery"]["life_years"]
    assert f"{life:.1f} years" in client.get(pages[0]).text


def test_old_records_can_be_compared(client, records):
    keys = [stored_result(records, name)[0] for name in NAMES]
    assert client.get(f"/compare?id={keys[0]}&id={keys[1]}").status_code == 200
    figure = client.get(f"/compare/battery-capacity.json?id={keys[0]}&id={keys[1]}")
    assert figure.status_code == 200


@pytest.mark.parametrize("name", NAMES)
def test_rerun_agrees_with_what_was_stored(session, filled_store, records, name):
    key, document, _ = stored_result(records, name)
    found = reruns.rerun(session, filled_store, key)
    assert found.figures > 8 * len(document["strategies"])
    places = {
        one.place.rpartition(":")[0]
        for one in found.differences
        if one.relative > 1e-6 and not one.place.endswith(COST)
    }
    changed = {place.removesuffix(", battery").removesuffix(", ultracapacitor") for place in places}
    aged = NEXT_TO_AN_AGED_BANK if name == "demo" else set()
    assert changed - aged <= MEANT_OTHERWISE[name]
    moved = [one for one in found.differences if one.place.startswith(tuple(aged)) and not one.place.endswith(COST)]
    assert all(one.relative < 0.05 for one in moved), moved


def test_down_again_gives_the_two_documents_back(engine, records):
    migrate.downgrade(engine, "0003_sweeps")
    old = sa.MetaData()
    old.reflect(engine)
    table = old.tables["assessments"]
    sources = old.tables["assessment_sources"]
    with engine.connect() as connection:
        for name in NAMES:
            key, document, detail = stored_result(records, name)
            row = connection.execute(table.select().where(table.c.id == key)).one()
            assert (row.document, row.detail) == (document, detail)
            kept = connection.execute(sources.select().where(sources.c.assessment_id == key)).all()
            before = {(one["strategy"], one["kind"]): one for one in records[name]["assessment_sources"]}
            assert {(one.strategy, one.kind) for one in kept} == set(before)
            for one in kept:
                was = before[one.strategy, one.kind]
                assert (one.life_state, one.end_of_life_by, one.grade, one.per_year) == (
                    was["life_state"], was["end_of_life_by"], was["grade"], was["per_year"]
                )  # fmt: skip
