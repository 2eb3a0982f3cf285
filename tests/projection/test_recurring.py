"""A course that begins anew with each replacement, by hand, and what comes on top of a source's clocks by the month."""

from dataclasses import dataclass
from math import inf

import numpy as np
import pytest

from lifetime.ageing.contract import Health, Mechanism
from lifetime.projection.recurring import Recurring
from lifetime.projection.years import Further, project

RAMP = np.array([0.0, 5.0]), np.array([0.0, 1.0])


def test_a_replaced_source_starts_anew():
    # From 0 to 1 in 5 years, then again: 2.5 in five years, and 2.5^2 / 10 in half of the next five.
    ramp = Recurring(*RAMP, period_years=5.0)
    assert ramp.mean(5.0) == pytest.approx(0.5)
    assert ramp.mean(7.5) == pytest.approx((2.5 + 0.625) / 7.5)
    months = ramp.by_month(61)
    assert months[[0, 59, 60]] == pytest.approx([1 / 120, 119 / 120, 1 / 120])


def test_it_may_be_replaced_before_it_has_run_its_course():
    # At 3 years it has come to 0.6.
    ramp = Recurring(*RAMP, period_years=3.0)
    assert ramp.mean(9.0) == pytest.approx(0.3)
    assert ramp.by_month(37)[[35, 36]] == pytest.approx([0.6 - 1 / 120, 1 / 120])


def test_what_is_never_replaced_holds_its_last_value():
    # 2.5 in five years, and 1 in each year more.
    ramp = Recurring(*RAMP)
    assert ramp.period_years == inf
    assert ramp.mean(7.0) == pytest.approx(4.5 / 7.0)
    assert ramp.by_month(84)[-1] == pytest.approx(1.0)


def test_lives_shorter_than_a_month_have_their_mean():
    short = Recurring(np.array([0.0, 1 / 48]), np.array([0.0, 1.0]), period_years=1 / 48)
    assert short.by_month(3) == pytest.approx([0.5, 0.5, 0.5])


@dataclass(frozen=True)
class Straight:
    """Loses 1 % a year by itself."""

    has_resistance: bool = False
    mechanisms = (Mechanism("calendar", "calendar"),)

    def rates(self, _capacity, _resistance):
        return np.full((12, 1), 0.01 / 365.0)

    def fade(self, clocks):
        return Health(1.0 - clocks[..., 0], np.ones(clocks.shape[:-1]))


@pytest.mark.parametrize("longest", [1, 48])
def test_what_comes_on_top_is_kept_by_the_month_whatever_the_step(longest):
    # 1 % a year more where the share is 1: by a ramp over 5 years 2.5 % by then, 3.125 % after 7.5 and 10 % after 20.
    share = np.stack([Recurring(*RAMP, period_years=5.0).by_month(240), np.zeros(240)], axis=-1)
    further = Further(lambda *_: np.stack([Straight().rates(1.0, 1.0), np.full((12, 1), 9.0)]), share)
    law = Straight()
    run = project(law, law.rates, years=20.0, longest_step_months=longest, further=further)
    lost = 1.0 - run.capacity_fraction[[60, 90, 240]]
    assert lost == pytest.approx([0.05 + 0.025, 0.075 + 0.03125, 0.2 + 0.1], rel=1e-9)
