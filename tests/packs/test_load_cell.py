"""Loading parameter sets: shipped or the user's own, and every fault said at once."""

import hashlib
import pickle
from pathlib import Path

import numpy as np
import pytest

from lifetime.errors import NumberError, ProfileError
from lifetime.packs.cell import OpenCircuitCurve
from lifetime.packs.load import load_cell, with_open_circuit
from lifetime.packs.locate import profiles_folder, shipped_ids
from lifetime.packs.read import parse_profile

LFP = profiles_folder() / "batteries" / "lfp_naumann_2020.toml"
EDLC = profiles_folder() / "ultracapacitors" / "edlc_3000F_10K_0p2V.toml"


def faults_of(text, file="own.toml"):
    with pytest.raises(ProfileError) as caught:
        parse_profile(text, file)
    return str(caught.value).splitlines()


def test_shipped_battery():
    cell = load_cell("lfp_naumann_2020", "battery", Path())
    assert (cell.id, cell.kind) == ("lfp_naumann_2020", "battery")
    assert (cell.rated_capacity_Ah, cell.capacitance_F) == (3.0, None)
    assert cell.sha256 == hashlib.sha256(LFP.read_bytes()).hexdigest()
    assert cell.lowest_grade == "derived"


def test_shipped_ultracapacitor_is_linear_in_charge():
    cell = load_cell("edlc_3000F_10K_0p2V", "ultracapacitor", Path())
    np.testing.assert_allclose(cell.open_circuit(np.array([-0.1, 0.0, 0.5, 1.0, 1.1])), [-0.27, 0, 1.35, 2.7, 2.97])


def test_own_file_relative_to_the_study(tmp_path):
    (tmp_path / "cells").mkdir()
    (tmp_path / "cells" / "mine.toml").write_text(LFP.read_text(encoding="utf-8"), encoding="utf-8")
    cell = load_cell("cells/mine.toml", "battery", tmp_path)
    assert cell.id == "cells/mine.toml"
    assert cell.sha256 == load_cell("lfp_naumann_2020", "battery", Path()).sha256


def test_unknown_id_lists_the_ids_and_the_nearest():
    with pytest.raises(ProfileError, match='The nearest is "lfp_schimpe_2018"') as caught:
        load_cell("lfp_shimpe_2018", "battery", Path())
    assert "nmc_schmalstieg_2014" in str(caught.value)


def test_a_withdrawn_set_is_refused_with_the_reason_and_the_others():
    with pytest.raises(ProfileError, match="is withdrawn: it was nmc_schmalstieg_2014 times two factors") as caught:
        load_cell("nmc_ev_scaled", "battery", Path())
    assert all(name in str(caught.value) for name in shipped_ids("batteries"))
    assert "nmc_ev_scaled" not in shipped_ids("batteries")


def test_missing_file_and_wrong_kind(tmp_path):
    with pytest.raises(ProfileError, match="mine.toml: no such file"):
        load_cell("mine.toml", "battery", tmp_path)
    (tmp_path / "mine.toml").write_bytes(EDLC.read_bytes())
    with pytest.raises(ProfileError, match='mine.toml: kind must be "battery" here, got "ultracapacitor"'):
        load_cell("mine.toml", "battery", tmp_path)


def test_cells_travel_between_processes():
    cell = load_cell("lfp_schimpe_2018", "battery", Path())
    again = pickle.loads(pickle.dumps(cell))  # noqa: S301 - our own bytes
    assert again.law == cell.law
    np.testing.assert_array_equal(again.open_circuit.voltage_V, cell.open_circuit.voltage_V)


