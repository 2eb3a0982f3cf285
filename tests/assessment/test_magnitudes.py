"""Currents against the source's own size, and the demand's speed against the stated distance, reckoned by hand."""

from types import SimpleNamespace

import numpy as np
import pytest

from lifetime.assessment.notices.magnitudes import current_notices, distance_notices
from lifetime.assessment.strategy import assess_strategy, driven_km_per_day
from lifetime.history.spec import HistoryInput
from lifetime.split.share import Demand
from lifetime.study.duty import Service
from lifetime.study.schema import Strategy


def said(notices):
    return {notice.code: notice.message for notice in notices}


# A battery of 100 Ah: 0.1 A are 0.001 C, 10,000 A are 100 C.
@pytest.mark.parametrize(
    ("peak_A", "c_rate"), [(0.099, "0.00099 C"), (0.101, None), (9_990.0, None), (10_010.0, "100 C")]
)
def test_a_c_rate_that_no_pack_has_is_warned_of(battery, day_of, peak_A, c_rate):
    setup = battery()
    notices = current_notices(day_of(setup, [peak_A, -peak_A]), setup.source, power_driven=False)
    assert [notice.severity for notice in notices] == ([] if c_rate is None else ["warning"])
    if c_rate is not None:
        message = said(notices)["implausible_c_rate"]
        assert c_rate in message
        assert "battery of 100 Ah" in message


def test_a_bank_may_be_emptied_in_a_second(ultracapacitor, day_of):
    # 40,000 As are 11.1 Ah; 5000 A are 450 C, as banks are used, and 60,000 A are 5400 C.
    setup = ultracapacitor()
    assert current_notices(day_of(setup, [5_000.0, -5_000.0]), setup.source, power_driven=True) == []
    strong = current_notices(day_of(setup, [0.0, 60_000.0, -60_000.0]), setup.source, power_driven=True)
    assert list(said(strong)) == ["implausible_c_rate"]


def test_a_day_without_a_current_is_said(battery, day_of):
    setup = battery()
    day = day_of(setup, [0.0] * 100)
    assert "Check the column" in said(current_notices(day, setup.source, power_driven=False))["no_current"]
    assert "split" in said(current_notices(day, setup.source, power_driven=True))["no_current"]


def test_kilowatts_under_a_header_of_watts_are_noticed_in_a_result(study_setup, battery, history):
    # 30 kW read as 30 W: at 360 to 380 V 0.08 A, of a pack of 100 Ah 0.0008 C.
    demand = HistoryInput(file="demand.csv", time="t_s", power="p_W")
    setup = study_setup(battery(), histories={demand: history([30.0] * 60 + [-10.0] * 60, "power_W")})
    strategy = Strategy.model_validate({"name": "A", "demand": demand.model_dump(), "split": {"rule": "battery_only"}})
    result = assess_strategy(setup, strategy, in_detail=False).result
    assert "implausible_c_rate" in said(result.battery.notices)


@pytest.mark.parametrize(
    ("driven_km", "stated_km", "is_said"),
    [(35.6, 60.0, True), (54.0, 60.0, False), (66.1, 60.0, True), (None, 60.0, False), (35.6, None, False)],
)
def test_a_distance_that_the_speed_contradicts_is_said(driven_km, stated_km, is_said):
    notices = distance_notices(driven_km, stated_km)
    assert bool(notices) == is_said
    if is_said:
        message = said(notices)["distance_differs_from_speed"]
        assert f"{driven_km:.3g} km" in message
        assert "60 km" in message


@pytest.mark.parametrize(
    ("service", "repeats", "km"),
    [
        # 3560 s at 10 m/s are 35.6 km, forwards or backwards.
        ({"working_days_per_year": 250.0}, 1, 35.6),
        ({"working_days_per_year": 250.0}, 2, 71.2),
        # A log of 3560 s is repeated 86,400 / 3560 times a day without a pause: 10 m/s for 24 h are 864 km.
        ({"histories_cover": "everything"}, 1, 864.0),
    ],
)
def test_the_distance_of_a_working_day(service, repeats, km):
    stated = Service(years=10.0, ambient_C=25.0, distance_km_per_day=60.0, **service)
    setup = SimpleNamespace(
        operation=SimpleNamespace(drive_repeats=repeats, runs_per_year=stated.runs_per_year),
        loaded=SimpleNamespace(study=SimpleNamespace(service=stated)),
    )
    length = np.full(356, 10.0)
    speed = np.where(np.arange(356) % 5 == 0, -10.0, 10.0)
    assert driven_km_per_day(setup, Demand(length, 0.0 * length, speed)) == pytest.approx(km)
    assert driven_km_per_day(setup, Demand(length, 0.0 * length)) is None
