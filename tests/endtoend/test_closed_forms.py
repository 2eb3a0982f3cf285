"""Closed forms through the whole program: study file, histories, trace, law, years, limits."""

import numpy as np
import pytest

from lifetime.assessment.run import assess
from lifetime.packs.locate import profiles_folder
from lifetime.study.load import Folder, load_study, resolve_study

BATTERY = {
    "cell": "lfp_naumann_2020",
    "series": 10,
    "parallel": 2,
    "start_soc": 0.5,
    "price": {"purchase": 1000.0},
}
COST = {"currency": "EUR", "discount_rate": 0.05}


@pytest.fixture
def folder(tmp_path):
    rows = np.column_stack([np.arange(0.0, 28801.0, 60.0), np.zeros(481)])
    np.savetxt(tmp_path / "rest.csv", rows, delimiter=",", header="t_s,i_A", comments="", fmt="%.3f")
    held = np.column_stack([rows, np.full(481, 25.0), np.full(481, 45.0)])
    np.savetxt(tmp_path / "held.csv", held, delimiter=",", header="t_s,i_A,u_V,T_degC", comments="", fmt="%.3f")
    return tmp_path


def rest_study(**service):
    return {
        "title": "at rest",
        "service": {"years": 10.0, "working_days_per_year": 300.0, **service},
        "battery": BATTERY,
        "cost": COST,
        "strategy": [{"name": "rest", "battery": {"file": "rest.csv", "time": "t_s", "current": "i_A"}}],
    }


def assessed(study, folder):
    return assess(resolve_study(study, "study", Folder(folder)))


def test_ten_years_at_rest_lose_what_the_law_says(folder):
    """Naumann 2018 as printed, 25 °C, SOC 0.5, 3650 d: 13.4447 % (computed from the printed equation)."""
    (one,) = assessed(rest_study(ambient_C=25.0), folder).strategies
    assert 1.0 - one.battery.capacity_fraction_at_service_end == pytest.approx(0.134447, abs=5e-7)
    assert one.battery.calendar_share_fraction == pytest.approx(1.0)
    assert one.battery.end_of_life_criterion == "capacity"
    # A square-root law: 20 % after (0.20 / 0.134447)^2 times ten years.
    assert one.battery.life_years == pytest.approx(10.0 * (0.20 / 0.134447) ** 2, rel=1e-5)


@pytest.mark.parametrize(("unit", "is_short"), [("s", False), ("ms", True)])
def test_a_day_of_seconds_asks_for_the_time_unit(folder, unit, is_short):
    # Eight hours, or 28.8 s where seconds are taken for milliseconds.
    study = rest_study(ambient_C=25.0)
    (folder / "rest.csv").write_text(
        (folder / "rest.csv").read_text(encoding="utf-8").replace("t_s", "t"), encoding="utf-8"
    )
    study["strategy"][0]["battery"] |= {"time": "t", "time_unit": unit}
    (one,) = assessed(study, folder).strategies
    said = [notice.message for notice in one.battery.notices if notice.code == "short_drive"]
    assert bool(said) == is_short
    assert all("28.8 s" in message for message in said)


def test_a_life_beyond_the_tested_loss_says_when_it_passes_it(folder):
    """Trouble report "knee beyond the tested range": tested to 10 %, ended at 20 %; the tool must say "extrapolated
    beyond 10 %". A square-root law passes half the loss after a quarter of the life: 22.13 y / 4 = 5.53 y, by hand.
    """
    shipped = (profiles_folder() / "batteries" / "lfp_naumann_2020.toml").read_text(encoding="utf-8")
    text = '[validity]\ntested_loss = { value = 0.10, unit = "1", source = "invented", grade = "unverified" }\n'
    (folder / "own.toml").write_text(shipped.replace("[validity]\n", text), encoding="utf-8")
    study = rest_study(ambient_C=25.0)
    (plain,) = assessed(study, folder).strategies
    assert "extrapolated_in_loss" not in {one.code for one in plain.battery.notices}
    study["battery"] = BATTERY | {"cell": "own.toml"}
    (one,) = assessed(study, folder).strategies
    (notice,) = [one for one in one.battery.notices if one.code == "extrapolated_in_loss"]
    assert "passed after 5.53 of 22.1 years" in notice.message
    assert "extrapolated beyond 10 %" in notice.message
    # Ended at 90 % of its capacity, it never leaves what was tested.
    study["end_of_life"] = {"battery_capacity": 0.9}
    (one,) = assessed(study, folder).strategies
    assert "extrapolated_in_loss" not in {one.code for one in one.battery.notices}


