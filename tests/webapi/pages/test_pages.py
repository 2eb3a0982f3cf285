"""Every page: there, complete, safe with any name, small, cached where that is right."""

import re

import pytest

from lifetime.packs.locate import profiles_folder
from webapi.pages.assessments import MOST_COMPARED
from webapi.services import assessments

HOSTILE = ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7*7 }}", "测试 Ω \u202e"]


@pytest.fixture
def document_of(session):
    """The stored result document of an assessment."""
    return lambda key: assessments.get(session, key).document


@pytest.fixture
def demo_rows():
    text = (profiles_folder() / "demo" / "yard_shift.csv").read_text(encoding="utf-8")
    return [tuple(map(float, line.split(","))) for line in text.splitlines()[1:]]


@pytest.fixture
def hostile(client, service_study, work):
    service_study["title"] = HOSTILE[0]
    service_study["cost"]["currency"] = "<b>E</b>"
    service_study["strategy"] = [{**service_study["strategy"][0], "name": name} for name in HOSTILE]
    job = client.post("/api/v1/studies", json=service_study).json
    work()
    return client.get(f"/api/v1/jobs/{job['id']}").json


def test_every_page_is_there_and_runs_no_inline_script(client, read, assessed, uploaded, service_study):
    study = client.get("/api/v1/studies").json["items"][0]["id"]
    job = client.post("/api/v1/studies", json=service_study).json["id"]
    for address in [
        "/",
        "/search",
        "/search?sort=-life&kind=battery&strategy=b",
        "/studies",
        f"/studies/{study}",
        "/studies/new",
        f"/studies/new?start={study}",
        f"/studies/new?use={uploaded}",
        "/studies/new/text",
        f"/studies/new/text?start={study}",
        "/histories",
        "/audit",
        f"/histories/{uploaded}",
        f"/assessments/{assessed}",
        f"/assessments/{assessed}/strategies/1",
        f"/assessments/{assessed}/strategies/2",
        f"/jobs/{job}",
        "/sign-in",
    ]:
        answer = client.get(address)
        page = read(answer)
        policy = answer.headers["Content-Security-Policy"]
        assert "script-src 'self';" in policy
        for tag, attributes in page.tags:
            assert tag != "script" or attributes.get("src", "").startswith("/"), address
            assert not any(name.startswith("on") for name in attributes), (address, tag)
            for name in ("src", "href", "action"):
                if attributes.get(name):
                    assert attributes[name].startswith(("/", "#")), (address, tag, attributes[name])
        headings = [tag for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
        assert headings.count("h1") == 1
        assert ("html", {"lang": "en"}) in page.tags


def test_the_ranking_page_is_small_and_says_why(client, read, assessed, document_of):
    answer = client.get(f"/assessments/{assessed}")
    assert len(answer.data) < 300_000
    page = read(answer)
    document = document_of(assessed)
    for strategy in document["strategies"]:
        assert strategy["name"] in page.text
        assert f"{strategy['cost']['net_present_cost']:,.0f}" in page.text
    assert re.search("End of life after|Not limited by this ageing model", page.text)
    assert "Demand served" in page.text
    for words in document["strategies"][0]["battery"]["not_modelled"]:
        assert words in page.text
    figures = [attributes["data-figure"] for _, attributes in page.tags if "data-figure" in attributes]
    total = len(answer.data) + sum(len(client.get(address).data) for address in figures)
    assert len(figures) == 2
    assert total < 300_000


def test_figures_are_never_drawn_twice_for_one_reader(client, assessed):
    first = client.get(f"/assessments/{assessed}/figures/life.json")
    assert first.json["data"]
    again = client.get(f"/assessments/{assessed}/figures/life.json", headers={"If-None-Match": first.headers["ETag"]})
    assert again.status_code == 304
    assert again.data == b""
    still = client.get(f"/assessments/{assessed}/figures/0-battery-capacity.svg")
    assert still.headers["Content-Type"] == "image/svg+xml"
    assert still.data.startswith(b"<svg")


@pytest.mark.parametrize("name", ["nothing", "99-battery-capacity", "0-ultracapacitor-capacity", "0-battery-knees"])
def test_a_figure_that_is_not_there(client, assessed, name):
    # The first strategy of the demo has no bank.
    for kind in ("json", "svg"):
        assert client.get(f"/assessments/{assessed}/figures/{name}.{kind}").status_code == 404


def test_the_drawing_library_comes_from_this_server(client):
    page = client.get("/studies/new")
    assert page.status_code == 200
    answer = client.get("/pages/plotly/any/plotly.min.js", headers={"Accept-Encoding": "gzip"})
    assert answer.status_code == 200
    assert answer.headers["Content-Encoding"] == "gzip"
    assert "immutable" in answer.headers["Cache-Control"]
    assert len(answer.data) < 2_000_000
    plain = client.get("/pages/plotly/any/plotly.min.js")
    assert b"plotly.js v" in plain.data[:200]


def test_names_are_shown_as_text(client, read, hostile, uploaded):
    key = hostile["assessment_id"]
    for address in (
        "/",
        "/search",
        "/studies",
        f"/studies/{hostile['study_id']}",
        f"/studies/new?start={hostile['study_id']}",
        f"/studies/new/text?start={hostile['study_id']}",
        f"/assessments/{key}",
        f"/assessments/{key}/strategies/1",
        f"/jobs/{hostile['id']}",
    ):
        page = read(client.get(address))
        assert not [1 for tag, attributes in page.tags if tag == "script" and "src" not in attributes], address
        assert "b" not in {tag for tag, _ in page.tags}, address
        assert not [1 for tag, attributes in page.tags if tag == "img" and not attributes["src"].startswith("/")]
        assert not [1 for _, attributes in page.tags if "onerror" in attributes], address
    ranking = read(client.get(f"/assessments/{key}"))
    for name in HOSTILE[:3]:
        assert name in ranking.text
    figure = client.get(f"/assessments/{key}/figures/life.json").json
    assert not any("<script" in label for label in figure["layout"]["yaxis"]["ticktext"])


def test_a_history_with_a_hostile_name_and_columns(client, read):
    rows = "t [s],<script>alert(1)</script> [A]\n0,1\n1,2\n2,1\n"
    sent = client.post("/api/v1/histories?name=%3Cimg%20src%3Dx%20onerror%3Dalert(1)%3E.csv", data=rows.encode())
    key = sent.json["id"]
    for address in (f"/histories/{key}", "/histories", f"/studies/new?use={key}"):
        page = read(client.get(address))
        assert "onerror" in page.text
        assert not [1 for tag, attributes in page.tags if tag == "script" and "src" not in attributes]
        assert "img" not in {tag for tag, _ in page.tags}
    answer = client.get(
        f"/histories/{key}/trace.json", query_string={"x": "t [s]", "y": "<script>alert(1)</script> [A]"}
    )
    assert "<script" not in answer.json["layout"]["yaxis"]["title"]["text"]


def test_a_trace_keeps_its_peaks_and_its_size(client, uploaded, demo_rows):
    whole = client.get(f"/histories/{uploaded}/trace.json?x=t_s&y=p_dc_W").json
    drawn = whole["data"][0]
    assert len(drawn["x"]) <= 4000
    powers = [power for _, power in demo_rows]
    assert max(drawn["y"]) == pytest.approx(max(powers), rel=1e-5)
    assert min(drawn["y"]) == pytest.approx(min(powers), rel=1e-5)
    part = client.get(f"/histories/{uploaded}/trace.json?x=t_s&y=p_dc_W&start=100&end=110").json["data"][0]
    inside = [power for time, power in demo_rows if 100.0 <= time <= 110.0]
    assert len(part["x"]) == len(inside)


@pytest.mark.parametrize(
    "query", ["x=t_s&y=nothing", "x=t_s", "x=t_s&y=p_dc_W&start=nan&end=3", "x=t_s&y=p_dc_W&start=9&end=3"]
)
def test_a_trace_that_cannot_be_drawn_is_a_problem(client, uploaded, query):
    answer = client.get(f"/histories/{uploaded}/trace.json?{query}")
    assert answer.status_code == 400
    assert answer.headers["Content-Type"] == "application/problem+json"


def test_comparing(client, read, assessed, service_study, work):
    service_study["battery"]["price"]["purchase_per_kWh"] = 320
    service_study["service"]["years"] = 15
    job = client.post("/api/v1/studies", json=service_study).json
    work()
    other = client.get(f"/api/v1/jobs/{job['id']}").json["assessment_id"]
    page = read(client.get(f"/compare?id={assessed}&id={other}"))
    assert "The service lives differ" in page.text
    assert "battery.price.purchase_per_kWh" in page.text
    figures = [attributes["data-figure"] for _, attributes in page.tags if "data-figure" in attributes]
    assert len(figures) == 4
    for address in figures:
        assert client.get(address).json["data"]
    read(client.get(f"/compare?id={assessed}"), 400)
    read(client.get(f"/compare?id={assessed}&id=nothing"), 404)
    many = "&".join(f"id={number}" for number in range(MOST_COMPARED + 1))
    read(client.get(f"/compare?{many}"), 400)


def test_the_report_is_a_download_that_runs_nothing(client, assessed):
    answer = client.get(f"/assessments/{assessed}/report")
    assert answer.status_code == 200
    assert answer.headers["Content-Disposition"].startswith('attachment; filename="packwear-report-')
    assert answer.headers["Content-Security-Policy"] == "default-src 'none'; style-src 'unsafe-inline'"
    assert len(answer.data) < 2_000_000
    # A service knows histories by their ids; a reader with the files knows their names.
    assert "file = &#34;yard_shift.csv&#34;" in answer.text


@pytest.mark.parametrize(
    "address",
    [
        "/assessments/nothing",
        "/assessments/nothing/report",
        "/assessments/nothing/strategies/1",
        "/studies/nothing",
        "/studies/new?start=nothing",
        "/histories/nothing",
        "/jobs/nothing",
    ],
)
def test_what_is_not_there_is_said_on_a_page(client, read, address):
    assert "is stored under the id" in read(client.get(address), 404).text


def test_a_strategy_beyond_the_last(client, read, assessed):
    read(client.get(f"/assessments/{assessed}/strategies/0"), 404)
    read(client.get(f"/assessments/{assessed}/strategies/3"), 404)


@pytest.mark.parametrize("query", ["sort=nothing", "life_min_years=long", "cursor=xx", "cost_max=nan"])
def test_a_search_that_cannot_be_made(client, read, query):
    read(client.get(f"/search?{query}"), 400)


def test_a_study_without_assessment_says_why(client, read, service_study, work):
    # No night is long enough to charge at a five-hundredth of the capacity an hour.
    service_study["service"]["day"]["charge_c_rate"] = 0.002
    job = client.post("/api/v1/studies", json=service_study).json
    page = client.get("/studies").text
    address = re.search(r'href="(/studies/[0-9a-f]{32,})"', page)[1]
    assert "Waiting for a worker." in read(client.get(address)).text
    work()
    text = read(client.get(address)).text
    assert "Failed." in text
    assert "Battery alone" in text
    assert "does not fit into 24 h" in text
    assert f'href="/jobs/{job["id"]}"' in client.get(address).text
