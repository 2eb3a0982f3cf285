"""A real TLS proxy in front of the real web server: nginx, set up as the README says.

Skipped where there is no nginx, but never in CI.
"""

import http.client
import os
import re
import shutil
import socket
import ssl
import subprocess
import threading
import time
from contextlib import contextmanager
from urllib.parse import urlencode

import pytest

from webapi.auth import COOKIE
from webapi.database import make_engine, session_factory
from webapi.migrate import upgrade
from webapi.serve import listening
from webapi.services import tokens
from webapi.settings import Settings
from webapi.web_process import web_server

CLIENT = "127.0.0.2"
"""Another address of this machine, so that the client's is not the proxy's."""
CONFIGURATION = """
daemon off; master_process off; pid {folder}/pid; error_log {folder}/error.log;
events {{ }}
http {{
  access_log off;
  client_body_temp_path {folder}/body; proxy_temp_path {folder}/proxy; fastcgi_temp_path {folder}/f;
  uwsgi_temp_path {folder}/u; scgi_temp_path {folder}/s;
  server {{
    listen 127.0.0.1:{port} ssl;
    ssl_certificate {folder}/certificate.pem; ssl_certificate_key {folder}/key.pem;
    client_max_body_size 500m;
    location / {{
      proxy_pass http://127.0.0.1:{behind};
      proxy_set_header X-Forwarded-For $remote_addr;
      proxy_set_header X-Forwarded-Proto https;
      proxy_set_header X-Forwarded-Host $http_host;
    }}
  }}
}}
"""
OPEN = re.compile(r"/sign-in|/pages/.*|/api/docs|/api/openapi\.json|/api/v1/health/(live|ready)")
"""What a stranger may see where tokens are asked for: the page that asks, its style, and whether the service lives."""


@pytest.fixture(scope="module")
def nginx():
    found = shutil.which("nginx", path=f"{os.environ['PATH']}:/usr/sbin")
    if found is None or shutil.which("openssl") is None:
        missing = "no nginx or no openssl; install the system packages nginx-light and openssl"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    return found


@contextmanager
def proxied(nginx, folder, **settings):
    """Web server and proxy; gives the application and a function that sends one request from another address."""
    listener = listening("127.0.0.1", 0)
    made = Settings(database_url=f"sqlite:///{folder / 'x.db'}", store_url=str(folder / "store"), **settings)
    server = web_server(made, listener)
    running = threading.Thread(target=server.run)
    running.start()
    port = free_port()
    name = ["-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost"]
    key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-noenc", "-keyout", folder / "key.pem"]
    certificate = folder / "certificate.pem"
    subprocess.run(["openssl", "req", "-x509", *key, *name, "-out", certificate], check=True, capture_output=True)
    text = CONFIGURATION.format(folder=folder, port=port, behind=server.effective_port)
    (folder / "nginx.conf").write_text(text)
    proxy = subprocess.Popen([nginx, "-c", folder / "nginx.conf"], stderr=subprocess.DEVNULL)
    trusted = ssl.create_default_context(cafile=certificate)

    def send(method, path, headers=None, body=None):
        connection = http.client.HTTPSConnection(
            "localhost", port, timeout=60.0, context=trusted, source_address=(CLIENT, 0)
        )
        try:
            connection.request(method, path, body, headers or {})
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read().decode("utf-8", "replace")
        finally:
            connection.close()

    try:
        listens(port)
        send.origin = f"https://localhost:{port}"
        yield server.application, send
    finally:
        proxy.terminate()
        proxy.wait(60.0)
        server.stop(0.0)
        running.join(60.0)
        server.application.extensions["packwear"].engine.dispose()


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


def listens(port):
    end = time.monotonic() + 60.0
    while True:
        try:
            socket.create_connection(("127.0.0.1", port)).close()
        except OSError:
            assert time.monotonic() < end
        else:
            return


def addresses(app):
    for rule in app.url_map.iter_rules():
        address = re.sub(r"<any\((\w+)[^>]*>", r"\1", rule.rule.replace("<path:filename>", "pages.css"))
        address = re.sub(r"<[^>]*>", "1", address)
        for method in rule.methods & {"GET", "POST", "DELETE"}:
            yield method, address


def test_without_tokens_the_proxy_gets_nobody_in_anywhere(nginx, tmp_path):
    with proxied(nginx, tmp_path) as (app, send):
        found = {(method, address): send(method, address)[0] for method, address in addresses(app)}
    assert len(found) > 30
    assert set(found.values()) == {403}


def test_with_tokens_behind_tls(nginx, tmp_path, caplog):
    """RFC 6265 (cookie attributes) and RFC 6797 (HSTS) as a browser would see them."""
    engine = make_engine(f"sqlite:///{tmp_path / 'x.db'}")
    upgrade(engine)
    with session_factory(engine)() as session:
        _, token = tokens.create(session, "analyst", "analyst")
    engine.dispose()
    with proxied(nginx, tmp_path, trusted_proxies="127.0.0.1") as (app, send):
        for method, address in addresses(app):
            status, headers, _ = send(method, address)
            assert status in {401, 403} or (OPEN.fullmatch(address) and status < 500), (method, address, status)
            assert headers["Strict-Transport-Security"] == "max-age=31536000"
        big = b"t_s,current_A\n" + b"1,2\n" * 200_000
        assert send("POST", "/api/v1/histories?name=a.csv", {}, big)[0] == 401

        status, headers, page = send("GET", "/sign-in")
        form = {"csrf": page.split('name="csrf" value="')[1].split('"')[0], "token": token}
        given = headers.get_all("Set-Cookie")
        assert [flags(one) for one in given] == [{"Secure", "HttpOnly", "SameSite=Strict"}]
        sent = {"Content-Type": "application/x-www-form-urlencoded", "Cookie": given[0].split(";")[0]}
        sent |= {"Origin": send.origin, "Sec-Fetch-Site": "same-origin", "Accept": "text/html"}
        status, headers, _ = send("POST", "/sign-in", sent, urlencode(form))
        assert status == 302
        cookie = next(one for one in headers.get_all("Set-Cookie") if one.startswith(COOKIE))
        assert flags(cookie) == {"Secure", "HttpOnly", "SameSite=Lax"}
        assert send("GET", "/", {"Cookie": cookie.split(";")[0]})[0] == 200
        assert send("POST", "/sign-in", {**sent, "Origin": "https://elsewhere.example"}, urlencode(form))[0] == 403

        with caplog.at_level("INFO", "packwear"):
            forged = {"Authorization": f"Bearer {token}", "X-Forwarded-For": "203.0.113.9"}
            assert send("GET", "/api/v1/histories", forged)[0] == 200
        assert caplog.records[-1].facts["address"] == CLIENT, "what the client says of itself is not believed"


def flags(cookie):
    return {one.strip() for one in cookie.split(";")} & {"Secure", "HttpOnly", "SameSite=Strict", "SameSite=Lax"}
