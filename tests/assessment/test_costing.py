"""What lives cost, by hand, and what is said where a life is too short to have a cost.

10 years of service at rate 0: every purchase and labour counts in full.
"""

import re
from types import SimpleNamespace

import pytest

from lifetime.assessment.costing import cost_of_lives, priced_anew
from lifetime.assessment.run import assess
from lifetime.costing.energy import EnergyBought
from lifetime.costing.life_cycle import LifeCycleCost, NoLifeCycleCost
from lifetime.packs.locate import profiles_folder
from lifetime.report.page.ranking import answer
from lifetime.report.words import reference_sentence
from lifetime.results.document import ResultDocument
from lifetime.results.records import StrategyResult
from lifetime.study.load import Folder, read_toml, resolve_study

DAY = 1 / 365


NOTHING = EnergyBought(0.0)


def lasting(years, state="reached", kind="battery", limit="capacity"):
    return SimpleNamespace(
        kind=kind,
        life_years=years,
        cost_life_years=years,
        life_state=state,
        end_of_life_criterion=limit,
    )


@pytest.fixture
def setup(study_setup, battery, ultracapacitor):
    return study_setup(battery(), ultracapacitor())


def test_both_sources_by_hand(setup):
    # Battery 1000 bought twice, labour 50 once; bank 500 bought once and half of its 20 years left: 500 - 250.
    cost = cost_of_lives(setup, lasting(5.0), lasting(20.0, kind="ultracapacitor"), NOTHING)
    assert cost.net_present_cost == pytest.approx(2050.0 + 250.0)
    assert cost.replacements == {"battery": 1, "ultracapacitor": 0}
    # 230 a year over 100 km on each day worked.
    assert cost.cost_per_km == pytest.approx(230.0 / 36_500.0)


def test_a_strategy_without_bank_does_not_pay_for_it(setup):
    assert cost_of_lives(setup, lasting(5.0), None, NOTHING).net_present_cost == pytest.approx(2050.0)


def test_all_energy_bought_is_paid(setup):
    setup.loaded.study.cost = setup.loaded.study.cost.model_copy(update={"electricity_per_kWh": 0.5})
    energy = EnergyBought(30.0, 4.0, 6.0)
    cost = cost_of_lives(setup, lasting(10.0), lasting(10.0, kind="ultracapacitor"), energy)
    assert cost.net_present_cost == pytest.approx(1500.0 + 10 * 0.5 * 40.0)


@pytest.mark.parametrize(("years", "has_cost"), [(DAY, True), (0.999 * DAY, False), (1e-9, False), (None, True)])
def test_a_life_costs_from_a_day_on(setup, years, has_cost):
    assert isinstance(
        cost_of_lives(setup, lasting(years), None, NOTHING), LifeCycleCost if has_cost else NoLifeCycleCost
    )


def test_a_life_under_a_day_is_no_unmet_requirement(setup):
    cost = cost_of_lives(setup, lasting(0.25 * DAY), None, NOTHING)
    assert cost.reason.startswith("the battery reaches its end of life (capacity) after 6 h")
    assert "requirement" not in cost.reason


def test_an_unmet_requirement_is_named(setup):
    cost = cost_of_lives(setup, lasting(0.0, "requirement_not_met", limit="requirement"), None, NOTHING)
    assert cost.reason.startswith("the battery does not meet its requirement at the beginning of life")


def test_the_source_without_a_life_is_named(setup):
    bank = lasting(0.5 * DAY, kind="ultracapacitor", limit="esr")
    cost = cost_of_lives(setup, lasting(5.0), bank, NOTHING)
    assert cost.reason.startswith("the ultracapacitor bank reaches its end of life (esr) after 12 h")


def test_priced_anew_keeps_the_lives_and_loses_the_rank(setup):
    known = lasting(5.0)
    before = StrategyResult("A", 3, known, None, NOTHING, NoLifeCycleCost("not yet"), None, None, None, ())
    after = priced_anew(setup, before)
    assert after.battery is known
    assert after.rank is None
    assert after.life_cycle_cost.net_present_cost == pytest.approx(2050.0)
    assert before.life_cycle_cost is None


@pytest.fixture(scope="module")
def short_lived():
    """The demo, whose battery counts as worn out after 0.005 % of its capacity: it works, but for less than a day."""
    folder = profiles_folder() / "demo"
    data = read_toml(folder / "yard_tractor.toml")
    data["strategy"] = [one for one in data["strategy"] if one["name"] != "Fewer cells, no bank"]
    data["end_of_life"] = data.get("end_of_life", {}) | {"battery_capacity": 0.99995}
    return assess(resolve_study(data, "study", Folder(folder)))


def test_no_text_calls_a_short_life_an_unmet_requirement(short_lived):
    told = ResultDocument.of(short_lived)
    for strategy in told.strategies:
        assert 0.0 < strategy.battery.life_years < DAY
        assert strategy.battery.life_state == "reached"
        assert strategy.known_cost is None
        assert re.match(r"the battery reaches its end of life \(capacity\) after \d", strategy.cost.reason)
    texts = [answer(told), *(reference_sentence(strategy.reference_split) for strategy in told.strategies)]
    texts += [warning.message for strategy in told.strategies for warning in strategy.battery.warnings]
    texts += [strategy.cost.reason for strategy in told.strategies]
    wrong = re.compile(r"cannot deliver|does not deliver|get.? through|beginning of life|requirement|new battery")
    assert [text for text in texts if wrong.search(text)] == []
    assert "shorter than a day" in answer(told)
