"""Who may, whichever way a request came: nobody is administrator behind a proxy, and no other site's page can write."""

import pytest

from lifetime.errors import InputError
from webapi.app import create_app
from webapi.auth import COOKIE
from webapi.services import tokens
from webapi.settings import Settings

API = "/api/v1"
FORWARDED = [
    {"Forwarded": "for=192.0.2.60;proto=http"},
    {"X-Forwarded-For": "192.0.2.60"},
    {"X-Forwarded-Host": "packwear.example"},
    {"X-Forwarded-Proto": "https"},
    {"X-Forwarded-Prefix": "/x"},
    {"X-Real-IP": "192.0.2.60"},
    {"Via": "1.1 proxy"},
]
FOREIGN = [
    {"Origin": "https://elsewhere.example"},
    {"Origin": "null"},
    {"Origin": "http://localhost:9999"},
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
]


@pytest.fixture
def embedded(tmp_path):
    """Settings of a service of this machine alone."""
    return Settings(
        database_url=f"sqlite:///{tmp_path / 'packwear.db'}",
        store_url=str(tmp_path / "store"),
        uploads_per_minute=1000,
        submissions_per_minute=1000,
    )


def running(settings):
    app = create_app(settings)
    app.config["TESTING"] = False
    return app


@pytest.fixture
def alone(embedded):
    """A client of a service that asks for no token."""
    app = running(embedded)
    yield app.test_client()
    app.extensions["packwear"].engine.dispose()


@pytest.fixture
def behind(embedded):
    """A service behind a trusted proxy on this machine, and an analyst's token."""
    app = running(embedded)
    with app.extensions["packwear"].factory() as session:
        _, token = tokens.create(session, "analyst", "analyst")
    app.extensions["packwear"].engine.dispose()
    app = running(embedded.model_copy(update={"trusted_proxies": "127.0.0.1"}))
    yield app.test_client(), token
    app.extensions["packwear"].engine.dispose()


def addresses(app):
    for rule in app.url_map.iter_rules():
        address = rule.rule.replace("<path:filename>", "pages.css")
        for name in rule.arguments:
            address = address.replace(f"<{name}>", "x").replace(f"<int:{name}>", "1")
        for method in rule.methods & {"GET", "POST"}:
            yield method, address


@pytest.mark.parametrize("headers", FORWARDED, ids=lambda one: next(iter(one)))
def test_without_tokens_what_a_proxy_passed_on_is_refused_on_every_route(alone, headers):
    for method, address in addresses(alone.application):
        answer = alone.open(address, method=method, headers=headers)
        assert answer.status_code == 403, (method, address)
        assert "PACKWEAR_REQUIRE_TOKEN" in answer.text


@pytest.mark.parametrize("headers", FOREIGN, ids=lambda one: "-".join(*one.items()))
def test_without_tokens_no_other_sites_page_can_write(alone, headers, demo_csv):
    """A page may send text/plain without asking first; the browser says where it came from."""
    answer = alone.post(f"{API}/histories?name=a.csv", data=demo_csv, content_type="text/plain", headers=headers)
    assert answer.status_code == 403
    assert alone.post("/studies/new", headers=headers).status_code == 403
    assert alone.get(f"{API}/histories").json["items"] == []


@pytest.mark.parametrize("headers", [{}, {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}])
def test_our_own_pages_and_programs_can_write(alone, headers, demo_csv):
    assert alone.post(f"{API}/histories?name=a.csv", data=demo_csv, headers=headers).status_code == 201


def test_behind_a_trusted_proxy_a_token_is_needed_and_the_client_is_known(behind, caplog):
    client, token = behind
    passed_on = {"X-Forwarded-For": "192.0.2.60", "X-Forwarded-Proto": "https", "X-Forwarded-Host": "packwear.example"}
    assert client.get(f"{API}/histories", headers=passed_on).status_code == 401
    with caplog.at_level("INFO", "packwear"):
        answer = client.get(f"{API}/histories", headers={**passed_on, "Authorization": f"Bearer {token}"})
    assert answer.status_code == 200
    assert answer.headers["Strict-Transport-Security"]
    assert caplog.records[-1].facts["address"] == "192.0.2.60"


def test_cookies_are_for_tls_alone_where_the_proxy_has_it(behind):
    client, token = behind
    passed_on = {"X-Forwarded-Proto": "https", "X-Forwarded-Host": "packwear.example"}
    page = client.get("/sign-in", headers=passed_on, base_url="https://packwear.example")
    given = page.headers.getlist("Set-Cookie")
    assert given
    assert all("Secure" in one for one in given)
    field = page.text.split('name="csrf" value="')[1].split('"')[0]
    form = {"csrf": field, "token": token}
    answer = client.post("/sign-in", data=form, headers=passed_on, base_url="https://packwear.example")
    assert answer.status_code == 302
    cookie = next(one for one in answer.headers.getlist("Set-Cookie") if one.startswith(COOKIE))
    assert "Secure" in cookie


def test_from_anybody_else_those_headers_are_not_believed(behind, caplog):
    client, token = behind
    headers = {"X-Forwarded-For": "192.0.2.60", "X-Forwarded-Proto": "https", "Authorization": f"Bearer {token}"}
    with caplog.at_level("INFO", "packwear"):
        answer = client.get(f"{API}/histories", headers=headers, environ_base={"REMOTE_ADDR": "198.51.100.7"})
    assert answer.status_code == 200
    assert "Strict-Transport-Security" not in answer.headers
    assert caplog.records[-1].facts["address"] == "198.51.100.7"


@pytest.mark.parametrize("scheme", ["Basic eDp5", "Digest x", "Bearer", "Bearer  ", "x"])
def test_an_authorization_header_alone_is_no_form_of_ours(behind, scheme):
    """A browser sends one by itself to a proxy that asks for a password; the cookie is what then lets in."""
    client, token = behind
    client.set_cookie(COOKIE, token)
    answer = client.post("/studies/new", data={"do": "submit"}, headers={"Authorization": scheme})
    assert answer.status_code == 400
    assert client.post("/sign-in", data={"token": token}, headers={"Authorization": scheme}).status_code == 400
    assert client.post("/sign-in", data={"token": token}, headers={"Authorization": "Bearer x"}).status_code == 400


def test_a_token_in_the_header_needs_no_form(behind):
    client, token = behind
    answer = client.post("/studies/new", data={"do": "submit"}, headers={"Authorization": f"Bearer {token}"})
    assert answer.status_code == 422


@pytest.mark.parametrize(("given", "count"), [("127.0.0.1", 1), ("10.0.0.0/8, ::1", 2), ("", 0), ("127.0.0.1,", 1)])
def test_trusted_proxies_are_addresses_or_networks(embedded, given, count):
    settings = Settings.from_environment(
        {"PACKWEAR_TRUSTED_PROXIES": given, "PACKWEAR_DATABASE_URL": "sqlite:///x.db", "PACKWEAR_STORE_URL": "x"}
    )
    assert len(settings.proxy_networks) == count
    assert settings.needs_token == bool(count)


def test_other_words_for_trusted_proxies_are_refused():
    with pytest.raises(InputError, match="addresses or networks"):
        Settings.from_environment({"PACKWEAR_TRUSTED_PROXIES": "my-proxy"})
