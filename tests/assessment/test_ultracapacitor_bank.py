"""A bank of 216 cells of 3000 F under a study's keys, at figures worked out by hand in the comments.

Rule of the set: life halves with each 10 K and each 0.2 V, 1500 h at 2.7 V and 65 °C, so 48,000 h at 2.5 V and 25 °C.
Bank: 3000 F / 216 = 13.889 F, 0.29 mohm x 216 = 62.64 mohm. Stored near 0 V: ESR above 400 % with capacitance
unchanged, "Comparative study of degradation mechanisms of commercial supercapacitors at high temperatures depending on
storage conditions" (abstract). Lithium-ion capacitors: doi 10.3390/batteries5010028 (abstract).
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lifetime.assessment.notices.ultracapacitor import bank_notices
from lifetime.assessment.resolution import ultracapacitor_setup
from lifetime.assessment.source_result import assess_source
from lifetime.assessment.traces import DayTraces
from lifetime.errors import ProfileError
from lifetime.packs.load import load_cell
from lifetime.packs.locate import profiles_folder
from lifetime.projection.duty import Duty
from lifetime.stress.day import Charging, build_day
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.study.duty import Service
from lifetime.study.evaluation import EndOfLife
from lifetime.study.sections import Ultracapacitor

RULE = "edlc_3000F_10K_0p2V"
SERIES = 216
BANK = {"cell": RULE, "series": SERIES, "parallel": 1, "price": {"purchase": 1.0}}
VOLTAGES = {"start_voltage_V": 540.0, "rest_voltage_V": 540.0, "minimum_voltage_V": 270.0, "maximum_voltage_V": 583.2}
YEARS = 48_000.0 / 8760.0


@pytest.fixture
def bank():
    """A bank of the study keys given, with numbers of its ageing model changed."""

    def _bank(law=None, cell=None, end_of_life=None, **keys):
        one = replace(load_cell(RULE, "ultracapacitor", Path()), **cell or {})
        one = replace(one, law=replace(one.law, **law or {}))
        section = Ultracapacitor.model_validate(BANK | VOLTAGES | keys)
        service = Service(years=10.0, working_days_per_year=365.0, ambient_C=25.0, distance_km_per_day=100.0)
        return ultracapacitor_setup(section, one, end_of_life or EndOfLife(), service)

    return _bank


@pytest.fixture
def assessed(day_of, yearly):
    """The result of a bank that stands all day, or of the currents given."""

    def _assessed(setup, current_A=(0.0,) * 60):
        return assess_source(setup, DayTraces(day_of(setup, list(current_A))), yearly())

    return _assessed


@pytest.fixture
def said(day_of, yearly):
    """What is said of a bank under a current of a second each."""

    def _said(setup, current_A=(0.0,) * 60):
        day = day_of(setup, list(current_A))
        stress = Duty(setup.source, DayTraces(day).days, yearly().ambient_K, 365.0).stress(1.0, 1.0)
        return {one.code: one for one in bank_notices(setup, day, stress)}

    return _said


def crossing(result, limit):
    return next(one.years for one in result.crossings if one.limit == limit)


class TestCellSpread:
    @pytest.mark.parametrize(
        ("keys", "factor"),
        [
            ({}, 1.0),
            ({"capacitance_deviation_fraction": 0.02}, 1.0),  # balanced at the top: no cell ages faster
            ({"capacitance_deviation_fraction": 0.02, "balancing": "bottom"}, 0.619),
            ({"capacitance_deviation_fraction": 0.01, "balancing": "bottom"}, 0.787),
            # z sigma (2.5 - 1.35) V = 63.7 mV, 2^(-63.7/200) = 0.802.
            ({"capacitance_deviation_fraction": 0.02, "balancing": "half"}, 0.802),
        ],
    )
    def test_the_weakest_cell_ends_the_life(self, bank, assessed, keys, factor):
        assert assessed(bank(**keys)).life_years == pytest.approx(YEARS * factor, rel=1e-3)

    def test_cells_taken_as_equal_are_said_to_be(self, bank, said):
        # Full at 2.7 V: 2.771 x 0.02 x 2.7 V = 150 mV, 2^(-150/200) = 0.595.
        note = said(bank())["ultracapacitor_cells_equal"]
        assert note.severity == "note"
        assert "150 mV more than the mean at 2.7 V, and 0.595 times its life" in note.message

    def test_a_stated_spread_is_said_with_its_factor(self, bank, said):
        keys = {"capacitance_deviation_fraction": 0.02, "maximum_voltage_V": 583.2}
        half = said(bank(**keys, balancing="half"))["ultracapacitor_weakest_cell"].message
        assert "74.8 mV more than the mean at 2.7 V, and 0.772 times its life" in half
        # Balanced at 2.7 V, the smallest has 1.25 - 0.05543 x (2.7 - 1.25) = 1.17 V at the bottom of the window.
        top = said(bank(**keys, balancing="top"))["ultracapacitor_weakest_cell"].message
        assert "swings lowest, to 1.17 V where the mean has 1.25 V" in top

    def test_strings_side_by_side_have_more_cells_to_choose_from(self, bank):
        keys = {"capacitance_deviation_fraction": 0.02, "parallel": 2}
        assert bank(**keys).model.spread.cells == 432


class TestCapacitanceBasis:
    @pytest.mark.parametrize(("shape", "longer"), [("square_root", 1.860), ("linear", 1.364)])
    def test_a_surplus_is_lost_first(self, bank, assessed, shape, longer):
        # From 1.1 to 0.8 of the rated capacitance 27.27 % are lost: (0.2727/0.2)^2 and 0.2727/0.2 of the damage.
        keys = {"fade_shape": shape, "end_of_life": EndOfLife(ultracapacitor_esr=9.0)}
        rated, more = (assessed(bank(initial_surplus_fraction=one, **keys)) for one in (0.0, 0.1))
        assert crossing(rated, "capacitance") == pytest.approx(YEARS, rel=1e-9)
        assert crossing(more, "capacitance") / crossing(rated, "capacitance") == pytest.approx(longer, abs=5e-4)

    def test_esr_knows_no_surplus(self, bank, assessed):
        result = assessed(bank(initial_surplus_fraction=0.1))
        assert (result.end_of_life_criterion, result.life_years) == ("esr", pytest.approx(YEARS))

    def test_the_bank_holds_what_it_is_delivered_with(self, bank):
        setup = bank(initial_surplus_fraction=0.1)
        assert setup.bank.capacitance_F == pytest.approx(1.1 * 3000.0 / 216.0)
        assert setup.source.capacity_As == pytest.approx(1.1 * 3000.0 * 2.7)
        assert setup.cell.capacitance_F == 3000.0  # a price per farad is that of the rated capacitance

    def test_the_basis_is_said(self, bank, said):
        assert "80 % of the rated capacitance" in said(bank())["ultracapacitor_capacitance_basis"].message
        message = said(bank(initial_surplus_fraction=0.1))["ultracapacitor_capacitance_basis"].message
        assert "at 80 % of the rated capacitance. New cells have 10 % more" in message
        assert "27.3 % of the initial capacitance is lost" in message


@pytest.mark.parametrize(("ratio", "share"), [(1.5, 0.667), (2.0, 0.5)])
def test_esr_ends_the_life_of_a_bank_whose_esr_runs_ahead(bank, assessed, ratio, share):
    result = assessed(bank(esr_rate_ratio=ratio))
    of_the_set = assessed(bank(law={"esr_rate_ratio": ratio}))
    assert (result.life_years, result.crossings) == (of_the_set.life_years, of_the_set.crossings)
    assert result.end_of_life_criterion == "esr"
    assert result.life_years == pytest.approx(YEARS * share, rel=1e-3)
    assert crossing(result, "capacitance") == pytest.approx(YEARS)


class TestCurrent:
    # 71 A for a second move 71/13.889 = 5.112 V; begun half of that above, the bank has 540 V on average, as at rest.
    START_V = 542.556
    WORK = (71.0, -71.0) * 5400

    def damage(self, setup, day):
        """Damage of an average day of a year full of such days or logs, and the rms current."""
        runs = 365.0 * 86_400.0 / day.length_s
        stress = Duty(setup.source, DayTraces(day).days, np.full(12, 298.15), runs).stress(1.0, 1.0)
        return float(setup.model.clocks(stress)[0].sum()), float(stress.rms_current_A)

    def bank_of(self, bank, per_A):
        return bank(rms_current_coefficient_per_A=per_A, start_voltage_V=self.START_V)

    def test_it_acts_on_the_three_hours_of_work_only(self, bank, day_of):
        with_current, without = (self.bank_of(bank, d) for d in (0.013, 0.0))
        damage, rms_A = self.damage(with_current, day_of(with_current, self.WORK))
        assert rms_A == pytest.approx(71.0)
        assert damage / self.damage(without, day_of(without, self.WORK))[0] == pytest.approx(1.1896, abs=2e-4)

    def test_rest_in_a_log_of_everything_is_not_loaded_either(self, bank, history):
        # 0.1 h of work and 0.7 h of rest are 3 of 24 h again. Rest is at 542.556 V, 11.8 mV per cell higher, which is
        # 1.0419 times the rate: (3 e^(0.013 x 71) + 21 x 1.0419)/(3 + 21 x 1.0419).
        ratios = []
        for d in (0.013, 0.0):
            setup = replace(self.bank_of(bank, d), charging=Charging(None, 0.0, whole_log=True))
            tracer = DriveTracer(setup.source, power_driven=False, rest_below_A=1.0)
            log = history((71.0, -71.0) * 180 + (0.0,) * 2519)
            day = build_day(trace_drive(tracer, intervals(log)), setup.source, setup.charging)
            assert day.loaded_s == pytest.approx(360.0, abs=1.0)
            damage, rms_A = self.damage(setup, day)
            assert rms_A == pytest.approx(71.0, rel=2e-3)
            ratios.append(damage)
        assert ratios[0] / ratios[1] == pytest.approx(1.1829, abs=1e-3)

    def test_each_current_against_the_rating_of_its_duration(self, bank, said):
        # Rated 2200 A for 1 s and 130 A continuously; 131 A rms in 0.29 mohm and 3.2 K/W are 15.9 K.
        allowed = said(bank(), [129.0, -129.0] * 30)
        assert not {"ultracapacitor_peak_current", "ultracapacitor_continuous_current"} & allowed.keys()
        warm = said(bank(), [131.0, -131.0] * 30)
        assert "131 A per cell, above the 130 A" in warm["ultracapacitor_continuous_current"].message
        assert "warm by 15.9 K" in warm["ultracapacitor_continuous_current"].message
        assert "ultracapacitor_peak_current" not in warm
        # A pulse of 1 s in 10 min is allowed up to the peak rating: 2199 A are 90 A rms.
        assert (
            not {"ultracapacitor_peak_current", "ultracapacitor_continuous_current"}
            & said(bank(), [2199.0] + [0.0] * 599).keys()
        )
        beyond = said(bank(), [2201.0] + [0.0] * 599)
        assert "2,200 A that its cells are rated for during 1 s" in beyond["ultracapacitor_peak_current"].message

    def test_strings_share_the_current(self, bank, said):
        assert "ultracapacitor_continuous_current" not in said(bank(parallel=2), [250.0, -250.0] * 30)


class TestTerminals:
    def test_charging_lifts_them_above_the_inner_voltage(self, bank, said):
        # 200 A in 0.29 mohm are 58 mV when new and 116 mV at twice the ESR: 2.758 and 2.816 V over 2.70 V.
        setup = bank(start_voltage_V=583.2)
        note = said(setup, [200.0, -200.0] * 30)["ultracapacitor_terminal_voltage"]
        assert note.severity == "note"
        assert (
            "2.758 V at the beginning of life and 2.816 V at 2 times the ESR; the window ends at 2.7 V" in note.message
        )

    def test_what_the_maker_forbids_is_a_warning(self, bank, said):
        # 2.70 V + 2 x 0.29 mohm x 259 A = 2.850 V; the maker's absolute limit is 2.85 V.
        for current_A, code in ((258.0, "terminal_voltage"), (260.0, "above_absolute_voltage")):
            found = said(bank(start_voltage_V=583.2), [current_A, -current_A] * 30)
            assert {f"ultracapacitor_{code}"} == {one for one in found if one.endswith("_voltage")}
        assert "allows 2.85 V at most" in found["ultracapacitor_above_absolute_voltage"].message

    def test_a_window_that_leaves_room_needs_no_word(self, bank, said):
        found = said(bank(start_voltage_V=500.0), [200.0, -200.0] * 30)
        assert not [code for code in found if code.endswith("_voltage")]

    def test_the_inner_voltage_ages_the_bank(self, bank, assessed):
        # The same charge through more resistance: the terminals differ, the life does not.
        work = [50.0, -50.0] * 30
        lives = [
            crossing(assessed(bank(cell={"resistance_ohm": ohm}), work), "capacitance") for ohm in (2.9e-4, 2.9e-3)
        ]
        assert lives[0] == lives[1]


class TestNearZero:
    @pytest.mark.parametrize(("rest_V", "is_said"), [(0.0, True), (58.0, True), (59.0, False), (270.0, False)])
    def test_a_bank_that_rests_there_is_warned_of(self, bank, said, rest_V, is_said):
        # A tenth of 2.7 V x 216 is 58.3 V.
        assert ("ultracapacitor_stored_near_zero" in said(bank(rest_voltage_V=rest_V))) == is_said

    def test_it_says_for_how_long_and_why(self, bank, said):
        # A minute of driving, the rest of 24 h at rest: 1439/1440.
        found = said(bank(rest_voltage_V=0.0))["ultracapacitor_stored_near_zero"]
        assert found.severity == "warning"
        assert found.message.startswith("99.9 % of the time")
        assert "more than fourfold" in found.message


@pytest.mark.parametrize("chemistry", ["Lithium-ion capacitor", "LIC, pre-doped carbon", "Li-ion hybrid"])
def test_a_lithium_ion_capacitor_is_refused(tmp_path, chemistry):
    text = (profiles_folder() / "ultracapacitors" / f"{RULE}.toml").read_text(encoding="utf-8")
    own = tmp_path / "own.toml"
    own.write_text(text.replace("EDLC, activated carbon, organic electrolyte", chemistry), encoding="utf-8")
    with pytest.raises(ProfileError, match=r"chemistry must be that of an electric double-layer.*at the low end"):
        load_cell("own.toml", "ultracapacitor", tmp_path)


def test_an_absolute_voltage_below_the_rated_one_is_refused(tmp_path):
    text = (profiles_folder() / "ultracapacitors" / f"{RULE}.toml").read_text(encoding="utf-8")
    own = tmp_path / "own.toml"
    own.write_text(text.replace("value = 2.85,", "value = 2.65,"), encoding="utf-8")
    with pytest.raises(ProfileError, match=r"absolute_maximum_voltage_V must not be below maximum_voltage_V, got 2.65"):
        load_cell("own.toml", "ultracapacitor", tmp_path)
