"""A design of a strategy's own, and the levers beside the split, against studies that are so as a whole."""

import copy

import pytest

from lifetime.assessment.run import assess
from lifetime.packs.locate import profiles_folder
from lifetime.report.page.ranking import lever_rows
from lifetime.results.document import ResultDocument
from lifetime.study.load import Folder, read_toml, resolve_study

FOLDER = profiles_folder() / "demo"
COOLER_C = [-19, -17, -11, -3, 4, 10, 13, 11, 5, -2, -10, -16]
"""The months of the cold climate, each less 5."""


def assessed(data):
    return assess(resolve_study(data, "study", Folder(FOLDER)))


@pytest.fixture(scope="module")
def demo():
    """The battery alone and one split of the built-in study."""
    data = read_toml(FOLDER / "yard_tractor.toml")
    data["strategy"] = [one for one in data["strategy"] if one["name"] in ("Battery alone", "Low-pass, 20 s")]
    return data


@pytest.fixture(scope="module")
def result(demo):
    """The same with a third strategy: the battery alone, of 48 cells in parallel, charged at 0.1 C."""
    data = copy.deepcopy(demo)
    design = {"battery": {"parallel": 48}, "day": {"charge_c_rate": 0.1}}
    data["strategy"].append({**data["strategy"][0], "name": "Larger", "design": design})
    return assessed(data)


def of(found, name):
    return next(one for one in found.strategies if one.name == name)


def figures(one):
    return (one.battery.life_years, one.life_cycle_cost.net_present_cost, one.energy.total_kWh_per_year)


def changed(demo, path, value):
    data = copy.deepcopy(demo)
    holder = data
    for key in path[:-1]:
        holder = holder[key]
    holder[path[-1]] = value
    return data


def test_a_design_is_assessed_as_a_study_of_that_design(demo, result):
    whole = changed(changed(demo, ("battery", "parallel"), 48), ("service", "day", "charge_c_rate"), 0.1)
    alone = demo["strategy"][0]["name"]
    assert figures(of(result, "Larger")) == pytest.approx(figures(of(assessed(whole), alone)), rel=1e-12)
    assert figures(of(result, alone)) != pytest.approx(figures(of(result, "Larger")), rel=1e-3)


def test_the_document_says_what_differs(result):
    told = of(ResultDocument.of(result), "Larger")
    assert told.design == {"battery.parallel": 48, "day.charge_c_rate": 0.1}
    assert told.parameter_sets.battery.pack.parallel == 48
    assert of(ResultDocument.of(result), "Battery alone").parameter_sets is None


def test_each_lever_is_the_study_with_that_one_change(demo):
    found = assessed(demo)
    best = found.strategies[0]
    expected = {
        "charging at 0.25 C": changed(demo, ("service", "day", "charge_c_rate"), 0.25),
        "charging to 80 %": changed(
            changed(demo, ("service", "day", "charge_to_soc"), 0.8), ("battery", "start_soc"), 0.8
        ),
        "charging just before the drive": changed(
            changed(demo, ("service", "day", "drive_starts_at_hour"), 7.0),
            ("service", "day", "charge_ends_at_hour"),
            7.0,
        ),
        "5 K cooler surroundings": changed(demo, ("service", "ambient_C"), COOLER_C),
        "48 cells in parallel": changed(demo, ("battery", "parallel"), 48),
    }
    del expected["5 K cooler surroundings"]["service"]["climate"]
    levers = {one.words: one for one in found.levers}
    assert [*levers] == list(expected)
    for words, data in expected.items():
        life, cost, _ = figures(of(assessed(data), best.name))
        assert levers[words].battery_life_years == pytest.approx(life, rel=1e-12)
        assert levers[words].net_present_cost == pytest.approx(cost, rel=1e-12)


def test_a_lever_with_which_the_day_cannot_be_driven_says_so(result):
    told = ResultDocument.of(result)
    lever = told.levers[0].model_copy(update={"battery_life_years": 0.0, "net_present_cost": None})
    (row,) = lever_rows(told.model_copy(update={"levers": (lever,)}))
    assert (row.battery_life, row.difference) == ("requirement not met", "no result")


def test_cooler_surroundings_lengthen_a_life_that_heat_shortens(demo):
    warm = changed(demo, ("service", "climate"), "hot_dry")
    warm["strategy"] = warm["strategy"][:1]
    found = assessed(warm)
    cooler = next(one for one in found.levers if one.words == "5 K cooler surroundings")
    # By the model's own Arrhenius term cooler storage lasts longer.
    assert cooler.battery_life_years > found.strategies[0].battery.life_years
