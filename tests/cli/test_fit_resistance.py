"""``packwear fit-resistance`` on pulses made from known parameters."""

import json
import tomllib

import numpy as np
import pytest
from typer.testing import CliRunner

from lifetime.cli.app import build_app
from lifetime.cli.recorders import Recorders


@pytest.fixture
def run():
    app = build_app(Recorders(lambda *_: None, lambda *_: None))
    return lambda *words: CliRunner().invoke(app, ["fit-resistance", *map(str, words)])


@pytest.fixture
def pulses(tmp_path):
    """40 mΩ at once and 20 mΩ more with 20 s, at 25 and 0 °C with 20 kJ/mol: 2.093 times (section 2.1)."""
    rows = ["pulse_time_s,temperature_C,soc,resistance_ohm"]
    for celsius, factor in ((25.0, 1.0), (0.0, 2.093)):
        for seconds in (0.1, 1.0, 3.0, 10.0, 30.0, 90.0):
            ohms = factor * (0.04 + 0.02 * (1.0 - np.exp(-seconds / 20.0)))
            rows.append(f"{seconds},{celsius},0.5,{ohms:.8f}")
    path = tmp_path / "pulses.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def test_the_parameters_come_back(run, pulses):
    result = run(pulses, "--json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.output)
    # 0.04 + 0.02 (1 - e^-0.5) = 0.0478694.
    assert found["resistance_ohm"] == pytest.approx(0.0478694, rel=2e-3)
    assert found["activation_energy_kJ_per_mol"] == pytest.approx(20.0, rel=5e-3)
    assert found["residual_rms"] < 2e-3
    assert min(abs(tau - 20.0) for tau in found["time_constants_s"]) < 2.0


def test_the_section_is_that_of_a_parameter_set(run, pulses):
    result = run(pulses)
    assert result.exit_code == 0, result.output
    text = result.output.split("Residuals of 12 pulses")[0]
    sections = tomllib.loads(text)
    assert sections["cell"]["resistance_ohm"]["value"] == pytest.approx(0.0479, rel=2e-3)
    assert sections["resistance"]["activation_energy"]["value"] == pytest.approx(20.0, rel=0.01)


def test_a_file_without_the_columns_is_refused(run, tmp_path):
    path = tmp_path / "other.csv"
    path.write_text("time,ohm\n1,2\n", encoding="utf-8")
    result = run(path)
    assert result.exit_code == 2
    assert "pulse_time_s" in result.output
