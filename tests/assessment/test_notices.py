"""Each notice against the limit from which it is given, and the figures it has to name, reckoned by hand."""

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from lifetime.assessment.notices.cost import cost_notices
from lifetime.assessment.notices.day import charging_notices, day_notices
from lifetime.assessment.notices.histories import history_notices
from lifetime.assessment.notices.life import life_notices, loss_notices, range_notices
from lifetime.assessment.notices.parameters import grade_notices, not_modelled
from lifetime.assessment.notices.requirement import bound_not_used, not_met_at_any_current, not_met_within_bounds
from lifetime.costing.life_cycle import NoLifeCycleCost, life_cycle_cost
from lifetime.costing.terms import CostTerms, SourceCost
from lifetime.history.spec import HistoryInput
from lifetime.notices import Notice
from lifetime.packs.load import load_cell
from lifetime.packs.locate import profiles_folder
from lifetime.packs.profile import Grade
from lifetime.projection.years import Trajectory
from lifetime.stress.day import Charging
from lifetime.stress.source import Thermal


def said(notices):
    return {notice.code: notice.message for notice in notices}


def straight(years, loss_per_year):
    """A trajectory that loses the same every month."""
    time = np.arange(years * 12 + 1) / 12.0
    return Trajectory(time, np.zeros((time.size, 1)), 1.0 - loss_per_year * time, np.ones(time.size))


class TestDay:
    # 1 % of 360,000 As are 3600 As: 100 A for 36 s.
    @pytest.mark.parametrize(("seconds", "is_said"), [(35, False), (37, True)])
    def test_an_open_charge_balance_is_said_above_a_hundredth(self, battery, day_of, seconds, is_said):
        setup = battery()
        messages = said(day_notices(day_of(setup, [100.0] * seconds), setup.source, power_driven=False))
        assert ("day_does_not_close" in messages) == is_said

    def test_it_names_the_charge_and_the_side(self, battery, day_of):
        setup = battery()
        below = said(day_notices(day_of(setup, [100.0] * 360), setup.source, power_driven=False))["day_does_not_close"]
        assert "battery not closed: each working day ends 10 Ah (10.0 % of capacity) below its start" in below
        above = said(day_notices(day_of(setup, [-100.0] * 360), setup.source, power_driven=False))["day_does_not_close"]
        assert "10 Ah (10.0 % of capacity) above its start" in above

    def test_what_charging_brings_back_is_closed(self, battery, day_of):
        setup = battery(charging=Charging(50.0, 0.8))
        assert "day_does_not_close" not in said(
            day_notices(day_of(setup, [100.0] * 360), setup.source, power_driven=False)
        )

    def test_charging_held_back_by_current_or_voltage_is_said(self, battery, day_of):
        # 300 V + 100 V * 0.8 and 0.1 ohm: 385 V are reached at 380 V and 50 A; 390 V never.
        setup = battery(charging=Charging(50.0, 0.8, asked_A=80.0), maximum_voltage_V=420.0)
        messages = said(charging_notices(day_of(setup, [100.0] * 360), setup))
        assert "asks for 80 A" in messages["charging_current_limited"]
        assert "charging_ends_at_voltage" not in messages
        # At 376 V only 0.76 less a twentieth of 50 A (0.25 V) are charged: 0.0425 of the capacity stay out.
        low = battery(charging=Charging(50.0, 0.8), maximum_voltage_V=376.0)
        messages = said(charging_notices(day_of(low, [100.0] * 360), low))
        assert "376 V" in messages["charging_ends_at_voltage"]
        assert "4.25 % of capacity" in messages["charging_ends_at_voltage"]
        assert "charging_current_limited" not in messages

    def test_a_bank_that_only_serves_a_demand_need_not_close(self, ultracapacitor, day_of):
        setup = ultracapacitor()
        day = day_of(setup, [20.0] * 100)
        assert "day_does_not_close" not in said(day_notices(day, setup.source, power_driven=True))
        assert "day_does_not_close" in said(day_notices(day, setup.source, power_driven=False))

    def test_a_whole_log_is_called_a_log(self, battery, day_of):
        setup = battery(charging=Charging(None, 0.8, whole_log=True))
        messages = said(day_notices(day_of(setup, [100.0] * 36 + [100.0] * 4), setup.source, power_driven=False))
        assert "the log ends 1.11 Ah" in messages["day_does_not_close"]
        assert "short_drive" not in messages

    @pytest.mark.parametrize(("seconds", "is_said"), [(59, True), (60, False)])
    def test_a_drive_under_a_minute_is_said(self, battery, day_of, seconds, is_said):
        setup = battery()
        messages = said(day_notices(day_of(setup, [0.0] * seconds), setup.source, power_driven=False))
        assert ("short_drive" in messages) == is_said
        if is_said:
            assert "driven for 59 s" in messages["short_drive"]

    def test_where_the_temperature_is_from(self, battery, day_of):
        plain, warmed = battery(), battery(thermal=Thermal(0.01, 1e5))
        day = day_of(plain, [0.0] * 60)
        assert "no_thermal_model" in said(day_notices(day, plain.source, power_driven=False))
        assert said(day_notices(day_of(warmed, [0.0] * 60), warmed.source, power_driven=False)) == {}
        measured = replace(day, drive=replace(day.drive, end_measured_K=298.15))
        assert set(said(day_notices(measured, plain.source, power_driven=False))) == {"measured_temperature"}