def test_twelve_months_count_with_their_power_mean(folder):
    """Square-root law: loss = sqrt(sum of k_i^2 dt_i); k from the printed Arrhenius factor, by hand."""
    months = [-2.0, 0.0, 5.0, 10.0, 15.0, 20.0, 23.0, 22.0, 17.0, 11.0, 5.0, 0.0]
    (one,) = assessed(rest_study(ambient_C=months), folder).strategies
    kelvin = np.array(months) + 273.15
    k = 1.2571e-5 * np.exp(-17126.0 / 8.3145 * (1.0 / kelvin - 1.0 / 298.15)) * 0.60225
    right = np.sqrt(np.sum(k**2 * 10 * 365 * 86400.0 / 12.0))
    assert 1.0 - one.battery.capacity_fraction_at_service_end == pytest.approx(right, rel=1e-4)


@pytest.mark.parametrize("shape", ["linear", "square_root", "burn_in_linear"])
@pytest.mark.parametrize(("cell", "years"), [("edlc_3000F_10K_0p2V", 3.776), ("edlc_3000F_three_ratings", 7.837)])
def test_a_bank_held_eight_hours_warm_and_sixteen_cool(folder, cell, years, shape):
    """8 h at 2.5 V 45 °C and 16 h at 2.0 V 25 °C a day: 1378.2 d = 3.776 y, or 2860.4 d = 7.837 y (computed from the
    makers' ratings); the same for every fade shape, as all stress acts through one clock.
    """
    held = {"file": "held.csv", "time": "t_s", "current": "i_A", "temperature": "T_degC"}
    study = {
        "title": "held",
        "service": {"years": 5.0, "working_days_per_year": 365.0, "ambient_C": 25.0},
        "battery": BATTERY,
        "ultracapacitor": {
            "cell": cell,
            "series": 10,
            "parallel": 1,
            "start_voltage_V": 25.0,
            "minimum_voltage_V": 5.0,
            "rest_voltage_V": 20.0,
            "fade_shape": shape,
            "price": {"purchase": 100.0},
        },
        "cost": COST,
        "strategy": [{"name": "held", "battery": held, "ultracapacitor": held}],
    }
    (one,) = assessed(study, folder).strategies
    assert one.ultracapacitor.life_years == pytest.approx(years, abs=5e-4)
    assert one.ultracapacitor.end_of_life_criterion in {"capacitance", "esr"}


def test_measured_voltage_tells_the_same_as_counted_charge(folder):
    """At zero current a bank's measured voltage and its start voltage are one and the same."""
    held = {"file": "held.csv", "time": "t_s", "current": "i_A", "temperature": "T_degC"}
    bank = {
        "cell": "edlc_3000F_10K_0p2V",
        "series": 10,
        "parallel": 1,
        "start_voltage_V": 25.0,
        "minimum_voltage_V": 5.0,
        "rest_voltage_V": 20.0,
        "price": {"purchase": 100.0},
    }
    lives = []
    for voltage in ({}, {"voltage": "u_V"}):
        study = {
            "title": "held",
            "service": {"years": 5.0, "working_days_per_year": 365.0, "ambient_C": 25.0},
            "battery": BATTERY,
            "ultracapacitor": bank,
            "cost": COST,
            "strategy": [{"name": "held", "battery": held, "ultracapacitor": {**held, **voltage}}],
        }
        (one,) = assessed(study, folder).strategies
        lives.append(one.ultracapacitor.life_years)
    assert lives[0] == pytest.approx(lives[1], rel=1e-9)


def test_halving_the_steps_moves_life_by_less_than_a_thousandth(monkeypatch):
    """The demo, whose battery feeds back through depth, rate and heat, at four step widths."""
    from lifetime.assessment import source_life
    from lifetime.packs.locate import profiles_folder
    from lifetime.projection.years import project

    loaded = load_study(profiles_folder() / "demo" / "yard_tractor.toml")
    lives = {}
    for longest in (24, 12, 6, 1):
        monkeypatch.setattr(
            source_life,
            "project",
            lambda *given, longest=longest, **more: project(*given, longest_step_months=longest, **more),
        )
        lives[longest] = [one.battery.life_years for one in assess(loaded).strategies]
    for longest in (24, 12, 6):
        assert lives[longest] == pytest.approx(lives[1], rel=1e-3)
