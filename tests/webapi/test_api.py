"""The JSON API: every route, who may, the one error body, and hostile input."""

import copy
import csv
import gzip
import io
import json

import pytest

from lifetime import errors as library_errors
from webapi import errors as service_errors
from webapi import problems
from webapi.api.table import as_csv
from webapi.app import create_app
from webapi.errors import DatabaseStateError
from webapi.services import tokens

API = "/api/v1"
SCRIPT = "<script>alert(1)</script>"


def is_problem(answer, status):
    assert answer.status_code == status, answer.text
    assert answer.mimetype == "application/problem+json"
    body = answer.json
    assert set(body) == {"type", "title", "status", "detail", "request_id", "faults"}
    assert body["status"] == status
    assert body["detail"]
    assert body["request_id"] == answer.headers["X-Request-Id"]
    assert all(set(fault) == {"place", "message"} for fault in body["faults"])
    return body


class TestTheMainWay:
    def test_upload_submit_follow_read(self, client, service_study, work):
        answer = client.post(f"{API}/studies", json=service_study)
        assert answer.status_code == 202
        job = answer.json
        assert job["state"] == "queued"
        assert work() == [True]
        done = client.get(f"{API}/jobs/{job['id']}").json
        assert (done["state"], done["progress"]) == ("done", 1.0)
        found = client.get(f"{API}/assessments/{done['assessment_id']}")
        names = {one["name"] for one in found.json["strategies"]}
        assert names == {one["name"] for one in service_study["strategy"]}
        assert found.json["strategies"][0]["day"]["modes"]
        assert found.json["study_id"] == job["study_id"]
        ranking = client.get(f"{API}/studies/{job['study_id']}/ranking").json["items"]
        assert [row["rank"] for row in ranking] == sorted(row["rank"] for row in ranking)
        assert client.get(f"{API}/studies").json["items"][0]["id"] == job["study_id"]

    def test_the_same_study_is_the_same_job(self, client, service_study):
        """Whatever the order of its keys."""
        first = client.post(f"{API}/studies", json=service_study)
        turned = {key: service_study[key] for key in reversed(service_study)}
        second = client.post(f"{API}/studies", json=turned)
        assert (first.status_code, second.status_code) == (202, 200)
        assert first.json["id"] == second.json["id"]

    def test_an_upload_again_is_the_same_history(self, client, uploaded, demo_csv):
        answer = client.post(f"{API}/histories", data={"file": (io.BytesIO(demo_csv), "other name.csv")})
        assert (answer.status_code, answer.json["id"]) == (200, uploaded)
        assert [one["id"] for one in client.get(f"{API}/histories").json["items"]] == [uploaded]

    def test_a_history_offers_roles_and_shows_rows(self, client, uploaded):
        row = client.get(f"{API}/histories/{uploaded}").json
        assert [(one["name"], one["could_be"]) for one in row["columns"]] == [("t_s", "time"), ("p_dc_W", "power")]
        fits = [[(fit["role"], fit["objection"]) for fit in one["fits"]] for one in row["columns"]]
        assert fits == [[], [("power", None)]]
        assert row["rows"] == 3601
        assert client.get(f"{API}/histories/{uploaded}/preview").json["rows"][0] == ["0.0", "3500.0"]

    def test_parameter_sets_carry_their_sources(self, client):
        items = client.get(f"{API}/parameter-sets").json["items"]
        assert {"lfp_naumann_2020", "edlc_3000F_10K_0p2V"} <= {one["id"] for one in items}
        one = client.get(f"{API}/parameter-sets/lfp_naumann_2020").json
        assert all(value["source"] and value["grade"] for value in one["values"])

    def test_what_never_changes_carries_an_etag(self, client, assessed):
        answer = client.get(f"{API}/assessments/{assessed}")
        tag = answer.headers["ETag"]
        assert "immutable" in answer.headers["Cache-Control"]
        again = client.get(f"{API}/assessments/{assessed}", headers={"If-None-Match": tag})
        assert (again.status_code, again.data) == (304, b"")

    def test_search_follows_cursors(self, client, assessed):
        first = client.get(f"{API}/assessments?sort=cost&limit=2").json
        rest = client.get(f"{API}/assessments?sort=cost&limit=2&cursor={first['next_cursor']}").json
        assert len(first["items"]) == 2
        assert len(rest["items"]) == 1
        assert rest["next_cursor"] is None
        assert {row["assessment_id"] for row in first["items"]} == {assessed}

    def test_the_life_table_is_for_cost_models(self, client, assessed):
        """Units stand in the column names; JSON and CSV hold the same rows."""
        rows = client.get(f"{API}/life-table").json["items"]
        text = client.get(f"{API}/life-table", headers={"Accept": "text/csv"})
        assert text.mimetype == "text/csv"
        table = list(csv.DictReader(io.StringIO(text.text)))
        assert [row["strategy"] for row in table] == [row["strategy"] for row in rows]
        assert float(table[0]["strategy_net_present_cost_currency"]) == rows[0]["strategy_net_present_cost_currency"]
        assert {"life_years", "energy_losses_kWh_per_year", "strategy_cost_currency_per_km"} <= set(table[0])

    def test_checking_stores_nothing(self, client, service_study):
        assert client.post(f"{API}/studies/check", json=service_study).status_code == 200
        assert client.get(f"{API}/studies").json["items"] == []

    def test_health(self, client):
        assert client.get(f"{API}/health/live").json["status"] == "live"
        assert client.get(f"{API}/health/ready").json["status"] == "ready"

    def test_description_and_its_page_need_no_other_host(self, client):
        spec = client.get("/api/openapi.json").json
        assert spec["openapi"].startswith("3.1")
        assert "Study" in spec["components"]["schemas"]
        page = client.get("/api/docs")
        assert page.status_code == 200
        assert "http://" not in page.text.replace("http://localhost", "")
        assert "<script" not in page.text


