"""Terminals that cannot print a strategy's name: a mark in its place, JSON with escapes, and the result on record."""

import json

import pytest

from tests.endtoend.test_command_line import run

NAME = "спокойный привод"  # letters that neither cp1252 nor ASCII has


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    folder = tmp_path_factory.mktemp("study")
    (folder / "log.csv").write_text("t_h,i_A\n0,20\n1,-20\n2,0\n24,0\n", encoding="utf-8")
    text = f"""title = "{NAME}"
[service]
years = 5
histories_cover = "everything"
ambient_C = 25
[battery]
cell = "lfp_naumann_2020"
series = 100
parallel = 20
start_soc = 0.9
[battery.price]
purchase = 10000
[cost]
currency = "EUR"
discount_rate = 0.05
[[strategy]]
name = "{NAME}"
[strategy.battery]
file = "log.csv"
time = "t_h"
current = "i_A"
interpolation = "zero_order_hold"
clean = ["bridge_gaps"]
"""
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return folder / "study.toml"


@pytest.mark.parametrize("encoding", ["cp1252", "ascii"])
def test_a_name_the_terminal_cannot_print_is_marked_and_the_result_recorded(study, tmp_path, encoding):
    database = f"sqlite:///{tmp_path / 'packwear.sqlite'}"
    done = run("assess", str(study), encoding=encoding, PYTHONIOENCODING=encoding, PACKWEAR_DATABASE_URL=database)
    assert done.returncode == 0, done.stderr
    assert "?????????" in done.stdout
    listed = run("record", "list", "--json", PACKWEAR_DATABASE_URL=database)
    assert NAME in listed.stdout, listed.stderr


def test_json_is_whole_all_the_same(study):
    done = run("assess", str(study), "--json", "--no-record", PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["strategies"][0]["name"] == NAME
