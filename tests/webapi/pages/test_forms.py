"""Forms: nothing happens without our own form, tokens and roles hold, and a study goes through from upload to job."""

import io

import pytest

from lifetime.toml_text import toml_text
from webapi.app import create_app
from webapi.auth import COOKIE
from webapi.models import History, Job
from webapi.pages.field_text import shown
from webapi.pages.study_form import rules
from webapi.services import tokens


@pytest.fixture
def guarded(settings, engine, factory):
    """An application that asks for tokens, and one token of each role."""
    with factory() as session:
        made = {role: tokens.create(session, role, role)[1] for role in ("reader", "analyst")}
    app = create_app(settings.model_copy(update={"require_token": True}))
    yield app, made
    app.extensions["packwear"].engine.dispose()


@pytest.fixture
def send(client, read):
    """Send a page's form with some fields changed, as a browser would."""

    def _send(address, values, **changes):
        return client.post(address, data={**values, **changes}, content_type="multipart/form-data")

    return _send


def _sign_in(browser, token, read, **more):
    values = read(browser.get("/sign-in")).values()
    return browser.post("/sign-in", data={**values, "token": token, **more})


def test_without_a_token_only_the_sign_in_page_is_open(guarded, read):
    app, _ = guarded
    browser = app.test_client()
    for address in ("/", "/search", "/studies/new", "/histories", "/assessments/x"):
        answer = browser.get(address, headers={"Accept": "text/html"})
        assert answer.status_code == 302
        assert answer.headers["Location"].startswith("/sign-in?next=")
    assert browser.get("/jobs/x/state.json", headers={"Accept": "application/json"}).status_code == 401
    read(browser.get("/sign-in"))
    assert browser.get("/pages/static/pages.css").status_code == 200


def test_signing_in_and_out(guarded, read):
    app, made = guarded
    browser = app.test_client()
    answer = _sign_in(browser, made["reader"], read, next="/search?sort=cost")
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/search?sort=cost"
    cookie = next(one for one in answer.headers.getlist("Set-Cookie") if one.startswith(COOKIE))
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    page = read(browser.get("/"))
    assert "reader" in page.text
    out = browser.post("/sign-out", data=page.values())
    assert out.status_code == 302
    assert browser.get("/", headers={"Accept": "text/html"}).status_code == 302


@pytest.mark.parametrize("token", ["", "wrong", "packwear_abc_def"])
def test_a_wrong_token_does_not_sign_in(guarded, read, token):
    app, _ = guarded
    browser = app.test_client()
    answer = _sign_in(browser, token, read)
    assert read(answer, 401).text
    assert not [one for one in answer.headers.getlist("Set-Cookie") if one.startswith(COOKIE)]


@pytest.mark.parametrize(
    "target", ["https://elsewhere.example/", "//elsewhere.example/", "/\\elsewhere.example", "javascript:alert(1)", ""]
)
def test_signing_in_never_leads_to_another_site(guarded, read, target):
    app, made = guarded
    assert _sign_in(app.test_client(), made["reader"], read, next=target).headers["Location"] == "/"


def test_a_reader_may_look_but_not_change(guarded, read):
    app, made = guarded
    browser = app.test_client()
    _sign_in(browser, made["reader"], read)
    values = read(browser.get("/histories")).values()
    answer = browser.post(
        "/histories",
        data={**values, "file": (io.BytesIO(b"t [s],i [A]\n0,1\n1,2\n"), "x.csv")},
        content_type="multipart/form-data",
    )
    assert "needs the role analyst" in read(answer, 403).text


@pytest.mark.parametrize("address", ["/histories", "/studies/new", "/studies/new/text", "/studies/x/assess"])
@pytest.mark.parametrize("field", [None, "", "wrong"])
def test_a_form_from_another_site_changes_nothing(guarded, read, session, address, field):
    app, made = guarded
    browser = app.test_client()
    _sign_in(browser, made["analyst"], read)
    data = {"do": "submit", "text": "title = 'x'"} | ({} if field is None else {"csrf": field})
    answer = browser.post(address, data=data)
    assert "none of ours" in read(answer, 400).text
    assert session.query(History).count() == 0
    assert session.query(Job).count() == 0


def test_our_own_form_is_taken(guarded, read, demo_csv, session):
    app, made = guarded
    browser = app.test_client()
    _sign_in(browser, made["analyst"], read)
    values = read(browser.get("/histories")).values()
    answer = browser.post(
        "/histories",
        data={"csrf": values["csrf"], "file": (io.BytesIO(demo_csv), "../../yard_shift.csv")},
        content_type="multipart/form-data",
    )
    assert answer.status_code == 302
    page = read(browser.get(answer.headers["Location"]))
    assert "yard_shift.csv" in page.text
    assert "../" not in page.text
    assert session.query(History).count() == 1


