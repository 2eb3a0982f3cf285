"""What an engineer types in a notebook: the names, the sentences, and the same numbers as the command line's."""

import doctest
import importlib
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import lifetime as pw
from lifetime.packs.locate import profiles_folder

ROOT = Path(__file__).parents[2]
DEMO = profiles_folder() / "demo" / "yard_tractor.toml"
DOCTESTED = (
    "lifetime.history.model",
    "lifetime.notebook.assessed",
    "lifetime.notebook.counting",
    "lifetime.notebook.draft",
    "lifetime.notebook.histories",
    "lifetime.notebook.source_life",
)


@pytest.fixture(scope="module")
def demo():
    return pw.assess(pw.demo_study())


def python(code):
    return subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True, timeout=60
    ).stdout.strip()


def test_every_name_of_the_front_door_is_there_and_documented():
    assert sorted(dir(pw)) == sorted(pw.__all__)
    for name in pw.__all__:
        assert getattr(pw, name).__doc__, name


def test_an_unknown_name_is_refused_like_any_other():
    with pytest.raises(AttributeError, match="no attribute 'asess'"):
        pw.asess  # noqa: B018


def test_importing_the_library_imports_nothing_slow():
    slow = ("numpy", "pandas", "pydantic", "lifetime.errors")
    assert python(f"import sys, lifetime; print(*[name for name in {slow!r} if name in sys.modules])") == ""


@pytest.mark.parametrize("first", ["lifetime.assessment.run", "lifetime.sweep.plan"])
def test_a_room_imported_before_does_not_hide_a_name(first):
    said = python(f"import {first}, lifetime as pw; print(callable(pw.assess), callable(pw.check))")
    assert said == "True True"


@pytest.mark.parametrize("module", DOCTESTED)
def test_examples_in_the_docstrings_say_what_comes_out(module):
    outcome = doctest.testmod(importlib.import_module(module))
    assert outcome.attempted > 0
    assert outcome.failed == 0


def test_every_function_of_the_front_door_has_an_example():
    for name in ("assess", "check", "count_cycles", "demo_study", "read_history", "source_life"):
        assert ">>> " in getattr(pw, name).__doc__, name


def test_the_same_study_has_the_same_id_and_the_same_words_as_at_the_command_line(demo):
    shown = python("import sys; sys.argv[1:] = ['demo']; from webapi.cli import main; main()")
    assert f"Assessment {demo.id}," in shown
    words = re.sub(r"\s+", " ", repr(demo))
    for sentence in ("Battery alone Battery. End of life after", "Calendar ageing causes"):
        assert sentence in words
        assert sentence in re.sub(r"\s+", " ", shown)


def test_a_frame_in_place_of_a_file_changes_nothing_not_even_the_id(demo):
    frame = pd.read_csv(DEMO.parent / "yard_shift.csv", comment="#")
    assert pw.assess(pw.demo_study(), histories={"yard_shift.csv": frame}).id == demo.id


def test_a_study_as_a_dict_is_the_study_of_the_file(demo):
    import tomllib

    document = tomllib.loads(DEMO.read_text(encoding="utf-8"))
    assert pw.assess(pw.load_study(document, folder=DEMO.parent)).id == demo.id


def test_frames_have_their_units_in_their_names_and_agree_with_the_document(demo):
    rows = demo.to_frame()
    battery = rows[(rows.strategy == "Battery alone") & (rows.source == "battery")].iloc[0]
    told = next(one for one in demo.document.strategies if one.name == "Battery alone")
    assert battery.life_years == told.battery.life_years
    assert battery.strategy_net_present_cost_currency == demo["Battery alone"].net_present_cost
    assert demo.lowest.net_present_cost == min(one.net_present_cost for one in demo if one.rank is not None)


def test_the_day_adds_up(demo):
    day = demo["Low-pass, 20 s"].day()
    assert np.allclose(day.battery_W + day.ultracapacitor_W, day.demand_W)  # no losses in the demo
    assert day.time_s.iloc[0] == 0.0
    assert np.allclose(np.diff(day.time_s), day.length_s[:-1])
    # Charge drawn over the day by hand: the state of charge at its end is the start less charge over capacity.
    source = demo["Low-pass, 20 s"].source("battery").source
    drawn = float((day.battery_current_A * day.length_s).sum())
    assert day.battery_soc.iloc[-1] == pytest.approx(source.start_soc - drawn / source.capacity_As, abs=1e-12)


