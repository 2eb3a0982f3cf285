"""The command ``check`` through the real program."""

import json
import math
import subprocess
import sys
import tomllib

import pytest

LOG = "Time [s];I_bat [A];U_bat [V];T_bat [°C];SOC [%]\n" + "".join(
    f"{k};{-20 - 10 * (k % 2)};{360 - 0.1 * (20 + 10 * (k % 2))};{25 + k % 3};{80 - 0.5 * k}\n" for k in range(60)
)


@pytest.fixture
def run(tmp_path):
    def _run(*arguments):
        command = [sys.executable, "-c", "from webapi.cli import main; main()", *arguments]
        return subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=120, check=False)

    return _run


def test_a_summary_a_person_reads(run, tmp_path):
    (tmp_path / "log.csv").write_text(LOG, encoding="utf-8")
    done = run("check", "log.csv")
    assert done.returncode == 0
    assert "60 rows, 5 columns" in done.stdout
    assert 'State discharge_is = "negative"' in done.stdout.replace("\n", " ")
    assert max(len(line) for line in done.stdout.splitlines() if not line.startswith("battery =")) <= 80
    assert done.stderr == ""


def test_one_json_document(run, tmp_path):
    (tmp_path / "log.csv").write_text(LOG, encoding="utf-8")
    found = json.loads(run("check", "log.csv", "--json").stdout)
    assert (found["rows"], found["sign"]["sign"]) == (60, "negative")
    assert found["study_keys"]["discharge_is"] == "negative"


def test_json_keeps_every_character_where_output_is_ascii(run, tmp_path, monkeypatch):
    # Both escapes and characters are JSON (RFC 8259, section 7); a question mark would be another name.
    monkeypatch.setenv("PYTHONIOENCODING", "ascii")
    (tmp_path / "log.csv").write_text(LOG, encoding="utf-8")
    found = json.loads(run("check", "log.csv", "--json").stdout)
    assert [one["name"] for one in found["columns"]][3] == "T_bat [°C]"


def test_a_stated_row_of_names_is_in_the_study(run, tmp_path):
    (tmp_path / "log.csv").write_text("one run of a day\n" + LOG, encoding="utf-8")
    stated = ("--header-row", "2", "--decimal", ".")
    assert run("check", "log.csv", *stated, "--write", "study.toml").returncode == 0
    text = (tmp_path / "study.toml").read_text(encoding="utf-8")
    assert 'decimal = ".", header_row = 2 }' in text


def test_a_page_with_the_channels(run, tmp_path):
    (tmp_path / "log.csv").write_text(LOG, encoding="utf-8")
    assert run("check", "log.csv", "--plot", "page.html").returncode == 0
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert page.count("<svg") == 1
    assert "current [A]" in page
    assert "<script" not in page