def test_a_study_from_upload_to_ranking(client, read, send, work, demo_csv, demo_study):
    values = read(client.get("/studies/new")).values()
    answer = send("/studies/new", values, do="upload", file=(io.BytesIO(demo_csv), "yard_shift.csv"))
    page = read(answer)
    values = page.values()
    # Offered with evidence, and nothing chosen yet.
    assert "its name fits" in page.text
    assert values["input[1].time"] == ""
    assert values["input[1].discharge_is"] == ""
    values = read(send("/studies/new", values, do="offers-1")).values()
    assert values["input[1].time"] == "t_s"
    assert values["input[1].power"] == "p_dc_W"
    assert values["input[1].discharge_is"] == ""
    for _ in range(2):
        values = read(send("/studies/new", values, do="strategy")).values()
    values |= {
        "title": "By hand",
        "service.years": "10",
        "service.working_days_per_year": "300",
        "service.climate": "temperate",
        "service.day.charge_c_rate": "0.5",
        "service.day.charge_to_soc": "90",
        "battery.cell": "lfp_naumann_2020",
        "battery.series": "180",
        "battery.parallel": "40",
        "battery.start_soc": "90",
        "battery.price.purchase_per_kWh": "160",
        "ultracapacitor.cell": "edlc_3000F_10K_0p2V",
        "ultracapacitor.series": "216",
        "ultracapacitor.parallel": "1",
        "ultracapacitor.start_voltage_V": "480",
        "ultracapacitor.minimum_voltage_V": "270",
        "ultracapacitor.rest_voltage_V": "300",
        "ultracapacitor.price.purchase_per_farad_cell": "0.012",
        "cost.currency": "EUR",
        "cost.discount_rate": "6",
        "strategy[1].name": "Battery alone",
        "strategy[1].split.rule": "battery_only",
        "strategy[1].demand": "1",
        "strategy[2].name": "Filtered",
        "strategy[2].split.rule": "low_pass",
        "strategy[2].demand": "1",
        "strategy[2].split.time_constant_s": "20",
    }
    # The sign was never chosen: said, at its field, and everything else is still there.
    page = read(send("/studies/new", values, do="submit"), 422)
    assert "History 1, sign while the source discharges is needed." in page.text
    assert page.values()["strategy[2].name"] == "Filtered"
    values = page.values() | {"input[1].discharge_is": "positive"}
    answer = send("/studies/new", values, do="submit")
    assert answer.status_code == 302, answer.text[-3000:]
    job = answer.headers["Location"]
    assert "Waiting for a worker" in read(client.get(job)).text
    state = client.get(f"{job}/state.json").json
    assert state["finished"] is False
    work()
    state = client.get(f"{job}/state.json").json
    assert state["finished"] is True
    ranking = read(client.get(state["next"]))
    assert "By hand" in ranking.text
    assert "Filtered" in ranking.text
    # The same study again is not assessed again, but leads to what there is.
    assert send("/studies/new", values, do="submit").headers["Location"] == state["next"]


def test_the_librarys_faults_come_back_at_their_fields(client, read, send, service_study, uploaded):
    service_study["strategy"][1]["split"]["ultracapacitor_setpoint_V"] = 2000
    del service_study["strategy"][1]["split"]["ultracapacitor_setpoint_time_constant_s"]
    del uploaded
    study = client.post("/api/v1/studies/check", json=service_study)
    assert study.status_code == 422
    service_study["strategy"][1]["split"] = {"rule": "low_pass", "time_constant_s": 5}
    key = client.post("/api/v1/studies", json=service_study).json["study_id"]
    values = read(client.get(f"/studies/new?start={key}")).values()
    assert values["battery.start_soc"] == "90"
    values |= {"battery.start_soc": "5", "battery.minimum_soc": "10", "input[1].discharge_is": "positive"}
    values |= {"battery.price.purchase": "1", "input[1].voltage": "p_dc_W"}
    page = read(send("/studies/new", values, do="submit"), 422)
    # Faults of whole sections stand at the first field that they speak of, in the words of the labels.
    assert (
        "Battery pack, price of the pack, price of the whole pack [currency] give one of purchase (whole pack), "
        "“Price per kWh of rated energy” and “Price per cell”, and only one." in page.text
    )
    assert 'History 1 column "p_dc_W" is named for two quantities.' in page.text
    values |= {"battery.price.purchase": "", "input[1].voltage": ""}
    page = read(send("/studies/new", values, do="submit"), 422)
    assert (
        "Battery pack, state of charge at the start of the day [%] “State of charge at the start of the day” must lie "
        "between “Lowest state of charge allowed” and “Highest state of charge allowed”; change one of the three."
        in page.text
    )