class TestLife:
    @pytest.mark.parametrize(
        ("life_years", "expected"),
        [
            (None, set()),
            (0.0, set()),  # an unmet requirement is said elsewhere
            (0.9 / 365, {"life_below_a_day"}),
            (1.1 / 365, set()),
            (9.9, set()),
            (10.1, {"extrapolated_in_time"}),
        ],
    )
    def test_lives_too_short_and_too_long(self, model, life_years, expected):
        notices = life_notices(model(has_resistance=True), straight(20, 0.01), life_years, 10.0)
        assert set(said(notices)) == expected

    def test_no_resistance(self, model):
        (notice,) = life_notices(model(), straight(20, 0.01), 5.0, 10.0)
        assert (notice.code, notice.severity) == ("no_resistance_law", "note")

    def test_scrap_before_service_ends(self, model):
        law = model(has_resistance=True)
        assert "after 7.0 years" in said(life_notices(law, straight(7, 0.1), 2.0, 10.0))["scrap_before_service_end"]
        assert said(life_notices(law, straight(10, 0.05), 2.0, 10.0)) == {}
        # A source that was never projected has no scrap date.
        assert said(life_notices(law, straight(0, 0.0), 0.0, 10.0)) == {}

    # 2 % a year: 10 % after 5 years.
    @pytest.mark.parametrize(("life_years", "is_said"), [(4.9, False), (8.0, True), (None, True)])
    def test_beyond_the_tested_loss(self, cell, life_years, is_said):
        found = said(loss_notices(cell(tested_loss=0.1), straight(10, 0.02), life_years))
        assert bool(found) == is_said
        if is_said:
            message = found["extrapolated_in_loss"]
            assert f"reached 10 % capacity loss, which is passed after 5 of {life_years or 10.0:.3g} years" in message

    def test_a_life_that_ends_at_the_tested_loss_does_not_pass_it(self, cell):
        # 2 % a year: 20 % after 10 years, but for rounding.
        assert loss_notices(cell(tested_loss=0.2), straight(10, 0.02), 10.0) == []

    @pytest.mark.parametrize("kind", ["battery", "ultracapacitor"])
    def test_shipped_sets_warn_beyond_the_usual_end_of_tests(self, kind):
        # IEC 62660-1 ends cycle-life tests at 80 % of the initial capacity: 20 %, at 2 % a year after 10 years.
        folder = profiles_folder() / ("batteries" if kind == "battery" else "ultracapacitors")
        for path in folder.glob("*.toml"):
            messages = said(loss_notices(load_cell(path.stem, kind, folder), straight(20, 0.02), 15.0))
            assert "states no tested_loss" in messages["extrapolated_in_loss"]
            assert "20 % capacity loss, which is passed after 10 of 15 years" in messages["extrapolated_in_loss"]

    def test_without_a_tested_loss_nothing_is_said(self, cell):
        assert loss_notices(cell(), straight(10, 0.05), 8.0) == []


