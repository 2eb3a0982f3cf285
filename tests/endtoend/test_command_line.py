"""The real program, started as a user starts it: output, exit codes, messages."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import jsonschema_rs
import pytest

from lifetime.results.document import ResultDocument

ROOT = Path(__file__).parents[2]


def run(*arguments, cwd=None, encoding="utf-8", **environment):
    program = shutil.which("packwear", path=str(Path(sys.executable).parent)) or pytest.fail(
        "the packwear command is not installed beside this Python; run pip install -e '.[test]'"
    )
    return subprocess.run(
        [program, *arguments],
        capture_output=True,
        text=True,
        encoding=encoding,
        timeout=120,
        check=False,
        cwd=cwd,
        env={**os.environ, **environment},
    )


@pytest.fixture(scope="module")
def demo_json(tmp_path_factory):
    database = tmp_path_factory.mktemp("database") / "packwear.sqlite"
    done = run("demo", "--json", PACKWEAR_DATABASE_URL=f"sqlite:///{database}")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_demo_prints_one_json_document_with_the_promised_keys(demo_json):
    assert {"id", "title", "program_version"} <= demo_json["study"].keys()
    assert len(demo_json["strategies"]) >= 5
    battery_keys = {
        "life_years",
        "life_state",
        "end_of_life_criterion",
        "capacity_fraction_at_service_end",
        "resistance_ratio_at_service_end",
        "calendar_share_fraction",
        "cyclic_share_fraction",
        "equivalent_full_cycles_per_year",
        "throughput_Ah_per_year",
        "rms_current_A",
        "peak_current_A",
        "warnings",
    }
    for strategy in demo_json["strategies"]:
        assert {"name", "rank", "battery", "ultracapacitor", "cost"} <= strategy.keys()
        assert battery_keys <= strategy["battery"].keys()
        fails = strategy["name"] == "Fewer cells, no bank"
        assert strategy["battery"]["life_state"] == ("requirement_not_met" if fails else "reached")
        bank = strategy["ultracapacitor"]
        if bank is not None:
            renamed = {"capacitance_fraction_at_service_end", "esr_ratio_at_service_end"}
            assert (
                battery_keys - {"capacity_fraction_at_service_end", "resistance_ratio_at_service_end"}
            ) <= bank.keys()
            assert renamed <= bank.keys()
        if fails:
            assert strategy["rank"] is None
            assert strategy["cost"]["reason"]
            continue
        assert {"currency", "net_present_cost", "equivalent_annual_cost", "cost_per_km", "replacements"} <= strategy[
            "cost"
        ].keys()
        assert {"battery", "ultracapacitor"} == strategy["cost"]["replacements"].keys()


def test_the_document_keeps_to_the_published_schema(demo_json):
    """Judged by an independent implementation of JSON Schema, draft 2020-12."""
    jsonschema_rs.validator_for(ResultDocument.model_json_schema(mode="serialization")).validate(demo_json)
    for strategy in demo_json["strategies"]:
        if strategy["rank"] is None:
            continue
        assert strategy["day"]["modes"]
        assert strategy["day"]["battery_capacity_loss"]["cyclic_fraction"]
        assert strategy["battery"]["cycle_map"]["cycles_per_year"]
        assert strategy["battery"]["time_map"]["hours_per_year"]


def test_strategies_come_in_the_order_of_their_rank(demo_json):
    ranked = [one for one in demo_json["strategies"] if one["rank"] is not None]
    others = demo_json["strategies"][len(ranked) :]
    costs = [one["cost"]["net_present_cost"] for one in ranked]
    assert costs == sorted(costs)
    assert [one["rank"] for one in ranked] == list(range(1, len(costs) + 1))
    assert all(one["rank"] is None and one["not_ranked_reason"] for one in others)


def test_the_same_study_gives_the_same_id_and_numbers(demo_json):
    again = json.loads(run("demo", "--json").stdout)
    assert again == demo_json


def test_demo_fits_eighty_columns():
    done = run("demo")
    assert done.returncode == 0
    assert max(len(line) for line in done.stdout.splitlines()) <= 80
    for word in ("battery", "UC", "net present", "years", "maker"):
        assert word in done.stdout


@pytest.mark.parametrize("arguments", [["assess", "missing.toml"], ["assess"], ["check", "missing.csv"], ["nonsense"]])
def test_bad_input_ends_with_two_and_a_message_on_standard_error(arguments, tmp_path):
    done = run(*arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.strip()
    assert "Traceback" not in done.stderr


BROKEN = """
title = "Broken"
colour = "red"
[service]
years = -3
working_days_per_year = 400
climate = "venus"
[battery]
cell = "lfp_naumann_2021"
series = 10
parallel = 1
start_soc = 0.5
price = { purchase = 1 }
[cost]
currency = "EUR"
discount_rate = 0.05
[[strategy]]
name = "A"
battery = { file = "gone.csv", time = "t_s", current = "i_A" }
[[strategy]]
name = "A"
demand = { file = "gone.csv", time = "t_s", power = "p_W" }
split = { rule = "low_pass", time_constant_s = "twenty" }
"""


def test_all_faults_of_a_study_are_reported_at_once_with_their_places(tmp_path):
    (tmp_path / "study.toml").write_text(BROKEN, encoding="utf-8")
    done = run("assess", "study.toml", cwd=tmp_path)
    assert done.returncode == 2
    for place in (
        "colour",
        "service.years",
        "service.working_days_per_year",
        "battery.cell",
        "strategy[1].battery",
        "strategy[2].split.time_constant_s",
    ):
        assert f"  {place}: " in done.stderr, f"{place} is not named in:\n{done.stderr}"
    assert "lfp_naumann_2020" in done.stderr  # the nearest shipped set is offered


def test_check_names_what_a_file_holds(tmp_path):
    (tmp_path / "run.csv").write_text("Time [s],I_bat [A],U [V]\n0,1,400\n1,2,399\n2,3,398\n", encoding="utf-8")
    done = run("check", "run.csv", cwd=tmp_path)
    assert done.returncode == 0
    assert "3 rows" in done.stdout
    assert 'battery = { file = "run.csv"' in done.stdout
    as_json = json.loads(run("check", "run.csv", "--json", cwd=tmp_path).stdout)
    assert as_json["rows"] == 3


def test_negative_numbers_in_exponent_form_are_read(tmp_path):
    """C110: exponent notation, negative."""
    rows = "t_s,i_A\n" + "".join(f"{k},{-2.5e-6 if k % 2 else 2.5e-6:.1e}\n" for k in range(20))
    (tmp_path / "run.csv").write_text(rows, encoding="utf-8")
    as_json = json.loads(run("check", "run.csv", "--json", cwd=tmp_path).stdout)
    current = next(one for one in as_json["columns"] if one["name"] == "i_A")
    assert current["low"] == pytest.approx(-2.5e-6, rel=1e-12)


def test_help_names_every_command():
    done = run("--help")
    assert done.returncode == 0
    for command in ("assess", "demo", "check"):
        assert command in done.stdout


def test_faults_are_said_once_and_ranges_lead_to_the_sweep(tmp_path):
    strategy = """[[strategy]]
name = "{name}"
battery = {{ file = "gone.csv", time = "t_s", current = "i_A" }}
"""
    text = BROKEN[BROKEN.index("[service]") : BROKEN.index("[[strategy]]")]
    for was, now in (("-3", "3"), ("= 400", "= 250"), ("venus", "temperate"), ("2021", "2020")):
        text = text.replace(was, now)
    text = text.replace("series = 10", "series = { from = 1, to = 9, steps = 3 }").replace(
        "purchase = 1", "purchase = 1.0"
    )
    text = 'title = "Broken"\n' + text + strategy.format(name="A") + strategy.format(name="B")
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    done = run("assess", "study.toml", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.count("gone.csv") == 1
    assert "  battery.series: is a range, and one number is needed here. packwear sweep assesses ranges." in done.stderr
    (tmp_path / "study.toml").write_text("strategy = []\n" + text[: text.index("[[strategy]]")], encoding="utf-8")
    assert "  strategy: needs at least 1 entry." in run("assess", "study.toml", cwd=tmp_path).stderr