def _typed(key):
    """What a person types into a required field of a rule."""
    if key.kind == "rows":
        return "traction low 1\r\nany any 0.5"
    if key.kind == "matrix":
        return "1 0.5\r\n1 0\r\n0.5 0"
    if key.kind == "numbers":
        return "-100000 0 100000" if key.key == "demand_W" else "270 480"
    if key.bounds.get("le") == 1.0:
        return shown(key, 0.9)
    return {"low_voltage_V": "300", "high_voltage_V": "450"}.get(key.key, "6000")


@pytest.mark.parametrize("rule", rules())
def test_every_rule_can_be_submitted_through_the_form(client, read, send, service_study, rule):
    rows = [f"{step / 10},{step % 7}000,{step % 50}" for step in range(200)]
    log = "\n".join(["t [s],P [W],v [km/h]", *rows]).encode()
    demand = {"file": client.post("/api/v1/histories?name=log.csv", data=log).json["id"], "discharge_is": "positive"}
    demand |= {"time": "t [s]", "power": "P [W]", "speed": "v [km/h]", "clean": ["bridge_gaps", "drop_spikes"]}
    for strategy in service_study["strategy"]:
        strategy["demand"] = demand
    start = client.post("/api/v1/studies", json=service_study).json["study_id"]
    values = read(client.get(f"/studies/new?start={start}")).values()
    values["strategy[2].split.rule"] = rule
    # Without a script the fields of a rule come with the next page: all of them, and only those.
    values = read(send("/studies/new", values, do="show")).values()
    names = {name for name in values if name.startswith("strategy[2].split.")}
    assert names == {"strategy[2].split.rule", *(name for name, _ in rules()[rule].walk("strategy[2].split"))}
    values |= {f"strategy[2].split.{key.key}": _typed(key) for key in rules()[rule].keys if key.required}
    answer = send("/studies/new", values, do="submit")
    assert answer.status_code == 302, answer.text
    study = client.get(answer.headers["Location"].replace("/jobs/", "/api/v1/jobs/")).json["study_id"]
    again = read(client.get(f"/studies/new?start={study}")).values()
    assert sorted(again["input[1].clean"]) == ["bridge_gaps", "drop_spikes"]
    given = {name: text for name, text in values.items() if text and name.startswith("strategy[2]")}
    assert {name: text.replace("\n", "\r\n") for name, text in again.items() if name in given} == given


def test_each_error_leads_to_its_field(client, read, send, uploaded):
    values = read(client.get(f"/studies/new?use={uploaded}")).values()
    values |= {"strategy[1].name": "a", "strategy[1].split.rule": "low_pass", "battery.thermal.hot_spot_K": "50"}
    page = read(send("/studies/new", values, do="submit"), 422)
    ids = {attributes.get("id") for _, attributes in page.tags}
    links = [attributes["href"][1:] for tag, attributes in page.tags if tag == "a" and attributes["href"][:1] == "#"]
    assert {"title", "battery-cell", "battery-thermal-hot_spot_K", "strategy-1-split-time_constant_s"} <= set(links)
    assert set(links) <= ids
    field = next(one for _, one in page.tags if one.get("id") == "battery-thermal-hot_spot_K")
    assert field["aria-invalid"] == "true"
    assert set(field["aria-describedby"].split()) == {f"{field['id']}-hint", f"{field['id']}-fault"} & ids
    # A section that may be left out is unfolded where something is wrong in it.
    assert "open" in next(one for _, one in page.tags if one.get("id") == "battery-thermal")
    assert "open" not in next(one for _, one in page.tags if one.get("id") == "battery-open_circuit")


def test_an_error_of_a_history_leads_to_the_history_that_a_strategy_names(client, read, send, service_study):
    for strategy in service_study["strategy"]:
        strategy["demand"]["discharge_is"] = "positive"
    start = client.post("/api/v1/studies", json=service_study).json["study_id"]
    values = read(client.get(f"/studies/new?start={start}")).values() | {"input[1].time_zone": "Nowhere"}
    page = read(send("/studies/new", values, do="submit"), 422)
    # Two strategies use it; it is said once.
    assert "1 error to correct" in page.text
    assert 'History 1, time zone "Nowhere" is not a zone of the IANA data base' in page.text
    assert [one["href"] for tag, one in page.tags if tag == "a" and one["href"][:1] == "#"][1:] == [
        "#input-1-time_zone"
    ]


