"""The service under load: 100,000 assessments on record, 50 clients asking for filtered and sorted pages.

Run: ``pytest tests/bench -s -m bench``. Without ``-m bench`` a small record is used, so that the benchmark itself is
tested; nothing here fails on time. The alternative measured beside it is paging by OFFSET.
"""

import http.client
import json
import statistics
import threading
import time

import pytest
import sqlalchemy as sa
from waitress.server import create_server

from webapi import migrate, models
from webapi.app import create_app
from webapi.database import locked, make_engine
from webapi.settings import Settings
from webapi.types import utc_now

pytestmark = pytest.mark.bench
CLIENTS = 50
PATHS = [
    "/api/v1/assessments?sort=cost&limit=50",
    "/api/v1/assessments?sort=-life&limit=50&kind=battery",
    "/api/v1/assessments?sort=-created_at&limit=50&cell=lfp_schimpe_2018",
    "/api/v1/assessments?sort=cost&limit=50&life_min_years=5&life_max_years=12",
    "/api/v1/assessments?sort=strategy&limit=50&strategy=made%20up%2012",
]


def fill(engine, count):
    now = utc_now()
    cells = ["lfp_naumann_2020", "lfp_schimpe_2018", "nmc_ev_scaled", "edlc_3000F_10K_0p2V"]

    def source(number):
        life = None if number % 50 == 0 else 1.0 + (number * 7919 % 30_000) / 1000.0
        cost = 5000.0 + (number * 104_729 % 50_000)
        return {
            "assessment_id": f"a{number}",
            "title": "made up",
            "strategy": f"Made up {number % 500}",
            "strategy_folded": f"made up {number % 500}",
            "rank": 1,
            "kind": "battery" if number % 4 else "ultracapacitor",
            "cell": cells[number % 4],
            "cell_sha256": "0" * 64,
            "grade": "derived",
            "life_years": life,
            "life_state": "reached" if life else "beyond_search_limit",
            "life_key": life or models.LIFE_BEYOND_SEARCH_YEARS,
            "end_of_life_criterion": "capacity",
            "equivalent_full_cycles_per_year": 1.0,
            "throughput_Ah_per_year": 1.0,
            "rms_current_A": 1.0,
            "peak_current_A": 1.0,
            "energy_losses_kWh_per_year": 1.0,
            "currency": "EUR",
            "service_years": 10.0,
            "net_present_cost": cost,
            "cost_key": cost,
            "program_version": "0",
            "created_at": now,
        }

    def assessment(number):
        return {
            "id": f"a{number}",
            "study_id": "s",
            "title": "made up",
            "program_version": "0",
            "currency": "EUR",
            "service_years": 10.0,
            "strategies": 1,
            "created_at": now,
            "document": {},
        }

    with locked(engine) as connection:
        connection.execute(
            sa.insert(models.Study), [{"id": "s", "title": "made up", "document": {}, "created_at": now}]
        )
        for first in range(0, count, 5000):
            numbers = range(first, min(first + 5000, count))
            connection.execute(sa.insert(models.Assessment), [assessment(number) for number in numbers])
            connection.execute(sa.insert(models.AssessmentSource), [source(number) for number in numbers])


def test_search_under_load(request, tmp_path):
    full = request.config.getoption("-m") == "bench"
    count, each = (100_000, 40) if full else (2_000, 2)
    url = f"sqlite:///{tmp_path / 'x.db'}"
    engine = make_engine(url)
    migrate.upgrade(engine)
    begun = time.perf_counter()
    fill(engine, count)
    print(f"\n{count} assessments inserted in {time.perf_counter() - begun:.1f} s")
    app = create_app(Settings(database_url=url, store_url=str(tmp_path / "store")))
    server = create_server(app, host="127.0.0.1", port=0, threads=8)
    threading.Thread(target=server.run, daemon=True).start()
    taken, failed = [], []

    def client(number):
        connection = http.client.HTTPConnection("127.0.0.1", server.effective_port)
        for step in range(each):
            start = time.perf_counter()
            connection.request("GET", PATHS[(number + step) % len(PATHS)])
            answer = connection.getresponse()
            body = json.loads(answer.read())
            taken.append(time.perf_counter() - start)
            if answer.status != 200 or not body["items"]:
                failed.append(body)
        connection.close()

    threads = [threading.Thread(target=client, args=(number,)) for number in range(CLIENTS)]
    begun = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    elapsed = time.perf_counter() - begun
    assert failed == []
    percentile = statistics.quantiles(taken, n=100)[98]
    print(
        f"{CLIENTS} clients, {len(taken)} pages: {len(taken) / elapsed:.0f} pages/s, "
        f"median {1000 * statistics.median(taken):.0f} ms, 99th percentile {1000 * percentile:.0f} ms"
    )
    with engine.connect() as connection:
        deep = count * 9 // 10
        by_key = timed(connection, f"cost_key > {5000.0 + 45_000} ORDER BY cost_key, id LIMIT 50")
        by_offset = timed(connection, f"1 ORDER BY cost_key, id LIMIT 50 OFFSET {deep}")
    print(
        f"a deep page by key {1000 * by_key:.2f} ms, by OFFSET {1000 * by_offset:.2f} ms; "
        f"ratio {by_offset / by_key:.0f}"
    )
    server.close()
    app.extensions["packwear"].engine.dispose()
    engine.dispose()


def timed(connection, condition):
    best = 1e9
    for _ in range(5):
        begun = time.perf_counter()
        connection.execute(sa.text(f"SELECT * FROM assessment_sources WHERE {condition}")).all()
        best = min(best, time.perf_counter() - begun)
    return best
