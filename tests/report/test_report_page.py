"""The one-file report: complete, self-contained, small, safe with any name, and enough to get the numbers again."""

import re
import tomllib
from copy import deepcopy
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from lifetime.assessment.run import assess
from lifetime.packs.locate import profiles_folder
from lifetime.report.html import MOST_BYTES, report_html, study_toml, write_report
from lifetime.study.load import load_study

HOSTILE = ("<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7*7 }}", "\x00\u202eabc", "测试 Ω")
VOID = {"meta", "wbr", "br", "img", "link", "input"}


class Page(HTMLParser):
    """Tags, attributes and text of a page; refuses tags that do not nest."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def page(demo_report):
    return Page(demo_report)


def test_it_needs_nothing_from_outside(demo_report, page):
    assert not {tag for tag, _ in page.tags} & {"script", "link", "img", "iframe", "object", "embed", "base", "form"}
    for tag, attributes in page.tags:
        for name in ("src", "href", "xlink:href", "action"):
            if (target := attributes.get(name)) is not None:
                assert target.startswith("#"), (tag, target)
        assert not any(name.startswith("on") for name in attributes)
    css = re.sub(r"url\(#[\w-]+\)", "", demo_report)
    assert "url(" not in css
    assert "@import" not in css


def test_links_and_labels_lead_somewhere_and_ids_are_unique(page):
    ids = [attributes["id"] for _, attributes in page.tags if attributes.get("id")]
    assert len(ids) == len(set(ids))
    wanted = {attributes["href"][1:] for tag, attributes in page.tags if tag == "a"}
    wanted |= {attributes["aria-labelledby"] for _, attributes in page.tags if "aria-labelledby" in attributes}
    assert wanted <= set(ids)


def test_headings_descend_one_level_at_a_time(page):
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_header_cells_have_a_scope(page):
    assert all("scope" in attributes for tag, attributes in page.tags if tag == "th")


def test_pictures_have_a_text_alternative(page):
    pictures = [attributes for tag, attributes in page.tags if tag == "svg"]
    assert len(pictures) > 30
    assert all(attributes["role"] == "img" and attributes["aria-label"] for attributes in pictures)


def test_everything_the_result_says_about_itself_is_there(demo, page):
    for strategy in demo.document.strategies:
        assert strategy.name in page.text
        for holder in (strategy, *strategy.sources.values()):
            for one in (*holder.warnings, *holder.notes):
                assert one.message in page.text
        for flow in () if strategy.known_cost is None else strategy.known_cost.cash_flows:
            assert f"{flow.present_value:,.0f}" in page.text
    sets = demo.document.study.parameter_sets
    for one in (sets.battery, sets.ultracapacitor):
        for entry in one.provenance:
            assert entry.source in page.text
        for words in one.not_modelled:
            assert words in page.text
    for one in demo.document.study.inputs:
        assert one.sha256 in page.text
    assert demo.assessment.id in page.text
    assert "maker's limits" in page.text


def test_it_is_small(demo_report):
    assert len(demo_report.encode()) < MOST_BYTES


def test_the_same_assessment_gives_the_same_report(demo, demo_report):
    assert report_html(demo.document) == demo_report


def test_many_strategies_stay_under_the_limit(demo):
    numbered = [(number, one) for number in range(40) for one in demo.document.strategies]
    strategies = tuple(one.model_copy(update={"name": f"{one.name} {number}"}) for number, one in numbered)
    text = report_html(demo.document.model_copy(update={"strategies": strategies}))
    assert len(text.encode()) < MOST_BYTES
    page = Page(text)
    assert strategies[-1].name in page.text
    assert "pictures of the last" in page.text
    assert "Only the first 40 strategies" in page.text


def test_names_are_shown_as_text(study, run):
    study["title"] = HOSTILE[0]
    study["cost"]["currency"] = "<b>E</b>"
    study["strategy"] = [{**study["strategy"][0], "name": name} for name in HOSTILE]
    found = run(study)
    text = report_html(found.document)
    page = Page(text)
    assert not {tag for tag, _ in page.tags} & {"script", "img", "b"}
    assert "<script>alert(1)</script>" in page.text
    assert '"><img src=x onerror=alert(1)>' in page.text
    assert "{{ 7*7 }}" in page.text
    assert "\x00" not in text


def test_the_study_in_the_report_gives_the_same_assessment(demo, demo_report, tmp_path):
    # A repeated assessment of equal inputs has the same id and numbers, by definition (C112 of the case list).
    shown = re.search(r"<pre[^>]*>(.*?)</pre>", demo_report, re.DOTALL)[1]
    (tmp_path / "study.toml").write_text(Page(f"<p>{shown}</p>").words[0], encoding="utf-8")
    source = profiles_folder() / "demo" / "yard_shift.csv"
    (tmp_path / source.name).write_bytes(source.read_bytes())
    again = assess(load_study(tmp_path / "study.toml"))
    assert again.id == demo.assessment.id


def test_a_study_as_text_keeps_its_numbers(demo):
    assert tomllib.loads(study_toml(demo.document)) == demo.document.study.given


def test_a_study_of_a_service_is_shown_with_the_names_of_its_files(demo):
    study = demo.document.study
    key = study.histories[0].sha256
    given = deepcopy(study.given)
    for strategy in given["strategy"]:
        strategy["demand"]["file"] = key
    histories = (study.histories[0].model_copy(update={"file": key}),)
    stored = study.model_copy(update={"given": given, "histories": histories})
    assert study_toml(demo.document.model_copy(update={"study": stored})) == study_toml(demo.document)


def test_a_study_without_any_result_still_reports(study, run, tmp_path):
    study["service"]["day"]["drive_repeats"] = 12
    found = run(study)
    assert all(one.rank is None for one in found.document.strategies)
    write_report(found.document, tmp_path / "report.html")
    page = Page((tmp_path / "report.html").read_text(encoding="utf-8"))
    assert "No strategy has a cost: the battery does not meet its requirement at the beginning of life" in page.text
    assert "no cost: the battery does not meet its requirement at the beginning of life" in page.text


def test_a_battery_alone_reports_without_a_bank(study, run):
    study["strategy"] = study["strategy"][:1]
    study["service"]["climate"] = "temperate"
    del study["ultracapacitor"]
    found = run(study)
    page = Page(report_html(found.document))
    assert "Every number of lfp_naumann_2020" in page.text
    assert "no ultracapacitor bank" in page.text