def test_all_faults_at_once():
    text = LFP.read_text(encoding="utf-8")
    text = text.replace('title = "', 'titel = "', 1)  # missing and unknown
    text = text.replace('unit = "Ah"', 'unit = "mAh"', 1)
    text = text.replace("value = 17126.0", 'value = "17126"', 1)
    text = text.replace('grade = "secondary source"', 'grade = "guessed"', 1)
    text = text.replace("range = [0.010, 0.060]", "range = [0.060, 0.010]", 1)
    faults = faults_of(text)
    assert all(line.startswith("own.toml: ") for line in faults)
    joined = "\n".join(faults)
    assert "own.toml: title is missing" in joined
    assert "own.toml: titel is not a key of a parameter set" in joined
    assert "law.coefficients.calendar_capacity_activation_J_per_mol.value must be a finite number" in joined
    assert (
        "cold_charging.grade must be one of 'primary source', 'secondary source', 'unverified', 'derived' or "
        "'convention'" in joined
    )
    assert "cell.resistance_ohm.range must be [low, high] with low below high" in joined


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('unit = "Ah"', 'unit = "mAh"', 'own.toml: cell.capacity_Ah must be in the unit "Ah", got "mAh"'),
        ("value = 3.0,", "value = -3.0,", "own.toml: cell.capacity_Ah must be above 0, got -3"),
        ("value = 3.2,", "value = 3.9,", "own.toml: cell.nominal_voltage_V must be above the minimum"),
        ("value = 0.030,", "value = 0.300,", "own.toml: cell.resistance_ohm must lie inside its own range"),
        ("[2.80, 3.00,", "[2.80, 2.70,", "own.toml: ocv.voltage_V must not fall as soc rises"),
        ("[0.0, 0.02,", "[0.0, 0.0,", "own.toml: ocv.soc must be at least two values, each above"),
        ("[2.80, 3.00,", "[2.80,", "own.toml: ocv.voltage_V must be as many values as soc (16), got 15"),
        ('name = "naumann"', 'name = "naumman"', "own.toml: law.name must be one of naumann, schimpe"),
        ('unit = "s^-0.5"', 'unit = "day^-0.5"', "own.toml: law.coefficients.calendar_capacity_rate must be in the"),
        ("value = [0.0, 60.0]", "value = [60.0, 0.0]", "own.toml: validity.temperature_C must be [low, high]"),
        ('kind = "battery"', 'kind = "ultracapacitor"', "own.toml: cell.capacitance_F must be given"),
        ("[cell]", "[cell", "own.toml: must be a TOML file, got a syntax error"),
    ],
)
def test_one_fault_has_its_place_and_its_words(old, new, fault):
    text = LFP.read_text(encoding="utf-8")
    assert old in text
    assert any(line.startswith(fault) for line in faults_of(text.replace(old, new, 1)))


def test_rated_voltage_of_an_ultracapacitor_is_one_number():
    text = EDLC.read_text(encoding="utf-8")
    text = text.replace("nominal_voltage_V = { value = 2.7", "nominal_voltage_V = { value = 2.5")
    (fault,) = faults_of(text)
    assert fault.startswith("own.toml: cell.nominal_voltage_V must equal the maximum voltage for an ultracapacitor")


def test_not_a_number_is_refused():
    text = LFP.read_text(encoding="utf-8").replace("value = 17126.0", "value = nan", 1)
    assert "must be a finite number or a list of them" in faults_of(text)[0]


def test_not_text(tmp_path):
    (tmp_path / "mine.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ProfileError, match="cannot be read as UTF-8"):
        load_cell("mine.toml", "battery", tmp_path)


def test_curve_goes_on_straight_beyond_its_ends():
    curve = OpenCircuitCurve(np.array([0.1, 0.5, 0.9]), np.array([3.0, 3.2, 3.6]), "by hand")
    np.testing.assert_allclose(curve(np.array([0.0, 0.1, 0.3, 0.7, 1.0])), [2.95, 3.0, 3.1, 3.4, 3.7])
    assert curve(0.5).shape == ()
    assert curve(np.zeros((2, 3))).shape == (2, 3)


@pytest.mark.parametrize(
    ("soc", "volts"), [([0.0], [3.0]), ([0.0, 1.0], [3.0]), ([0.5, 0.1], [3.0, 3.1]), ([0.0, 1.0], [3.1, 3.0])]
)
def test_a_curve_that_is_none(soc, volts):
    with pytest.raises(NumberError):
        OpenCircuitCurve(np.array(soc), np.array(volts), "wrong")


def test_own_open_circuit_curve():
    cell = load_cell("nmc_schmalstieg_2014", "battery", Path())
    own = with_open_circuit(cell, [0.0, 0.5, 1.0], [3.0, 3.7, 4.2], "bench, 25 °C, C/25")
    assert own.open_circuit(0.25) == pytest.approx(3.35)
    assert own.open_circuit.label == "bench, 25 °C, C/25"
    entry = {e.key: e for e in own.provenance}["ocv.voltage_V"]
    assert (entry.value, entry.source) == ((3.0, 3.7, 4.2), "bench, 25 °C, C/25")
    assert own.law is cell.law
    with pytest.raises(ProfileError, match="nmc_schmalstieg_2014"):
        with_open_circuit(cell, [0.0, 1.0], [4.2, 3.0], "upside down")
    edlc = load_cell("edlc_2000F_b", "ultracapacitor", Path())
    with pytest.raises(ProfileError, match="linear in its charge"):
        with_open_circuit(edlc, [0.0, 1.0], [0.0, 2.7], "no need")


def test_words_on_cold_charging_belong_to_a_battery(tmp_path):
    words = '[cold_charging]\nvalue = "none"\nsource = "a test"\ngrade = "unverified"\n\n[cell]\n'
    (tmp_path / "own.toml").write_text(EDLC.read_text("utf-8").replace("[cell]\n", words, 1), encoding="utf-8")
    with pytest.raises(ProfileError, match="cold_charging must be left out for an ultracapacitor"):
        load_cell("own.toml", "ultracapacitor", tmp_path)
