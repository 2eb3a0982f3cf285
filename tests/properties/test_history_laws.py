"""Laws of a history: cut, sampled finer, written in other units or written out again, it is the same duty.

And no advice changes the charge by more than a hundredth without saying so.
"""

import re

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lifetime.assessment.run import assess
from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput
from lifetime.study.load import Folder, resolve_study

few = settings(
    deadline=None, max_examples=5, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
HISTORY = {"file": "log.csv", "time": "t", "current": "I", "voltage": "V", "temperature": "T"}
UNITS = {"time_unit": "s", "current_unit": "A", "voltage_unit": "V", "temperature_unit": "K"}
# Quarters of an ampere and whole volts and kelvin, so that other units hold the very same numbers.
KNOTS = st.lists(
    st.tuples(st.integers(-400, 400), st.integers(350, 400), st.integers(280, 310)), min_size=4, max_size=12
).filter(lambda knots: any(amps for amps, _, _ in knots))


def log_of(knots, step_s=60.0):
    """Straight between knots a minute apart, in s, A, V and K; it ends as it begins."""
    amps, volts, kelvin = np.array([*knots, knots[0]], dtype=float).T
    return np.column_stack([np.arange(amps.size) * step_s, 0.25 * amps, volts, kelvin])


def write(path, table):
    rows = "".join(",".join(map(repr, row)) + "\n" for row in table.tolist())
    path.write_text("t,I,V,T\n" + rows, encoding="utf-8")


def life(folder, units=None, repeats=1, **history):
    study = {
        "title": "Laws",
        "service": {
            "years": 10,
            "working_days_per_year": 300,
            "ambient_C": 20,
            "day": {"drive_repeats": repeats, "charge_c_rate": 0.5, "charge_to_soc": 0.7},
        },
        "battery": {
            "cell": "nmc_schmalstieg_2014",
            "series": 100,
            "parallel": 60,
            "start_soc": 0.7,
            "price": {"purchase": 1},
        },
        "cost": {"currency": "EUR", "discount_rate": 0},
        "strategy": [{"name": "log", "battery": HISTORY | UNITS | (units or {}) | history}],
    }
    (found,) = assess(resolve_study(study, "study", Folder(folder)), in_detail=False).strategies
    assert found.battery.life_years
    return found.battery.life_years


@few
@given(KNOTS)
def test_other_units_are_the_same_life(tmp_path, knots):
    """ms, mA, mV and °C: 1000 in one each, and 273.15 K are 0 °C."""
    table = log_of(knots)
    write(tmp_path / "log.csv", table)
    write(tmp_path / "small.csv", table * [1e3, 1e3, 1e3, 1.0] - [0.0, 0.0, 0.0, 273.15])
    small = {"time_unit": "ms", "current_unit": "mA", "voltage_unit": "mV", "temperature_unit": "°C"}
    assert life(tmp_path, small, file="small.csv") == pytest.approx(life(tmp_path), rel=1e-9)


@few
@given(KNOTS, st.data())
def test_cut_into_files_it_is_the_same_life(tmp_path, knots, data):
    table = log_of(knots)
    cut = data.draw(st.integers(2, len(table) - 2))
    write(tmp_path / "log.csv", table)
    write(tmp_path / "part_1.csv", table[:cut])
    write(tmp_path / "part_2.csv", table[cut:])
    assert life(tmp_path, file="part_*.csv") == pytest.approx(life(tmp_path), rel=1e-9)


@few
@given(KNOTS, st.integers(2, 30))
def test_sampled_finer_it_is_the_same_life(tmp_path, knots, times):
    """The same straight lines; only where the cells' temperature is looked up in between may differ, to 0.1 %."""
    table = log_of(knots)
    time = np.linspace(0.0, table[-1, 0], times * (len(table) - 1) + 1)
    finer = np.column_stack([time, *(np.interp(time, table[:, 0], table[:, at]) for at in (1, 2, 3))])
    write(tmp_path / "log.csv", table)
    write(tmp_path / "finer.csv", finer)
    assert life(tmp_path, file="finer.csv") == pytest.approx(life(tmp_path), rel=1e-3)


@few
@given(KNOTS, st.integers(2, 4))
def test_written_out_several_times_it_is_the_same_life(tmp_path, knots, times):
    """As one drive of the day several times over, it is its repeats."""
    table = log_of(knots)
    write(tmp_path / "log.csv", table)
    shifts = [np.array([table[-1, 0] * n, 0.0, 0.0, 0.0]) for n in range(times)]
    write(tmp_path / "again.csv", np.vstack([table, *(table[1:] + shift for shift in shifts[1:])]))
    assert life(tmp_path, file="again.csv") == pytest.approx(life(tmp_path, repeats=times), rel=1e-9)


ASKED = re.compile(r'[Aa]sk for clean = \["(\w+)"\]|or clean = \["(\w+)"\]')
SAYS_CHARGE = re.compile(r"charge depends|change the charge|of the charge")
ONE_IN_A_HUNDRED = 0.01


def charge_As(path, *clean):
    spec = HistoryInput(file=path.name, time="t [s]", current="I [A]", clean=clean)
    blocks = list(open_history(spec, path.parent).blocks())
    time, current = (np.concatenate([getattr(block, name) for block in blocks]) for name in ("time_s", "current_A"))
    return float(np.trapezoid(np.abs(current), time))


def hide(time, current, at, rows):
    keep = np.ones(time.size, dtype=bool)
    keep[at : at + rows] = False
    return time[keep], current[keep]


def restart(time, current, at, _rows):
    return np.where(np.arange(time.size) < at, time, time - time[at]), current


def put_back(time, current, at, rows):
    return np.where(np.arange(time.size) < at, time, time - rows), current


def swap(time, current, at, _rows):
    order = np.arange(time.size)
    order[[at, at + 1]] = order[[at + 1, at]]
    return time[order], current[order]


@settings(deadline=None, max_examples=16, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.sampled_from([0.0, 0.0, 5.0, 40.0, -30.0]), min_size=4, max_size=8),
    st.sampled_from([hide, restart, put_back, swap]),
    st.integers(20, 100),
    st.integers(12, 90),
)
def test_no_advice_changes_the_charge_without_a_word(tmp_path, levels, spoil, at, rows):
    """Held currents of 50 s each, then rows lost, a clock started anew or put back, or two rows changed about."""
    current = np.repeat(levels, 50)
    time, current = spoil(np.arange(current.size, dtype=float), current, at, rows)
    path = tmp_path / "log.csv"
    path.write_text(
        "t [s],I [A]\n" + "".join(f"{t:g},{i:g}\n" for t, i in zip(time, current, strict=True)), encoding="utf-8"
    )
    said = [f"{one.message} {one.remedy}" for one in describe_file(path).findings if one.severity == "error"]
    try:
        charge_As(path)
    except HistoryError as refused:
        said.append(f"{refused.problem} {refused.remedy}")
    else:
        assert not said
    for words in said:
        asked = {step for match in ASKED.findall(words) for step in match if step}
        assert asked
        charges = [charge_As(path, step) for step in asked]
        if max(charges) - min(charges) > ONE_IN_A_HUNDRED * max(charges):
            assert SAYS_CHARGE.search(words), (asked, charges, words)
