"""The service under load: 100,000 assessments on record, a crowd that asks for filtered and sorted pages.

Run: ``pytest tests/bench/test_bench_service.py -s -m bench``. Clients and service share the machine. Pages come at a
fixed rate whatever the service does, and each is timed from the instant at which it was due; then 50 clients ask as
fast as they are answered. The alternatives measured beside it are one process with eight threads, and paging by OFFSET.
Without ``-m bench`` a small record is used, so that the benchmark itself is tested; nothing here fails on time.
"""

import asyncio
import os
import socket
import statistics
import subprocess
import sys
import time
from contextlib import contextmanager

import pytest
import sqlalchemy as sa

from webapi import migrate, models
from webapi.database import locked, make_engine
from webapi.types import utc_now

pytestmark = pytest.mark.bench
CLIENTS = 50
RATES_PER_S = (50, 100, 200, 300)
SEVERAL = "from webapi.cli import main; main()"
ONE = """
import sys
from waitress import serve
from webapi.app import create_app
from webapi.settings import Settings
serve(create_app(Settings.from_environment()), host="127.0.0.1", port=int(sys.argv[3]), threads=8, _quiet=True)
"""
PATHS = [
    "/api/v1/assessments?sort=cost&limit=50",
    "/api/v1/assessments?sort=-life&limit=50&kind=battery",
    "/api/v1/assessments?sort=-created_at&limit=50&cell=lfp_schimpe_2018",
    "/api/v1/assessments?sort=cost&limit=50&life_min_years=5&life_max_years=12",
    "/api/v1/assessments?sort=strategy&limit=50&strategy=made%20up%2012",
]


def fill(engine, count):
    now = utc_now()
    cells = ["lfp_naumann_2020", "lfp_schimpe_2018", "nmc_schmalstieg_2014", "edlc_3000F_10K_0p2V"]

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


@contextmanager
def running(program, folder):
    """A service as processes of its own; gives its port once it answers."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = {
        **os.environ,
        "PACKWEAR_DATABASE_URL": f"sqlite:///{folder / 'x.db'}",
        "PACKWEAR_STORE_URL": str(folder / "store"),
        "PACKWEAR_WEB_PROCESSES": "2",
        "PACKWEAR_LOG_LEVEL": "warning",
    }
    with (folder / "log").open("ab") as log:
        process = subprocess.Popen(
            [sys.executable, "-c", program, "serve", "--port", str(port)], env=environment, stdout=log, stderr=log
        )
    try:
        end = time.monotonic() + 120.0
        while True:
            try:
                asyncio.run(ready(port))
                break
            except OSError:
                assert time.monotonic() < end, (folder / "log").read_text()
        yield port
    finally:
        process.terminate()
        process.wait(60.0)


class Client:
    """One client that keeps its connection."""

    def __init__(self, port):
        self.port, self.reader = port, None

    async def page(self, path):
        if self.reader is None:
            self.reader, self.writer = await asyncio.open_connection("127.0.0.1", self.port, limit=1 << 20)
        self.writer.write(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
        head = await self.reader.readuntil(b"\r\n\r\n")
        length = int(head.lower().split(b"content-length:")[1].split(b"\r\n")[0])
        body = await self.reader.readexactly(length)
        assert body.rstrip().endswith(b"}")
        return int(head[9:12])

    async def close(self):
        if self.reader is not None:
            self.writer.close()
            await self.writer.wait_closed()


async def ready(port):
    client = Client(port)
    try:
        assert await client.page("/api/v1/health/ready") == 200
    finally:
        await client.close()


async def arriving(port, rate_per_s, seconds):
    """Pages that come at a rate; seconds from when each was due to its last byte, and what went wrong."""
    idle, taken, failed = [], [], []
    begun = time.perf_counter()

    async def one(number):
        due = begun + number / rate_per_s
        await asyncio.sleep(due - time.perf_counter())
        client = idle.pop() if idle else Client(port)
        try:
            status = await client.page(PATHS[number % len(PATHS)])
            if status != 200:
                failed.append(status)
        except (OSError, asyncio.IncompleteReadError) as error:
            failed.append(error)
        taken.append(time.perf_counter() - due)
        idle.append(client)

    await asyncio.gather(*(one(number) for number in range(int(rate_per_s * seconds))))
    for client in idle:
        await client.close()
    return taken, failed, time.perf_counter() - begun


async def crowd(port, each):
    """Fifty clients, each of which asks again as soon as it is answered."""
    taken, failed = [], []
    begun = time.perf_counter()

    async def one(number):
        client = Client(port)
        for step in range(each):
            start = time.perf_counter()
            status = await client.page(PATHS[(number + step) % len(PATHS)])
            taken.append(time.perf_counter() - start)
            if status != 200:
                failed.append(status)
        await client.close()

    await asyncio.gather(*(one(number) for number in range(CLIENTS)))
    return taken, failed, time.perf_counter() - begun


def said(name, measured):
    taken, failed, elapsed = measured
    percentile = statistics.quantiles(taken, n=100)[98]
    print(
        f"{name}: {len(taken) / elapsed:.0f} pages/s, median {1000 * statistics.median(taken):.1f} ms, "
        f"99th percentile {1000 * percentile:.0f} ms, {len(failed)} errors"
    )
    assert failed == []


def test_search_under_load(full, tmp_path):
    count, each, rates, seconds = (100_000, 60, RATES_PER_S, 20.0) if full else (2_000, 2, (50,), 0.5)
    engine = make_engine(f"sqlite:///{tmp_path / 'x.db'}")
    migrate.upgrade(engine)
    begun = time.perf_counter()
    fill(engine, count)
    print(f"\n{count} assessments inserted in {time.perf_counter() - begun:.1f} s")
    with running(SEVERAL, tmp_path) as port:
        asyncio.run(crowd(port, 2))
        for rate in rates:
            said(f"{rate} pages due a second", asyncio.run(arriving(port, rate, seconds)))
        said(f"{CLIENTS} clients, two processes", asyncio.run(crowd(port, each)))
    if full:
        with running(ONE, tmp_path) as port:
            asyncio.run(crowd(port, 2))
            said(f"{CLIENTS} clients, one process of eight threads", asyncio.run(crowd(port, each)))
    with engine.connect() as connection:
        deep = count * 9 // 10
        by_key = timed(connection, f"cost_key > {5000.0 + 45_000} ORDER BY cost_key, id LIMIT 50")
        by_offset = timed(connection, f"1 ORDER BY cost_key, id LIMIT 50 OFFSET {deep}")
    print(
        f"a deep page by key {1000 * by_key:.2f} ms, by OFFSET {1000 * by_offset:.2f} ms; "
        f"ratio {by_offset / by_key:.0f}"
    )
    engine.dispose()


def timed(connection, condition):
    best = 1e9
    for _ in range(5):
        begun = time.perf_counter()
        connection.execute(sa.text(f"SELECT * FROM assessment_sources WHERE {condition}")).all()
        best = min(best, time.perf_counter() - begun)
    return best
