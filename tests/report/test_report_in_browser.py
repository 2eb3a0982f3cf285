"""The report in a real browser: width of a phone, accessibility, print."""

import os
import shutil

import pytest

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


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
def report_url(demo_report, tmp_path_factory):
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(demo_report, encoding="utf-8")
    return path.as_uri()


@pytest.fixture
def open_at(browser, report_url):
    """Function from a width to the opened report; what the browser says or asks for until the end fails the test."""
    opened, said = [], []

    def run(width):
        page = browser.new_page(viewport={"width": width, "height": 900})
        opened.append(page)
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: None if request.url == report_url else said.append(request.url))
        page.goto(report_url)
        _wide(page, width)
        return page

    yield run
    for page in opened:
        page.close()
    assert said == []


def _wide(page, width):
    """Wait until the page is laid out at a width; the browser is told of it, and follows in its own time."""
    page.wait_for_function("width => window.innerWidth === width", arg=width)


@pytest.mark.parametrize("width", [390, 1440])
def test_nothing_sticks_out_sideways(open_at, width):
    assert open_at(width).evaluate("document.documentElement.scrollWidth") <= width


def test_axe_finds_no_serious_fault(open_at):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed")
    found = axe.Axe().run(open_at(1440)).response["violations"]
    assert [one["id"] for one in found if one["impact"] in {"serious", "critical"}] == []


def test_it_prints_on_a4_without_cutting_sideways(open_at):
    page = open_at(1440)
    # A4 less the margins of the style sheet is 182 mm wide, 688 px at 96 px an inch (CSS Values and Units, 5.2).
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 688, "height": 1000})
    page.wait_for_function("matchMedia('print').matches")
    _wide(page, 688)
    assert page.evaluate("document.documentElement.scrollWidth") <= 688
    cut = page.evaluate(
        "[...document.querySelectorAll('table, svg, pre')].filter(one => one.getBoundingClientRect().right > 689)"
        ".map(one => one.outerHTML.slice(0, 80))"
    )
    assert cut == []
    assert page.pdf(prefer_css_page_size=True).startswith(b"%PDF")
