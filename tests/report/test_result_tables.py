"""The tables of the result document against definitions and closed forms."""

import math

import numpy as np
import pytest

from lifetime.results.source import MOST_POINTS


def test_a_year_has_8760_hours(demo):
    # 365 days of 24 h, by definition.
    for one in demo.document.strategies:
        for source in one.sources.values():
            assert np.sum(source.time_map.hours_per_year) == pytest.approx(8760.0, rel=1e-5)


def test_full_cycles_on_the_map_move_the_years_charge(demo):
    # Every closed cycle moves twice its range, so a closed day's cycles hold all its throughput that is not averaged
    # out (conservation).
    for one in demo.document.strategies:
        moved = np.sum(one.battery.cycle_map.equivalent_full_cycles_per_year)
        counted = 1.0 - one.battery.averaged_out_throughput_fraction
        assert moved == pytest.approx(one.battery.equivalent_full_cycles_per_year * counted, rel=1e-4)


def test_a_trajectory_is_downsampled_and_keeps_its_ends(demo):
    for one, result in zip(demo.document.strategies, demo.assessment.strategies, strict=True):
        told, whole = one.battery.trajectory, result.battery.trajectory
        assert len(told.years) <= MOST_POINTS
        assert told.years[0] == 0.0
        assert told.years[-1] == pytest.approx(whole.years[-1], rel=1e-6)
        assert told.capacity_fraction[-1] == pytest.approx(whole.capacity_fraction[-1], rel=1e-6)


def test_maps_hold_every_state_of_a_source_that_does_not_meet_its_requirement(study, run):
    study["service"]["day"]["drive_repeats"] = 12
    battery = run(study).document.strategies[0].battery
    assert battery.life_state == "requirement_not_met"
    assert np.sum(battery.time_map.hours_per_year) == pytest.approx(8760.0, rel=1e-5)


@pytest.mark.parametrize(("heat_capacity", "rest_h"), [(180_000.0, 20.0), (3.0e7, 20.0), (3.0e7, 0.0)])
def test_the_warmth_of_a_repeated_day_agrees_with_the_lumped_mass(study, run, tmp_path, heat_capacity, rest_h):
    """A lumped mass under a periodic rectangular load, closed form.

    With load P for the time d of each day T and time constant tau, the rise when the load begins is
    P R (1 - e^(-d/tau)) e^(-(T-d)/tau) / (1 - e^(-T/tau)); the largest rise is that at the load's end.
    """
    drive_s = (24.0 - rest_h) * 3600.0
    steps = np.arange(0.0, drive_s + 1.0, 10.0)
    # Out and back once a minute: the current's square is constant, the charge returns.
    current = np.where((steps // 60.0) % 2 == 0, 100.0, -100.0)
    rows = "\n".join(f"{t:.0f},{i:.0f}" for t, i in zip(steps, current, strict=True))
    (tmp_path / "square.csv").write_text("t_s,i_A\n" + rows + "\n", encoding="utf-8")
    spec = {"file": "square.csv", "time": "t_s", "current": "i_A", "interpolation": "zero_order_hold"}
    study["strategy"] = [{"name": "square", "battery": spec}]
    study["service"] |= {"working_days_per_year": 365, "ambient_C": 20.0, "day": {"drive_repeats": 1}}
    del study["service"]["climate"]
    study["battery"]["start_soc"] = 0.6
    study["battery"]["thermal"] = {"resistance_K_per_W": 0.05, "heat_capacity_J_per_K": heat_capacity}
    found = run(study, tmp_path)

    resistance = found.document.study.parameter_sets.battery.pack.resistance_ohm
    tau, day = 0.05 * heat_capacity, 86_400.0
    steady = 100.0**2 * resistance * 0.05
    morning = steady * -math.expm1(-drive_s / tau) * math.exp(-(day - drive_s) / tau) / -math.expm1(-day / tau)
    evening = steady - (steady - morning) * math.exp(-drive_s / tau)

    table = found.document.strategies[0].battery.time_map
    hours = np.sum(table.hours_per_year, axis=1)
    edges = np.array(table.temperature_C_edges)
    warm = np.flatnonzero(hours)
    # The coldest and the warmest moment lie in the first and the last class that holds any time.
    assert edges[warm[0]] - 0.01 <= 20.0 + morning <= edges[warm[0] + 1] + 0.01
    assert edges[warm[-1]] - 0.01 <= 20.0 + evening <= edges[warm[-1] + 1] + 0.01
    # Heat balance of a day that repeats: the mean rise is that of the mean load.
    middle = 0.5 * (edges[:-1] + edges[1:])
    mean_rise = float(hours @ middle / hours.sum()) - 20.0
    assert mean_rise == pytest.approx(steady * drive_s / day, abs=1.25)  # half a class
