"""Every number of every shipped law has an effect, and no number in the wrong unit gets in."""

from dataclasses import replace

import numpy as np
import pytest

from lifetime.ageing.coefficients import Coefficient, declared_choices, declared_units
from lifetime.ageing.registry import LAWS, build_law, law_faults
from lifetime.ageing.validity import Validity
from lifetime.errors import ProfileError
from lifetime.packs.locate import profiles_folder, shipped_ids
from lifetime.packs.read import read_profile

ALL = [("batteries", name) for name in shipped_ids("batteries")]
ALL += [("ultracapacitors", name) for name in shipped_ids("ultracapacitors")]

# switches that a set ships turned off, turned on here so that the numbers behind them can show
TURNED_ON = {
    "naumann": {"calendar_resistance_soc_weight": 1.0, "cycle_resistance_weight": 1.0},
    "wang": {"c_rate_hold": 0.4},
    "ultracapacitor_doubling": {"cycling_weight": 0.5, "rms_current_coefficient_per_A": 0.002},
    "ultracapacitor_arrhenius": {"cycling_weight": 0.5, "rms_current_coefficient_per_A": 0.002},
}


def law_section(folder, name):
    profile, _ = read_profile(profiles_folder() / folder / f"{name}.toml", name)
    return profile.law


def numbers_and_words(folder, name):
    section = law_section(folder, name)
    numbers, words = section.numbers(), section.words()
    for key, value in TURNED_ON.get(section.name, {}).items():
        numbers[key] = replace(numbers[key], value=value)
    if "shape" in words:
        words["shape"] = "burn_in_linear"
    return section.name, numbers, words


def perturbed(value, place):
    if isinstance(value, tuple):
        return tuple(x * 1.01 if i == place else x for i, x in enumerate(value))
    return value * 1.01


def seen(law, stress):
    clocks = law.clocks(stress)
    health = law.fade(clocks)
    return np.concatenate([clocks.ravel(), health.capacity_fraction.ravel(), health.resistance_ratio.ravel()])


@pytest.mark.parametrize(("folder", "name"), ALL)
def test_every_coefficient_has_an_effect(folder, name, wide_stress):
    law_name, numbers, words = numbers_and_words(folder, name)
    before = seen(build_law(law_name, numbers, words, Validity()), wide_stress)
    without_effect = []
    for key, coefficient in numbers.items():
        for place in range(len(coefficient.value) if isinstance(coefficient.value, tuple) else 1):
            changed = numbers | {key: replace(coefficient, value=perturbed(coefficient.value, place))}
            after = seen(build_law(law_name, changed, words, Validity()), wide_stress)
            if np.allclose(after, before, rtol=1e-12, atol=0.0):
                without_effect.append((key, place))
    assert without_effect == []


@pytest.mark.parametrize(("folder", "name"), ALL)
def test_a_wrong_unit_is_refused(folder, name):
    law_name, numbers, words = numbers_and_words(folder, name)
    for key, coefficient in numbers.items():
        changed = numbers | {key: replace(coefficient, unit="furlong")}
        assert law_faults(law_name, changed, words) == {
            f"coefficients.{key}": f'must be in the unit "{coefficient.unit}", got "furlong"'
        }


def test_all_faults_of_a_law_are_listed_at_once():
    _, numbers, words = numbers_and_words("batteries", "lmo_xu_2018")
    del numbers["depth_k1"]
    numbers["sei_rate"] = Coefficient(-1.0, "1")
    numbers["depth_k2"] = Coefficient((1.0, 2.0), "1")
    numbers["surprise"] = Coefficient(1.0, "1")
    words["shape"] = "linear"
    faults = law_faults("xu", numbers, words)
    assert set(faults) == {
        "coefficients.depth_k1",
        "coefficients.sei_rate",
        "coefficients.depth_k2",
        "coefficients.surprise",
        "choices.shape",
    }
    with pytest.raises(ProfileError, match="law.coefficients.sei_rate must be above 0, got -1.0"):
        build_law("xu", numbers, words, Validity())


def test_a_list_is_wanted_where_the_law_has_a_table():
    _, numbers, words = numbers_and_words("batteries", "lfp_power_wang_2011")
    numbers["pre_exponential_percent"] = Coefficient(3.0, "% Ah^-z")
    assert "must be a list of numbers" in law_faults("wang", numbers, words)["coefficients.pre_exponential_percent"]


def test_lists_that_belong_together_must_be_equally_long():
    _, numbers, words = numbers_and_words("batteries", "lfp_power_wang_2011")
    numbers["pre_exponential_percent"] = Coefficient((3.0, 2.0), "% Ah^-z")
    faults = law_faults("wang", numbers, words)
    assert faults == {"coefficients.pre_exponential_percent": "must be a list of 4 numbers, got 2"}


def test_an_unknown_law_or_choice_is_refused():
    assert 'got "alchemy"' in law_faults("alchemy", {}, {})["name"]
    name, numbers, words = numbers_and_words("ultracapacitors", "edlc_3000F_10K_0p2V")
    words["shape"] = "zigzag"
    assert law_faults(name, numbers, words) == {
        "choices.shape": "must be one of linear, square_root, burn_in_linear, got zigzag"
    }


@pytest.mark.parametrize("name", LAWS)
def test_registry_knows_what_each_law_wants(name):
    assert declared_units(LAWS[name])
    assert set(declared_choices(LAWS[name])) == ({"shape"} if name.startswith("ultracapacitor") else set())
