"""Pictures: the same numbers on paper and on pages, texts that stay texts, and no picture twice the same id."""

import json
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import plotly.graph_objects as go
import pytest

from lifetime.report.figures import ranking_plotly, ranking_svg, source_plotly, source_svg, style
from lifetime.report.figures.ranking_data import cost_bars, life_bars
from lifetime.report.figures.source_data import cycle_figure, health_figure, time_figure

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = ("<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "$x^{2", "\x00\x1b[31m\u202eabc", "测试 Ω")


WITH_BANK = 2
"""Place of a strategy with a bank in the demo's result."""


def _all_svg(found):
    yield ranking_svg.life_svg(life_bars(found.document))
    yield ranking_svg.cost_svg(cost_bars(found.document))
    for part in ("battery", "ultracapacitor"):
        health = health_figure(found.document, WITH_BANK, part)
        yield source_svg.capacity_svg(health, part)
        yield source_svg.resistance_svg(health, part)
        yield source_svg.map_svg(cycle_figure(found.document, WITH_BANK, part), f"{part}-cycles")
        yield source_svg.map_svg(time_figure(found.document, WITH_BANK, part), f"{part}-time")


def _all_plotly(found):
    yield ranking_plotly.life_plotly(life_bars(found.document))
    yield ranking_plotly.cost_plotly(cost_bars(found.document))
    for part in ("battery", "ultracapacitor"):
        health = health_figure(found.document, WITH_BANK, part)
        yield source_plotly.capacity_plotly(health)
        yield source_plotly.resistance_plotly(health)
        yield source_plotly.map_plotly(cycle_figure(found.document, WITH_BANK, part))
        yield source_plotly.map_plotly(time_figure(found.document, WITH_BANK, part))
        both = [source_plotly.ComparedHealth(name, health, 0, dash) for dash, name in enumerate(("one", "two"))]
        yield source_plotly.compared_plotly(both, "capacity")


def test_svg_is_well_formed_and_says_what_it_shows(demo):
    for text in _all_svg(demo):
        root = ET.fromstring(text)  # noqa: S314 - our own text
        assert root.tag == f"{SVG}svg"
        assert root.get("role") == "img"
        assert len(root.get("aria-label")) > 20


def test_the_same_data_give_the_same_svg(demo):
    assert list(_all_svg(demo)) == list(_all_svg(demo))


def test_no_two_pictures_of_a_page_share_an_id(demo):
    ids = [found for text in _all_svg(demo) for found in set(re.findall(r' id="([^"]+)"', text))]
    assert len(ids) == len(set(ids))


def test_plotly_accepts_every_figure_and_every_number_is_finite(demo):
    # Plotly's own package is the judge of what Plotly can draw.
    for figure in _all_plotly(demo):
        go.Figure(figure)
        json.dumps(figure, allow_nan=False)


def test_names_stay_texts(demo):
    strategies = demo.document.strategies
    named = [one.model_copy(update={"name": name}) for one, name in zip(strategies, HOSTILE, strict=True)]
    found = demo.document.model_copy(update={"strategies": tuple(named)})
    for text in (ranking_svg.life_svg(life_bars(found)), ranking_svg.cost_svg(cost_bars(found))):
        root = ET.fromstring(text)  # noqa: S314 - our own text
        drawn = {element.tag.removeprefix(SVG) for element in root.iter()}
        assert not drawn & {"script", "image", "foreignObject", "a"}
        written = " ".join("".join(element.itertext()) for element in root.iter(f"{SVG}text"))
        assert "alert(1)" in written
        assert "$x^{2" in written
    for figure in (ranking_plotly.life_plotly(life_bars(found)), ranking_plotly.cost_plotly(cost_bars(found))):
        labels = figure["layout"]["yaxis"]["ticktext"]
        assert any("&lt;script&gt;" in label for label in labels)
        assert not any(re.search(r"<(?!br>)", label) for label in labels)


def test_paper_and_page_show_the_same_lives_and_costs(demo):
    life = ranking_plotly.life_plotly(life_bars(demo.document))
    drawn = {trace["name"]: trace for trace in life["data"]}
    ranked = [one for one in demo.document.strategies if one.rank is not None]
    lives = [one.battery.life_years for one in ranked]
    assert drawn["Battery"]["x"][: len(lives)] == pytest.approx(lives, abs=1e-3)
    svg = ranking_svg.life_svg(life_bars(demo.document))
    for years in lives:
        assert f">{years:.1f} years<" in svg
    cost = ranking_plotly.cost_plotly(cost_bars(demo.document))
    stacked = np.sum([trace["x"] for trace in cost["data"] if trace["type"] == "bar"], axis=0)
    # The parts of a life-cycle cost sum to it (definition, ASTM E917).
    totals = [one.cost.net_present_cost for one in ranked]
    assert stacked[: len(totals)] == pytest.approx(totals, abs=0.1)


def test_an_open_end_is_not_drawn_as_a_life(demo):
    bars = life_bars(demo.document)
    bank = next(bar for bar in bars.bars["ultracapacitor"] if bar is not None)
    assert bank.open_ended
    assert bank.label == "not limited by this model"
    assert bank.years == bars.axis_years
    # Its label stands inside the bar and is drawn only where the bar ends within the axis, to the last digit.
    for axis_years in (12.3456, 43.5178, 43.5172):
        drawn = ranking_plotly.life_plotly(replace(bars, axis_years=axis_years, bars=_ending_at(bars, axis_years)))
        ends = [x for trace in drawn["data"] for x in trace["x"]]
        assert max(ends) <= drawn["layout"]["xaxis"]["range"][1]


def _ending_at(bars, years):
    return {
        part: tuple(bar and (replace(bar, years=years) if bar.open_ended else replace(bar, years=1.0)) for bar in row)
        for part, row in bars.bars.items()
    }


def test_capacity_parts_sum_to_the_loss(demo):
    health = health_figure(demo.document, 0, "battery")
    lost = health.calendar_percent + health.cyclic_percent
    assert lost == pytest.approx(100.0 - health.capacity_percent, abs=1e-3)


def test_pictures_of_a_source_that_does_not_meet_its_requirement(study, run):
    study["service"]["day"]["drive_repeats"] = 12
    found = run(study)
    assert health_figure(found.document, 0, "battery") is None
    bars = life_bars(found.document)
    assert bars.bars["battery"][0].label == "requirement not met"
    ET.fromstring(ranking_svg.life_svg(bars))  # noqa: S314 - our own text


def _contrast(colour: str) -> float:
    """Contrast against white, WCAG 2.2 (relative luminance of sRGB)."""
    parts = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 1.05 / (0.05 + 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2])


def test_lines_stand_out_from_the_paper():
    # WCAG 2.2, 1.4.11 Non-text contrast: at least 3:1 for what must be seen to understand a picture.
    for colour in (style.BLACK, style.GREY, style.BATTERY, style.CYCLIC):
        assert _contrast(colour) >= 3.0