class TestCost:
    def test_a_residual_value_that_was_assumed_is_a_warning_with_its_amount(self):
        # 10 of 50 years are used: 800 of 1000 come back at the end, undiscounted; 200 are left to pay.
        cost = life_cycle_cost(SourceCost(1000.0, None), CostTerms(10.0, 0.0), energy_bought_kWh_per_year=0.0)
        (notice,) = cost_notices(cost, "EUR")
        assert (notice.code, notice.severity) == ("residual_life_assumed", "warning")
        assert "All residual values of this strategy come to -800 EUR." in notice.message

    def test_without_a_cost_or_an_assumption_there_is_nothing_to_say(self):
        assert cost_notices(NoLifeCycleCost("none"), "EUR") == []
        known = life_cycle_cost(SourceCost(1000.0, 20.0), CostTerms(10.0, 0.0), energy_bought_kWh_per_year=0.0)
        assert cost_notices(known, "EUR") == []


class TestRanges:
    def test_what_leaves_the_range_with_age_is_said_once_and_when(self, model):
        class Ranged(model):
            def range_notices(self, stress):
                return [Notice(code, f"{code}.") for code in stress]

        notices = said(range_notices(Ranged(), ["depth"], ["depth", "rate"]))
        assert notices == {"depth": "depth.", "rate": "At the end of life, not at its beginning: rate."}


class TestParameters:
    def test_every_grade_but_the_best_is_said(self, cell):
        best, *others = get_args(Grade)
        assert grade_notices(cell(best)) == []
        for grade in others:
            (notice,) = grade_notices(cell(grade))
            assert (notice.code, notice.severity) == ("parameter_grade", "note")
            assert f'Of the 1 numbers of invented, 1 have the grade "{grade}"' in notice.message

    def test_only_the_weakest_numbers_are_counted(self, cell):
        best, weaker = get_args(Grade)[0], get_args(Grade)[2]
        one = cell(weaker)
        mixed = replace(one, provenance=(*one.provenance, replace(one.provenance[0], grade=best), *one.provenance))
        assert "Of the 3 numbers of invented, 2 have" in grade_notices(mixed)[0].message

    def test_what_a_model_does_not_respond_to(self, model):
        assert not_modelled(model(sees=frozenset({"soc", "temperature"}))) == (
            "current amplitude (C-rate)",
            "charging rate",
            "cycle depth",
            "mean state of charge of cycles",
            "temperature while cycling",
        )


def test_requirements_name_the_source_and_the_bounds():
    bounds = {"lowest voltage", "lowest state of charge"}
    unmet = not_met_within_bounds("battery", bounds)
    assert unmet.code == "cannot_deliver_when_new"
    assert "new battery exceeds its bound of lowest state of charge, lowest voltage" in unmet.message
    assert "by 25 %" in not_met_at_any_current("ultracapacitor", 0.25).message
    unused = bound_not_used("battery", {"lowest voltage": 12.3, "highest voltage": 4.0})
    assert unused.code == "voltage_bound_exceeded_when_new"
    assert "highest voltage by 4 V, lowest voltage by 12.3 V" in unused.message
    assert "has no rank" in unused.message


def test_each_history_says_how_its_values_run(history):
    held, straight_line = history([1.0, 2.0]), history([1.0, 2.0], interpolation="linear")
    specs = [HistoryInput(file=name, time="t", current="i") for name in ("a.csv", "b.csv")]
    inputs = {"battery": specs[0], "ultracapacitor": specs[1]}
    notices = history_notices(inputs, dict(zip(specs, (held, straight_line), strict=True)))
    messages = [notice.message for notice in notices if notice.code == "interpolation"]
    assert messages[0].startswith("battery: zero-order hold between the 3 samples of arrays;")
    assert messages[1].startswith("ultracapacitor: linear between the 3 samples of arrays;")
    assert all("discharge_is = positive" in message for message in messages)
    # What reading and cleaning said comes along.
    assert len(notices) == 2 + len(held.notices) + len(straight_line.notices)
