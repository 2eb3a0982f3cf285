"""Logs that hold charging and rest too, scaled to a year; made-up data, expected values by hand."""

import pytest

from lifetime.assessment.run import assess
from lifetime.errors import StudyError
from lifetime.study.load import load_study

STUDY = """title = "Log"
[service]
years = 5
{service}
ambient_C = 25
[battery]
cell = "lfp_naumann_2020"
series = 100
parallel = 20
start_soc = 0.9
[battery.price]
purchase = 10000
[cost]
currency = "EUR"
discount_rate = 0.05
[[strategy]]
name = "as recorded"
[strategy.battery]
file = "{file}"
time = "t_h"
current = "i_A"
interpolation = "zero_order_hold"
clean = ["bridge_gaps"]
"""
EVERYTHING = 'histories_cover = "everything"'
DRIVING = "working_days_per_year = 365"
# One hour out, one hour in at 20 A, rest for the remaining 22 h of the day.
ONE_DAY = [(0, 20), (1, -20), (2, 0), (24, 0)]


def write(folder, rows, name="log.csv", service=EVERYTHING):
    (folder / name).write_text("t_h,i_A\n" + "".join(f"{t},{i}\n" for t, i in rows), encoding="utf-8")
    (folder / "study.toml").write_text(STUDY.format(service=service, file=name), encoding="utf-8")
    return folder / "study.toml"


def battery(path):
    return assess(load_study(path)).strategies[0].battery


def test_a_log_of_one_day_is_that_day_every_day(tmp_path):
    log = battery(write(tmp_path, ONE_DAY))
    day = battery(write(tmp_path, ONE_DAY, service=DRIVING))
    # Two half cycles are one full one.
    assert log.life_years == pytest.approx(day.life_years, rel=1e-6)
    assert log.throughput_Ah_per_year == pytest.approx(40 * 365)
    assert float(log.cycles.count.sum()) == 1.0


@pytest.mark.parametrize(
    ("cell", "capacity_Ah"),
    [("lfp_naumann_2020", 60), ("lfp_schimpe_2018", 60), ("nmc_schmalstieg_2014", 41), ("lmo_xu_2018", 600)],
)
def test_a_log_written_on_change_is_the_log_written_every_minute(tmp_path, cell, capacity_Ah):
    # One drive, written in 6 rows or in 1441. Laws that bend over state of charge must see the way through an interval
    # of an hour that takes 60 % of the capacity, not its mean alone.
    rows = [(0, 0), (6, 0.6 * capacity_Ah), (7, 0), (14, -0.075 * capacity_Ah), (22, 0), (24, 0)]
    fine = [(minute / 60, [i for t, i in rows if t <= minute / 60][-1]) for minute in range(24 * 60 + 1)]
    lives = []
    for log in (rows, fine):
        path = write(tmp_path, log)
        path.write_text(path.read_text(encoding="utf-8").replace("lfp_naumann_2020", cell), encoding="utf-8")
        lives.append(battery(path).life_years)
    assert lives[1] > 0.0
    assert lives[0] == pytest.approx(lives[1], rel=1e-4)


def test_a_log_written_twice_in_a_row_gives_the_same_life(tmp_path):
    twice = [*ONE_DAY[:-1], *((t + 24, i) for t, i in ONE_DAY)]
    one, two = battery(write(tmp_path, ONE_DAY)), battery(write(tmp_path, twice))
    assert two.life_years == pytest.approx(one.life_years, rel=1e-6)
    assert two.throughput_Ah_per_year == pytest.approx(one.throughput_Ah_per_year)


def test_a_one_way_log_keeps_its_half_cycle(tmp_path):
    found = battery(write(tmp_path, [(0, 20), (1, 0), (10, 0)]))
    assert found.cycles.count.tolist() == [0.5]
    assert found.throughput_Ah_per_year == pytest.approx(20 * 365 * 24 / 10)
    notice = next(one for one in found.notices if one.code == "day_does_not_close")
    assert "not closed: the log ends 20 Ah" in notice.message


def test_months_in_many_files(tmp_path):
    for day in range(40):
        rows = "".join(f"{t + 24 * day},{i}\n" for t, i in ONE_DAY)
        (tmp_path / f"day_{day}.csv").write_text("t_h,i_A\n" + rows, encoding="utf-8")
    path = tmp_path / "study.toml"
    path.write_text(STUDY.format(service=EVERYTHING, file="day_*.csv"), encoding="utf-8")
    one = battery(write(tmp_path, ONE_DAY))
    path.write_text(STUDY.format(service=EVERYTHING, file="day_*.csv"), encoding="utf-8")
    assert battery(path).life_years == pytest.approx(one.life_years, rel=1e-6)


@pytest.mark.parametrize(
    ("service", "expected"),
    [
        ("distance_km_per_day = 1", "working_days_per_year is missing"),
        (EVERYTHING + "\nworking_days_per_year = 300", "leave out working_days_per_year"),
    ],
)
def test_statements_that_do_not_fit(tmp_path, service, expected):
    with pytest.raises(StudyError, match=expected):
        load_study(write(tmp_path, ONE_DAY, service=service))


def test_report_and_maps_of_a_log(tmp_path):
    import numpy as np

    from lifetime.report.html import report_html
    from lifetime.results.document import ResultDocument

    loaded = load_study(write(tmp_path, ONE_DAY))
    assessment = assess(loaded)
    document = ResultDocument.of(assessment)
    hours = np.array(document.strategies[0].battery.time_map.hours_per_year)
    assert hours.sum() == pytest.approx(8760.0)  # 365 days
    assert "whole histories, scaled to a year" in report_html(document)


FULL_DEPTH = [(0, 60), (1, -60), (2, 0), (24, 0)]  # 20 cells of 3 Ah side by side, from full to empty and back


def test_a_full_depth_test_can_be_said_and_lives(tmp_path):
    """The same charge leaves a pack short as soon as it loses capacity; between the limits of its capacity it lives on
    until capacity or resistance ends it.
    """
    service = EVERYTHING + '\ncycling_between = "{}"'
    found = {}
    for between in ("charges", "states_of_charge"):
        path = write(tmp_path, FULL_DEPTH, service=service.format(between))
        path.write_text(
            path.read_text(encoding="utf-8").replace("start_soc = 0.9", "start_soc = 1.0"), encoding="utf-8"
        )
        found[between] = battery(path)
    assert found["charges"].end_of_life_criterion == "requirement"
    assert found["states_of_charge"].end_of_life_criterion == "capacity"
    assert found["states_of_charge"].life_years > 1.0
    assert "cycled_between_states_of_charge" in {one.code for one in found["states_of_charge"].notices}


def test_a_power_cannot_be_cycled_between_limits_of_capacity(tmp_path):
    path = write(tmp_path, ONE_DAY, service=EVERYTHING + '\ncycling_between = "states_of_charge"')
    text = path.read_text(encoding="utf-8").replace('current = "i_A"', 'power = "i_A"')
    path.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match="A power does not fall with capacity"):
        load_study(path)
