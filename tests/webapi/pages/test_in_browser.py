"""The pages in a real browser: a real file from upload to report, on a desk and on a phone, by mouse and by keyboard.

Skipped where no browser is found, but never in CI. The measured trip: M. Steinstraeter, J. Buberger, D. Trifonov,
"Battery and Heating Data in Real Driving Cycles", IEEE DataPort, 2020; where it is not beside the repository, the
demo's invented history takes its place.
"""

import os
import re
import shutil
import threading
from pathlib import Path

import pytest
from waitress.server import create_server

from lifetime.packs.locate import profiles_folder
from webapi.app import create_app
from webapi.settings import Settings
from webapi.worker import work_forever

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
SHARED = Path(__file__).parents[4] / "shared" / "data"
TRIP = next(iter(sorted(SHARED.glob("*/TripA01.csv"))), None) if SHARED.is_dir() else None


@pytest.fixture(scope="module")
def browser():
    if shutil.which(CHROMIUM) is None:
        missing = f"no browser at {CHROMIUM}; install the system package chromium"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    sync_api = pytest.importorskip("playwright.sync_api", reason="Playwright for Python is not installed")
    with sync_api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield started
        started.close()


@pytest.fixture(scope="module")
def service(tmp_path_factory):
    """Web server and worker, each in a thread, on a database of their own."""
    folder = tmp_path_factory.mktemp("service")
    settings = Settings(database_url=f"sqlite:///{folder / 'packwear.db'}", store_url=str(folder / "store"))
    app = create_app(settings)
    server, ended = create_server(app, host="127.0.0.1", port=0, threads=4), threading.Event()
    threads = [
        threading.Thread(target=server.run, daemon=True),
        threading.Thread(target=work_forever, args=(settings, ended), daemon=True),
    ]
    for thread in threads:
        thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    ended.set()
    server.close()
    for thread in threads:
        thread.join(timeout=10.0)
    app.extensions["packwear"].engine.dispose()


@pytest.fixture
def page(browser):
    """A page that fails the test when the browser complains."""
    opened = browser.new_page(viewport={"width": 1440, "height": 1000}, accept_downloads=True)
    said: list[str] = []
    opened.on("console", lambda message: said.append(f"{message.type}: {message.text}"))
    opened.on("pageerror", lambda error: said.append(str(error)))
    # Going on to the next page, or a download, ends what was still on its way; that is no fault.
    opened.on("requestfailed", lambda one: None if one.failure == "net::ERR_ABORTED" else said.append(one.url))
    opened.said = said
    yield opened
    opened.close()
    assert said == []