def test_an_empty_form_names_everything_at_once_as_its_labels_do(client, read, send):
    values = read(client.get("/studies/new")).values()
    values |= {"strategy[1].name": "a", "strategy[1].split.rule": ""}
    page = send("/studies/new", values, do="submit")
    text = read(page, 422).text
    # The seven other keys that the schema requires, the title, and the rule; no section besides its fields.
    assert "9 errors to correct" in text
    for place in (
        "Title is needed.",
        "Service and duty, service life [years] is needed.",
        "Battery pack, cell is needed.",
        "Battery pack, cells in series is needed.",
        "Cost, currency is needed.",
        "Strategy 1, rule is needed: choose how this strategy shares the power.",
    ):
        assert place in text
    assert "README" not in text


def test_blocks_are_added_copied_and_removed(client, read, send, uploaded):
    values = read(client.get(f"/studies/new?use={uploaded}")).values()
    values = read(send("/studies/new", values, do="copy-1")).values()
    assert values["input[2].file"] == uploaded
    values = read(send("/studies/new", values, do="strategy")).values()
    values |= {"strategy[1].name": "a", "strategy[1].split.rule": "already_split"}
    values |= {"strategy[1].battery": "1", "strategy[1].ultracapacitor": "2"}
    values = read(send("/studies/new", values, do="drop-1")).values()
    # The second history is the first now, and its user follows it.
    assert "input[2].file" not in values
    assert values["strategy[1].ultracapacitor"] == "1"
    assert values["strategy[1].battery"] == ""
    values = read(send("/studies/new", values, do="forget-1")).values()
    assert "strategy[1].name" not in values


def test_a_bad_upload_in_the_form_keeps_the_form(client, read, send):
    values = read(client.get("/studies/new")).values() | {"title": "Kept"}
    page = read(send("/studies/new", values, do="upload", file=(io.BytesIO(b"\x00\x01"), "x.bin")), 422)
    assert page.values()["title"] == "Kept"
    page = read(send("/studies/new", values, do="upload"), 422)
    assert "no file was chosen" in page.text


def test_a_study_as_text(client, read, send, service_study, work):
    values = read(client.get("/studies/new/text")).values()
    page = read(send("/studies/new/text", values, text="title = "), 422)
    assert "is not valid TOML" in page.text
    page = read(send("/studies/new/text", values, text="title = 'x'"), 422)
    assert "service" in page.text
    answer = send("/studies/new/text", values, text=toml_text(service_study))
    assert answer.status_code == 302
    work()
    assert client.get(answer.headers["Location"] + "/state.json").json["finished"]


def test_a_study_is_assessed_again(client, read, send, assessed):
    study = client.get("/api/v1/studies").json["items"][0]["id"]
    values = read(client.get(f"/studies/{study}")).values()
    answer = send(f"/studies/{study}/assess", values)
    assert answer.status_code == 302
    # The same program version has assessed it before.
    assert answer.headers["Location"] == f"/assessments/{assessed}"


def test_too_many_uploads_are_told_to_wait(settings, engine, demo_csv, read):
    app = create_app(settings.model_copy(update={"uploads_per_minute": 1})) if settings.is_embedded else None
    if app is None:
        pytest.skip("one database is enough for a limit kept in memory")
    browser = app.test_client()
    csrf = read(browser.get("/histories")).values()["csrf"]
    for status in (302, 429):
        data = {"csrf": csrf, "file": (io.BytesIO(demo_csv), "x.csv")}
        assert browser.post("/histories", data=data, content_type="multipart/form-data").status_code == status
    app.extensions["packwear"].engine.dispose()


def _uploaded(client, read, send, content):
    values = read(client.get("/studies/new")).values()
    page = read(send("/studies/new", values, do="upload", file=(io.BytesIO(content.encode()), "log.csv")))
    return page.text, read(send("/studies/new", page.values(), do="offers-1")).values()


def test_suggestions_fill_in_the_mode_of_an_unsigned_current(client, read, send):
    rows = [f"{k},{3 if k // 50 != 1 else 0},{3.7 + 0.001 * k},{'DRC'[k // 50]}" for k in range(150)]
    _, values = _uploaded(client, read, send, "\n".join(["t [s],I [A],U [V],Md", *rows]) + "\n")
    assert values["input[1].current"] == "I [A]"
    assert values["input[1].mode"] == "Md"
    lists = [values[f"input[1].{name}_modes"].split() for name in ("charge", "discharge", "rest")]
    assert lists == [["C"], ["D"], ["R"]]


def test_columns_that_fit_equally_well_are_all_shown_and_none_is_filled_in(client, read, send):
    rows = [f"{k},{k % 7},{k % 5},," for k in range(60)]
    text, values = _uploaded(client, read, send, "\n".join(["t [s],P_a [kW],P_b [kW],P_bat [kW],", *rows]) + "\n")
    assert values["input[1].time"] == "t [s]"
    assert values["input[1].power"] == ""
    assert all(name in text for name in ("P_a [kW]", "P_b [kW]"))
    # The empty column is the best by its name, and has no number.
    assert "it has no number in the first rows" in text