class TestErrors:
    """Every way to fail answers with the one body."""

    @pytest.mark.parametrize(
        ("method", "path", "status"),
        [
            ("get", "/nowhere", 404),
            ("get", f"{API}/nowhere", 404),
            ("put", f"{API}/studies", 405),
            ("get", f"{API}/jobs/none", 404),
            ("get", f"{API}/assessments/none", 404),
            ("get", f"{API}/histories/none", 404),
            ("get", f"{API}/histories/none/preview", 404),
            ("get", f"{API}/parameter-sets/none", 404),
            ("get", f"{API}/studies/none/ranking", 404),
            ("get", f"{API}/assessments?colour=red", 400),
            ("get", f"{API}/assessments?limit=0", 400),
            ("get", f"{API}/assessments?limit=many", 400),
            ("get", f"{API}/assessments?sort=colour", 400),
            ("get", f"{API}/assessments?cursor=xyz", 400),
            ("get", f"{API}/assessments?life_min_years=nan", 400),
            ("get", f"{API}/assessments?created_from=2026-01-01T00:00:00", 400),
            ("get", f"{API}/assessments?cell=%00", 400),
            ("get", f"{API}/histories?sort=name", 400),
            ("get", f"{API}/life-table?format=xlsx", 400),
            ("post", f"{API}/histories", 422),
            ("post", f"{API}/studies", 415),
            ("post", f"{API}/studies/check", 415),
        ],
    )
    def test_error_shape(self, client, method, path, status):
        is_problem(getattr(client, method)(path), status)

    def test_every_error_of_both_trees_has_a_status(self):
        kinds = {
            one
            for module in (library_errors, service_errors)
            for one in vars(module).values()
            if isinstance(one, type) and issubclass(one, library_errors.PackwearError)
        }
        assert kinds <= set(problems.STATUS)

    def test_a_mistake_of_ours_is_no_stack_trace(self, app, client, monkeypatch):
        from webapi.api import jobs as route

        monkeypatch.setattr(route.jobs, "get", lambda *_: 1 / 0)
        body = is_problem(client.get(f"{API}/jobs/x"), 500)
        assert "division" not in body["detail"]

    def test_all_faults_of_a_study_are_listed_at_once(self, client, service_study):
        broken = copy.deepcopy(service_study)
        broken["colour"] = "red"
        broken["service"]["years"] = -1
        broken["battery"]["cell"] = "../../etc/passwd"
        broken["strategy"][1]["demand"]["file"] = "/etc/passwd"
        faults = is_problem(client.post(f"{API}/studies", json=broken), 422)["faults"]
        places = {fault["place"] for fault in faults}
        assert {"colour", "service.years", "battery.cell", "strategy[2].demand"} <= places

    @pytest.mark.parametrize("text", ["NaN", "1e999", "-Infinity", '"50"', "true", "null", "-5", "0"])
    def test_c95_bad_numbers_are_refused_by_name(self, client, service_study, text):
        service_study["battery"]["series"] = "PLACE"
        body = json.dumps(service_study).replace('"PLACE"', text)
        answer = client.post(f"{API}/studies", data=body, content_type="application/json")
        found = is_problem(answer, answer.status_code)
        assert answer.status_code in {400, 422}
        if answer.status_code == 422:
            assert "battery.series" in {fault["place"] for fault in found["faults"]}
        assert client.get(f"{API}/studies").json["items"] == []

    @pytest.mark.parametrize(
        "body",
        ["", "{", "[]", "5", '"x"', "[" * 100_000, '{"a":' * 5_000 + "1" + "}" * 5_000, '{"a":1,"a":2}', "\ud800"],
        ids=["empty", "cut", "list", "number", "text", "brackets", "nested", "twice", "half"],
    )
    def test_what_is_no_study_is_refused(self, client, body):
        answer = client.post(
            f"{API}/studies/check", data=body.encode("utf-8", "surrogatepass"), content_type="application/json"
        )
        is_problem(answer, answer.status_code)
        assert 400 <= answer.status_code < 500

    def test_c94_a_life_that_is_not_reached_is_null_with_its_state(self, client, service_study, work):
        """Cold storage outlives the search; strict JSON says null and why."""
        service_study["service"].pop("climate")
        service_study["service"]["ambient_C"] = -40.0
        service_study["service"]["working_days_per_year"] = 0.0
        service_study["battery"]["parallel"] *= 50  # in such cold the pack would not deliver its power
        service_study["end_of_life"]["battery_longest_life_years"] = 50
        job = client.post(f"{API}/studies", json=service_study).json
        work()
        key = client.get(f"{API}/jobs/{job['id']}").json["assessment_id"]
        text = client.get(f"{API}/assessments/{key}").text
        assert "NaN" not in text
        assert "Infinity" not in text
        source = json.loads(text)["strategies"][0]["battery"]
        assert source["life_years"] is None
        assert source["life_state"] == "beyond_search_limit"

    def test_a_study_larger_than_allowed(self, client, service_study, settings):
        service_study["title"] = "x"
        body = json.dumps(service_study) + " " * settings.study_bytes
        is_problem(client.post(f"{API}/studies", data=body, content_type="application/json"), 413)