def _fill(page, values):
    # A folded section may lie within another, and shows only once that is open.
    folded = page.locator("details:not([open]) > summary:visible")
    while folded.count():
        folded.first.click()
    for name, value in values.items():
        field = page.locator(f'[name="{name}"]')
        if field.evaluate("one => one.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)


def _press(page, name):
    """Press a button and wait for the page it leads to."""
    with page.expect_navigation():
        page.get_by_role("button", name=name).click()


STUDY = {
    "service.years": "10",
    "service.working_days_per_year": "250",
    "service.distance_km_per_day": "40",
    "service.climate": "temperate",
    "service.day.charge_c_rate": "0.2",
    "service.day.charge_to_soc": "86",
    "battery.cell": "lfp_naumann_2020",
    "battery.series": "110",
    "battery.parallel": "20",
    "battery.start_soc": "86",
    "battery.thermal.resistance_K_per_W": "0.02",
    "battery.thermal.heat_capacity_J_per_K": "150000",
    "battery.price.purchase_per_kWh": "150",
    "cost.currency": "EUR",
    "cost.discount_rate": "5",
}


def _submit_first(page, service):
    """Upload, map, describe, submit; ends on the ranking."""
    file = TRIP or profiles_folder() / "demo" / "yard_shift.csv"
    page.goto(f"{service}/studies/new")
    page.get_by_label("Upload a history").set_input_files(file)
    _press(page, "Upload and use")
    page.get_by_text(f"History 1: {file.name}").first.wait_for()
    _press(page, "Use the suggestions")
    measured = file == TRIP
    assert page.locator('[name="input[1].time"]').input_value() == ("Time [s]" if measured else "t_s")
    page.locator('[name="input[1].discharge_is"]').select_option("negative" if measured else "positive")
    _press(page, "Add a strategy")
    _fill(page, {"title": "A first study", **STUDY, "strategy[1].name": "As recorded"})
    if measured:
        _fill(page, {"strategy[1].split.rule": "already_split", "strategy[1].battery": "1"})
    else:
        _fill(page, {"strategy[1].split.rule": "battery_only", "strategy[1].demand": "1"})
    _press(page, "Submit the study")
    # Followed by a script, without reloading; leads on by itself.
    page.wait_for_url(re.compile(r"/assessments/[0-9a-f]{32}$"), timeout=60_000)
    return page.url


@pytest.fixture(scope="module")
def first(browser, service):
    opened = browser.new_page()
    address = _submit_first(opened, service)
    opened.close()
    return address


def _follow(link, address):
    """Follow a link and wait for the page it leads to, so that nothing is looked for on the page before."""
    link.click()
    link.page.wait_for_url(re.compile(address))


def _drawn(page, count):
    """Wait for the page's figures, so many at least, and scroll through it until all are drawn."""
    boxes = page.locator("[data-figure]")
    if count:
        boxes.nth(count - 1).wait_for(state="attached")
    for box in boxes.all():
        box.scroll_into_view_if_needed()
        box.locator(".main-svg").first.wait_for()


def test_from_upload_to_report(page, service, tmp_path):
    _submit_first(page, service)
    assert page.get_by_role("heading", level=1).inner_text() == "A first study"
    _drawn(page, 2)
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Download the report").click()
    target = tmp_path / "report.html"
    waiting.value.save_as(target)
    assert waiting.value.suggested_filename.startswith("packwear-report-")
    assert target.stat().st_size < 2_000_000
    page.goto(target.as_uri())
    assert page.get_by_role("heading", level=1).inner_text() == "A first study"


def test_a_strategy_and_its_history(page, first):
    page.goto(first)
    _follow(page.get_by_role("link", name="As recorded").first, "/strategies/1$")
    _drawn(page, 4)
    _follow(page.get_by_label("Histories").get_by_role("link"), "/histories/[0-9a-f]{64}$")
    _drawn(page, 1)


def test_zooming_asks_for_the_stretch_anew(page, first):
    page.goto(first)
    _follow(page.get_by_role("link", name="As recorded").first, "/strategies/1$")
    _follow(page.get_by_label("Histories").get_by_role("link"), "/histories/[0-9a-f]{64}$")
    _drawn(page, 1)
    words = page.locator("#shown", has_text="samples between")
    words.wait_for()
    whole = words.inner_text()
    with page.expect_response(re.compile(r"trace\.json.*start=")) as waiting:
        page.locator("[data-zoom=in]").press("Enter")
    assert len(waiting.value.json()["data"][0]["x"]) <= 4000
    page.wait_for_function("old => document.getElementById('shown').textContent !== old", arg=whole)
    page.locator("[data-zoom=whole]").press("Enter")
    page.wait_for_function("old => document.getElementById('shown').textContent === old", arg=whole)


def test_comparing_with_a_changed_study(page, service, first):
    page.goto(first)
    _follow(page.get_by_role("link", name="The study"), "/studies/[0-9a-f]+$")
    _follow(page.get_by_role("link", name="Start a new study from this one"), r"/studies/new\?start=")
    _fill(page, {"title": "A second study", "battery.price.purchase_per_kWh": "300"})
    _press(page, "Submit the study")
    page.wait_for_url(re.compile(r"/assessments/[0-9a-f]{32}$"), timeout=60_000)
    page.get_by_role("link", name="Compare with others").click()
    page.get_by_label(re.compile("^Compare A first study")).first.check()
    _press(page, "Compare the ticked ones")
    page.wait_for_url(re.compile(r"/compare\?"))
    page.get_by_text("battery.price.purchase_per_kWh").wait_for()
    _drawn(page, 2)


def test_faults_come_back_with_the_form(page, first, service):
    page.goto(f"{service}/studies/new")
    page.locator('[name="title"]').fill("Unfinished")
    _press(page, "Submit the study")
    page.get_by_role("alert").wait_for()
    assert page.locator('[name="title"]').input_value() == "Unfinished"
    # The list of errors has the focus, and each error leads to its field.
    assert page.evaluate("document.activeElement.id") == "faults"
    page.locator("#faults").get_by_role("link", name=re.compile("^Battery pack, cells in series")).press("Enter")
    page.wait_for_url(re.compile("#battery-series$"))
    assert page.evaluate("document.activeElement.id") == "battery-series"
    # The form comes back with status 422, which the browser notes by itself.
    assert len(page.said) == 1
    assert "422" in page.said.pop()


def test_the_fields_of_a_rule_appear_when_it_is_chosen_and_keep_what_was_typed(page, first, service):
    page.goto(f"{service}/studies/new")
    _press(page, "Add a strategy")
    _press(page, "Add a strategy")
    rule = page.locator('[name="strategy[2].split.rule"]')
    fields = page.locator("#strategy-2-fields")
    assert fields.locator("input, textarea").count() == 0
    rule.select_option("low_pass")
    fields.locator('[name="strategy[2].split.time_constant_s"]').fill("20")
    rule.select_option("state_table")
    assert fields.locator('[name="strategy[2].split.time_constant_s"]').count() == 0
    assert fields.locator('textarea[name="strategy[2].split.rows"]').is_visible()
    rule.select_option("already_split")
    assert fields.locator('[name="strategy[2].battery"]').is_visible()
    assert fields.locator("input").count() == 0
    rule.select_option("low_pass")
    assert fields.locator('[name="strategy[2].split.time_constant_s"]').input_value() == "20"
    # The other strategy has none of it, and no id is there twice.
    assert page.locator("#strategy-1-fields input").count() == 0
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map((one) => one.id)")
    assert len(ids) == len(set(ids))
    assert not [one for one in ids if one.startswith("strategy-0")]


def test_without_scripts_a_button_shows_the_fields_of_a_rule(browser, service):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{service}/studies/new")
    _press(page, "Add a strategy")
    page.locator('[name="strategy[1].split.rule"]').select_option("power_limit")
    _press(page, "Show the fields of this rule")
    assert page.locator('[name="strategy[1].split.discharge_limit_W"]').is_visible()
    assert page.locator('[name="strategy[1].split.time_constant_s"]').count() == 0
    context.close()


def test_the_keyboard_alone_reaches_a_strategy(page, first):
    page.goto(first)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to content"
    page.keyboard.press("Enter")
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "As recorded":
            break
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/strategies/1$"))


ADDRESSES = ["/", "/search", "/studies", "/studies/new", "/studies/new/text", "/histories", "/audit", "/sign-in"]


@pytest.mark.parametrize("width", [390, 1440])
def test_every_page_fits_and_axe_finds_no_serious_fault(page, service, first, width):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed")
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(first)
    study = page.get_by_role("link", name="The study").get_attribute("href")
    inside = first.removeprefix(service)
    page.goto(f"{first}/strategies/1")
    history = page.get_by_label("Histories").get_by_role("link").get_attribute("href")
    for address in [*ADDRESSES, inside, f"{inside}/strategies/1", study, history, f"/studies/new?use={history[-64:]}"]:
        page.goto(service + address)
        _drawn(page, 0)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, address
        found = axe.Axe().run(page).response["violations"]
        serious = [one["id"] for one in found if one["impact"] in {"serious", "critical"}]
        assert serious == [], address


@pytest.mark.parametrize("width", [390, 1440])
def test_the_form_with_everything_unfolded_fits_and_axe_finds_no_serious_fault(page, service, first, width):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed")
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(first)
    page.get_by_role("link", name="The study").click()
    page.get_by_role("link", name="Start a new study from this one").click()
    page.wait_for_url(re.compile(r"/studies/new\?start="))
    for rule in ("state_table", "lookup"):
        page.locator('[name="strategy[1].split.rule"]').select_option(rule)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        found = axe.Axe().run(page).response["violations"]
        assert [one["id"] for one in found if one["impact"] in {"serious", "critical"}] == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_without_scripts_the_pages_still_tell(browser, service, first):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(first)
    pictures = page.locator("noscript img")
    assert pictures.count() == 2
    for picture in pictures.all():
        assert picture.is_visible()
    assert page.get_by_role("row").filter(has_text="As recorded").first.is_visible()
    context.close()