def test_a_study_to_edit_and_to_assess(run, tmp_path):
    (tmp_path / "log.csv").write_text(LOG, encoding="utf-8")
    done = run("check", "log.csv", "--write", "study.toml")
    assert done.returncode == 0
    text = (tmp_path / "study.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["strategy"][0]["battery"]["current"] == "I_bat [A]"
    refused = run("assess", "study.toml", "--no-record")
    assert refused.returncode == 2
    # One fault for each question mark, and no other.
    marks = [line for line in text.splitlines() if line.partition("#")[0].rstrip().endswith('= "?"')]
    faults = refused.stderr.splitlines()[1:]
    assert len(faults) == len(marks) == 5
    assert all(line.endswith('is still "?"; it is yours to fill in.') for line in faults)
    known = {"cell": '"lfp_naumann_2020"', "series": "110", "parallel": "4", "purchase_per_kWh": "200"}
    for key, value in known.items():
        text = text.replace(f'{key} = "?"', f"{key} = {value}", 1)
    (tmp_path / "study.toml").write_text(text.replace('title = "?"', 'title = "Mine"'), encoding="utf-8")
    assessed = run("assess", "study.toml", "--no-record")
    assert assessed.returncode == 0, assessed.stderr
    assert run("check", "log.csv", "--write", "study.toml").returncode == 2


def test_a_power_becomes_a_demand(run, tmp_path):
    (tmp_path / "p.csv").write_text("t_s,p_kW\n0,1\n1,2\n2,1\n", encoding="utf-8")
    assert run("check", "p.csv", "--write", "study.toml").returncode == 0
    strategy = tomllib.loads((tmp_path / "study.toml").read_text(encoding="utf-8"))["strategy"][0]
    assert strategy["demand"]["power"] == "p_kW"
    assert strategy["split"] == {"rule": "battery_only"}


def test_a_speed_becomes_a_demand_with_a_vehicle(run, tmp_path):
    (tmp_path / "v.csv").write_text("cycSecs,cycMps\n0,0\n1,2\n2,1\n", encoding="utf-8")
    assert run("check", "v.csv", "--write", "study.toml").returncode == 0
    study = tomllib.loads((tmp_path / "study.toml").read_text(encoding="utf-8"))
    assert study["strategy"][0]["demand"]["speed"] == "cycMps"
    refused = run("assess", "study.toml").stderr
    for place in ("vehicle.mass_kg", "strategy[1].demand.time_unit", "strategy[1].demand.speed_unit"):
        assert f"  {place}: is still" in refused


def test_a_file_of_another_kind_is_named_with_the_column(run, tmp_path):
    (tmp_path / "a1.csv").write_text("t [s],I [A]\n0,1\n1,2\n", encoding="utf-8")
    (tmp_path / "a2.csv").write_text("t [s],current [A]\n2,1\n3,2\n", encoding="utf-8")
    (fault,) = [
        one for one in json.loads(run("check", "a*.csv", "--json").stdout)["findings"] if one["severity"] == "error"
    ]
    assert fault["place"] == 'a2.csv, column "I [A]"'


def test_several_files_and_options(run, tmp_path):
    for name, start in (("a", 0), ("b", 60)):
        rows = "".join(f"{start + k};{k % 7},5\n" for k in range(60))
        (tmp_path / f"log_{name}.csv").write_text("x;y\nt;i\n" + rows, encoding="utf-8")
    done = run("check", "log_*.csv", "--header-row", "2", "--decimal", ",")
    assert done.returncode == 0, done.stderr
    assert "2 files, CSV" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["check", "nothing.csv"], "does not exist"),
        (["check", "nothing_*.csv"], "no file fits"),
        (["check", "log.csv", "--decimal", ";"], "--decimal must be"),
        (["check", "log.csv", "--header-row", "99999"], "is beyond"),
    ],
)
def test_bad_input_is_said_in_one_line(run, tmp_path, arguments, expected):
    (tmp_path / "log.csv").write_text(LOG, encoding="utf-8")
    done = run(*arguments)
    assert done.returncode == 2
    assert expected in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_time_that_runs_backwards_is_not_given_a_length(run, tmp_path):
    (tmp_path / "b.csv").write_text("t [s],I [A]\n" + "".join(f"{9 - k},{k}\n" for k in range(9)), encoding="utf-8")
    done = run("check", "b.csv").stdout
    assert 'Time in "t [s]" runs backwards' in done
    assert "-8 s" not in done


def test_a_study_of_a_winding_set_needs_no_vehicle(run, tmp_path):
    names = [f"{quantity}_{phase}" for quantity in ("i", "u") for phase in "uvw"]
    lines = ["t [s]," + ",".join(f"{name} [{'A' if name[0] == 'i' else 'V'}]" for name in names)]
    for k in range(400):  # 50 Hz at 1 kHz
        waves = [math.sin(0.1 * math.pi * k - number * 2.0 * math.pi / 3.0) for number in range(3)]
        lines.append(f"{k / 1000.0}," + ",".join(f"{scale * wave:.4f}" for scale in (100.0, 200.0) for wave in waves))
    (tmp_path / "machine.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert run("check", "machine.csv", "--write", "study.toml").returncode == 0
    study = tomllib.loads((tmp_path / "study.toml").read_text(encoding="utf-8"))
    demand = study["strategy"][0]["demand"]
    assert demand["phase_currents"] == ["i_u [A]", "i_v [A]", "i_w [A]"]
    assert demand["phase_voltages"] == ["u_u [V]", "u_v [V]", "u_w [V]"]
    assert "vehicle" not in study


def test_other_columns_that_fit_are_listed_with_the_evidence(run, tmp_path):
    rows = "".join(f"{k},{k % 7},{60 + k % 5}\n" for k in range(40))
    (tmp_path / "log.csv").write_text("t [s],I_bat [A],Motor Temp [°C]\n" + rows, encoding="utf-8")
    shown = " ".join(run("check", "log.csv").stdout.split())
    assert 'temperature: "Motor Temp [°C]", its unit is °C and its name fits, but its name mentions another' in shown