# The test client itself leaves the spooled body of a large form to the garbage collector.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning", "ignore::ResourceWarning")
class TestUploads:
    def test_c97_one_byte_over_the_limit(self, client, settings):
        """As a form, as a raw body, as a body whose length is not said."""
        body = b"t_s,i_A\n" + b"0,1\n" * (settings.upload_bytes // 4)
        body = body[: settings.upload_bytes + 1]
        is_problem(client.post(f"{API}/histories", data={"file": (io.BytesIO(body), "x.csv")}), 413)
        is_problem(client.post(f"{API}/histories?name=x.csv", data=body), 413)
        answer = client.post(
            f"{API}/histories?name=x.csv",
            input_stream=io.BytesIO(body),
            environ_overrides={"wsgi.input_terminated": True},
        )
        is_problem(answer, 413)
        assert client.get(f"{API}/histories").json["items"] == []

    def test_c97_a_form_over_half_a_megabyte_is_no_hidden_limit(self, client):
        rows = b"t_s,i_A\n" + b"".join(b"%d,1.0\n" % k for k in range(100_000))
        assert len(rows) > 500_001
        answer = client.post(f"{API}/histories", data={"file": (io.BytesIO(rows), "x.csv")})
        assert answer.status_code == 201

    @pytest.mark.parametrize(
        ("name", "shown"),
        [
            ("../../x.csv", "x.csv"),
            ("..\\..\\x.csv", "x.csv"),
            ("/etc/x", "x"),
            ("a\x00.csv", "a.csv"),
            ("", "unnamed"),
            (".", "unnamed"),
            ("测试.csv", "测试.csv"),
            ("Zyklus Ω.csv", "Zyklus Ω.csv"),
            (SCRIPT, "script>"),
        ],
    )
    def test_c104_names_are_only_shown(self, client, app, tmp_path, name, shown):
        from urllib.parse import quote

        before = {path for path in tmp_path.parent.rglob("*") if path.is_file()}
        answer = client.post(f"{API}/histories?name={quote(name)}", data=b"t_s,i_A\n0,1\n1,2\n")
        assert answer.json["file_name"] == shown
        written = {path for path in tmp_path.parent.rglob("*") if path.is_file()} - before
        assert {path.suffix for path in written} <= {".parquet", ".db-wal", ".db-shm", ".db"}

    def test_the_format_is_found_from_the_content(self, client):
        answer = client.post(f"{API}/histories?name=picture.png", data=b"t_s;i_A\n0;1\n1;2\n")
        assert answer.json["format"] == "CSV"

    @pytest.mark.parametrize(
        "body",
        [b"", b"\x89PNG\r\n\x1a\n\x00\x00", b"PAR1 but not", gzip.compress(bytes(3_000_000)), b"a,b\n1\n", b"only\n"],
        ids=["empty", "picture", "half parquet", "packed zeros", "ragged", "header"],
    )
    def test_what_is_no_history_is_refused(self, client, body):
        answer = client.post(f"{API}/histories?name=x", data=body)
        is_problem(answer, answer.status_code)
        assert answer.status_code in {413, 422}
        assert client.get(f"{API}/histories").json["items"] == []

    def test_ten_thousand_columns(self, client):
        header = ",".join(f"c{k}" for k in range(10_000))
        answer = client.post(f"{API}/histories?name=x", data=f"{header}\n{header}\n".encode())
        assert "10000 columns" in is_problem(answer, 413)["detail"]

    def test_c109_a_small_parquet_with_huge_content(self, client, tmp_path):
        import numpy as np
        import pyarrow as pa
        from pyarrow import parquet

        path = tmp_path / "bomb.parquet"
        schema = pa.schema([("t_s", pa.float64())])
        with parquet.ParquetWriter(path, schema, compression="zstd") as writer:
            for _ in range(20):
                writer.write_table(pa.table({"t_s": np.zeros(1_000_000)}, schema=schema))
        assert path.stat().st_size * 100 < 20 * 8_000_000
        is_problem(client.post(f"{API}/histories?name=x", data=path.read_bytes()), 413)


class TestText:
    def test_c106_a_script_in_a_name_is_text(self, client, service_study, work):
        service_study["title"] = SCRIPT
        service_study["strategy"][0]["name"] = '"><img src=x onerror=alert(1)>'
        job = client.post(f"{API}/studies", json=service_study).json
        work()
        key = client.get(f"{API}/jobs/{job['id']}").json["assessment_id"]
        answer = client.get(f"{API}/assessments/{key}")
        assert answer.mimetype == "application/json"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.json["study"]["title"] == SCRIPT

    def test_c107_formulas_are_text_and_negative_numbers_are_numbers(self):
        rows = [{"strategy": name, "value": -0.02} for name in ("=1+1", "@x", "+1", "-2+3", "plain")]
        table = list(csv.DictReader(io.StringIO(as_csv(rows))))
        assert [row["strategy"] for row in table] == ["'=1+1", "'@x", "'+1", "'-2+3", "plain"]
        assert {float(row["value"]) for row in table} == {-0.02}

    def test_c98_the_same_twice_then_another(self, client, service_study):
        """A study posted twice is one job, and the next study is not disturbed."""
        statuses = [client.post(f"{API}/studies", json=service_study).status_code for _ in range(2)]
        service_study["title"] = "B"
        statuses.append(client.post(f"{API}/studies", json=service_study).status_code)
        assert statuses == [202, 200, 202]


class TestWhoMay:
    @pytest.fixture
    def keys(self, factory):
        with factory() as opened:
            made = {role: tokens.create(opened, role, role) for role in ("reader", "analyst", "administrator")}
        return {role: secret for role, (_, secret) in made.items()} | {"reader_id": made["reader"][0].id}

    @pytest.mark.parametrize(
        ("method", "path", "least"),
        [
            ("get", f"{API}/histories", "reader"),
            ("get", f"{API}/parameter-sets", "reader"),
            ("get", f"{API}/assessments", "reader"),
            ("get", f"{API}/life-table", "reader"),
            ("post", f"{API}/studies/check", "reader"),
            ("post", f"{API}/histories", "analyst"),
            ("post", f"{API}/studies", "analyst"),
        ],
    )
    def test_roles(self, app, keys, method, path, least):
        order = ["reader", "analyst", "administrator"]
        for role in order:
            answer = getattr(app.test_client(), method)(path, headers={"Authorization": f"Bearer {keys[role]}"})
            if order.index(role) < order.index(least):
                is_problem(answer, 403)
            else:
                assert answer.status_code not in {401, 403}

    @pytest.mark.parametrize(
        "header", ["", "Bearer ", "Bearer x", "Basic abc", "Bearer packwear_1_2", "Bearer " + "a" * 5000, "Bearer ö"]
    )
    def test_wrong_tokens(self, app, keys, header):
        is_problem(app.test_client().get(f"{API}/histories", headers={"Authorization": header}), 401)

    def test_a_revoked_token_is_out_at_once(self, app, factory, keys):
        headers = {"Authorization": f"Bearer {keys['reader']}"}
        assert app.test_client().get(f"{API}/histories", headers=headers).status_code == 200
        with factory() as opened:
            assert tokens.listed(opened)
            tokens.revoke(opened, keys["reader_id"])
        body = is_problem(app.test_client().get(f"{API}/histories", headers=headers), 401)
        assert keys["reader"] not in json.dumps(body)

    def test_secrets_are_kept_hashed_and_their_use_noted(self, app, factory, keys):
        app.test_client().get(f"{API}/histories", headers={"Authorization": f"Bearer {keys['reader']}"})
        with factory() as opened:
            rows = {row.name: row for row in tokens.listed(opened)}
        secret = keys["reader"].split("_", 2)[2]  # the secret itself may hold an underscore
        assert secret not in rows["reader"].secret_hash
        assert rows["reader"].last_used_at is not None
        assert rows["analyst"].last_used_at is None

    def test_another_address_refuses_to_start_without_tokens(self, engine, settings):
        open_to_all = settings.model_copy(update={"host": "0.0.0.0"})  # noqa: S104 - it must refuse
        with pytest.raises(DatabaseStateError, match="packwear token create"):
            create_app(open_to_all)

    def test_without_a_token_only_loopback_on_the_embedded_database_answers(self, app, settings):
        answer = app.test_client().get(f"{API}/histories")
        assert answer.status_code == (401 if settings.needs_token else 200)

    def test_too_many_submissions_wait(self, engine, settings, app):
        strict = create_app(settings.model_copy(update={"submissions_per_minute": 2}))
        client = strict.test_client()
        if app.test_token:
            client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {app.test_token}"
        answers = [client.post(f"{API}/studies", json={}) for _ in range(3)]
        assert [answer.status_code for answer in answers] == [422, 422, 429]
        assert int(answers[2].headers["Retry-After"]) >= 1
        strict.extensions["packwear"].engine.dispose()


def test_every_answer_carries_the_protecting_headers(client):
    for path in (f"{API}/histories", "/nowhere", "/api/docs", "/api/openapi.json"):
        headers = client.get(path).headers
        assert "script-src 'self'" in headers["Content-Security-Policy"]
        assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
        assert headers["X-Content-Type-Options"] == "nosniff"


def test_logs_hold_no_secret(client, app, caplog):
    import logging

    caplog.set_level(logging.INFO, logger="packwear")
    logging.getLogger("packwear").propagate = True
    client.get(f"{API}/assessments?strategy=secretname", headers={"Authorization": "Bearer packwear_a_hidden"})
    text = " ".join(str(record.__dict__) for record in caplog.records)
    assert "hidden" not in text
    assert "secretname" not in text


def test_without_tokens_no_other_name_leads_to_the_service(client, settings):
    # A page of the internet can let its own name point at this machine and ask as if it belonged to the service.
    answer = client.get("/api/v1/health/live", headers={"Host": "elsewhere.example:8080"})
    assert answer.status_code == (200 if settings.needs_token else 400)
    for ours in ("localhost:8080", "127.0.0.1:8080", "[::1]:8080"):
        assert client.get("/api/v1/health/live", headers={"Host": ours}).status_code == 200