def test_cycles_carry_the_throughput_of_the_year(demo):
    result = demo["Battery alone"].source("battery")
    cycles = demo["Battery alone"].cycles()
    # A closed day moves twice its range in each cycle (conservation of charge), but for what is averaged out as noise.
    told = next(one for one in demo.document.strategies if one.name == "Battery alone")
    counted = 1.0 - told.battery.averaged_out_throughput_fraction
    assert cycles.equivalent_full_cycles_per_year.sum() == pytest.approx(
        result.equivalent_full_cycles_per_year * counted, rel=1e-4
    )
    assert cycles.depth_of_discharge.is_monotonic_decreasing


def test_figures_are_those_of_the_pages(demo):
    assert len(demo.plot.timeline().data) == 2
    assert demo.plot.soh().layout.yaxis.title.text
    why = demo.plot.why()
    assert {trace.name for trace in why.data} == {
        "calendar, driving", "calendar, at rest", "charging", "cyclic, driving",
    }  # fmt: skip
    left = demo.lowest.source("battery").capacity_fraction_at_service_end
    assert sum(trace.x[0] for trace in why.data) == pytest.approx(100.0 * (1.0 - left), abs=0.01)
    assert demo.plot.cost().data[-1].name == "net present cost"


def test_the_report_is_written(demo, tmp_path):
    file = demo.report(tmp_path / "decision.html")
    assert demo.id in file.read_text(encoding="utf-8")


def test_a_strategy_from_a_python_function_is_the_rule_it_writes_down(demo):
    def limit(step):
        return min(step.demand_W, 60e3), step.state

    rule = {"rule": "power_limit", "discharge_limit_W": 60e3, "charge_limit_W": 1e9}
    study = pw.demo_study().with_strategy("Mine", split=pw.rules.function(limit)).with_strategy("Rule", split=rule)
    result = pw.assess(study)
    assert result["Mine"].net_present_cost == pytest.approx(result["Rule"].net_present_cost, rel=1e-9)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"strategy[None such].split.rule": "low_pass"}, "names no strategy of this study; there are: Battery alone"),
        ({"strategy[9].name": "x"}, "names entry 9, and there are 5"),
        ({"": 1}, "the key is empty"),
        ({"service..years": 1}, "cannot be read as a key"),
    ],
)
def test_a_key_that_cannot_be_read_is_refused_with_what_there_is(changes, words):
    with pytest.raises(pw.StudyError, match=re.escape(words)):
        pw.demo_study().with_changes(changes)


def test_changes_leave_the_study_as_it_was_and_none_takes_a_key_away():
    study = pw.demo_study()
    changed = study.with_changes(
        {"service.years": 12, "service.distance_km_per_day": None, "battery.thermal.hot_spot_K": 1.0}
    )
    assert study.document["service"]["years"] == 10
    assert changed.document["service"]["years"] == 12
    assert "distance_km_per_day" not in changed.document["service"]
    assert changed.document["battery"]["thermal"]["hot_spot_K"] == 1.0


def test_faults_are_the_sentences_of_the_command_line():
    with pytest.raises(pw.StudyError, match="battery.seires: is not a key of a study file"):
        pw.assess(pw.demo_study().with_changes({"battery.seires": 3}))


def test_a_frame_that_the_study_does_not_name_is_refused():
    with pytest.raises(pw.StudyError, match=r'"shift" is no file of this study, which names: yard_shift.csv'):
        pw.assess(pw.demo_study(), histories={"shift": pd.DataFrame({"t_s": [0.0, 1.0]})})


def test_a_strategy_without_its_own_demand_takes_the_only_one():
    study = pw.demo_study().with_strategy("Other", split={"rule": "battery_only"})
    assert study.document["strategy"][-1]["demand"] == study.document["strategy"][0]["demand"]
    alone = pw.load_study({"title": "x", "strategy": []})
    with pytest.raises(pw.StudyError, match="the study's strategies have no demand"):
        alone.with_strategy("Other", split={"rule": "battery_only"})


def test_what_is_not_there_is_named(demo):
    with pytest.raises(pw.InputError, match='There is no strategy "Low"; there are: '):
        demo["Low"]
    with pytest.raises(pw.InputError, match='The strategy "Battery alone" has no ultracapacitor'):
        demo["Battery alone"].cycles("ultracapacitor")
