"""Discount factors beside printed tables and published worked projects.

Unless a test says otherwise, the expected factors are the closed forms of ASTM E917 / NIST Handbook 135 to six digits,
computed apart from this program; the 8 % row is also that of every printed compound-interest table.
"""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from lifetime.costing.discounting import (
    capital_recovery,
    real_rate,
    single_present_value,
    uniform_present_value,
)
from lifetime.errors import NumberError

TABLE = [
    # i, n, SPV, UPV, UCR, USF
    (0.03, 10, 0.744094, 8.530203, 0.117231, 0.087231),
    (0.03, 25, 0.477606, 17.413148, 0.057428, 0.027428),
    (0.05, 8, 0.676839, 6.463213, 0.154722, 0.104722),
    (0.08, 5, 0.680583, 3.992710, 0.250456, 0.170456),
    (0.08, 10, 0.463193, 6.710081, 0.149029, 0.069029),
    (0.10, 5, 0.620921, 3.790787, 0.263797, 0.163797),
]


def sinking_fund(rate, years):
    """USF, for the published figures that need it: UCR = USF + i by definition (ASTM E917)."""
    return capital_recovery(rate, years) - rate


@pytest.mark.parametrize(("rate", "years", "spv", "upv", "ucr", "usf"), TABLE)
def test_factor_table(rate, years, spv, upv, ucr, usf):
    assert single_present_value(rate, years) == pytest.approx(spv, abs=5e-7)
    assert uniform_present_value(rate, years) == pytest.approx(upv, abs=5e-7)
    assert capital_recovery(rate, years) == pytest.approx(ucr, abs=5e-7)
    assert sinking_fund(rate, years) == pytest.approx(usf, abs=5e-7)


def test_factors_as_printed_in_an_engineering_economy_textbook_at_8_percent():
    """Published: P/A(10) 6.7101, P/F(10) 0.4632, A/P(10) 0.14903, A/F(10) 0.06903, A/P(5) 0.25046, A/F(5) 0.17046."""
    assert round(uniform_present_value(0.08, 10), 4) == 6.7101
    assert round(single_present_value(0.08, 10), 4) == 0.4632
    assert round(capital_recovery(0.08, 10), 5) == 0.14903
    assert round(sinking_fund(0.08, 10), 5) == 0.06903
    assert round(capital_recovery(0.08, 5), 5) == 0.25046
    assert round(sinking_fund(0.08, 5), 5) == 0.17046


def test_published_project_of_ten_years():
    """Textbook: buy 25 000, 500 a year, salvage 2000, 10 years, 8 %: present worth -27 429, annual worth -4087.69.

    The printed figures come from the rounded factors; unrounded they are 27 428.65 and 4087.68 (closed form).
    """
    spv, upv = single_present_value(0.08, 10), uniform_present_value(0.08, 10)
    ucr, usf = capital_recovery(0.08, 10), sinking_fund(0.08, 10)
    assert round(25_000 + 500 * round(upv, 4) - 2000 * round(spv, 4)) == 27_429
    assert round(25_000 * round(ucr, 5) + 500 - 2000 * round(usf, 5), 2) == 4087.69
    assert 25_000 + 500 * upv - 2000 * spv == pytest.approx(27_428.65, abs=0.005)
    assert 25_000 * ucr + 500 - 2000 * usf == pytest.approx(4087.68, abs=0.005)


def test_published_project_of_five_years():
    """Textbook: buy 8000, 5500 a year, salvage 500, 5 years, 8 %: annual worth -7418.45, unrounded 7418.42."""
    ucr, usf = capital_recovery(0.08, 5), sinking_fund(0.08, 5)
    assert round(8000 * round(ucr, 5) + 5500 - 500 * round(usf, 5), 2) == 7418.45
    assert 8000 * ucr + 5500 - 500 * usf == pytest.approx(7418.42, abs=0.005)
    assert (8000 - 500) * ucr + 500 * 0.08 == pytest.approx(8000 * ucr - 500 * usf, rel=1e-12)  # the other usual form


def test_perpetuity_of_a_university_course():
    """Course sheet: 10 000 a year for ever at 10 % is worth 100 000; for 100 years 99 990 with the factor 9.9990."""
    assert 10_000 * round(uniform_present_value(0.10, 100), 3) == pytest.approx(99_990)
    assert 10_000 * uniform_present_value(0.10, 100) == pytest.approx(99_992.74, abs=0.005)
    assert 10_000 * uniform_present_value(0.10, 400) == pytest.approx(100_000, rel=1e-12)


def test_real_rate():
    """NIST Handbook 135 forms: UPV*(2 %, 5 %, 10) = 8.555868; 8 % nominal with 3 % inflation is 4.854 % real."""
    # An escalating series at a nominal rate is a uniform one at the real rate.
    assert uniform_present_value(real_rate(0.05, 0.02), 10) == pytest.approx(8.555868, abs=5e-7)
    assert real_rate(0.08, 0.03) == pytest.approx(0.04854, abs=5e-6)


def test_uniform_series_is_the_sum_of_its_payments():
    assert uniform_present_value(0.06, 12) == pytest.approx(sum(1.06**-year for year in range(1, 13)), rel=1e-13)


def test_first_payment_is_today_and_later_ones_at_the_end_of_a_year():
    """Hand calculation: 6 %, -900, 400, 350, 300 is worth 40.74; a year later throughout (spreadsheet habit) 38.44."""
    payments = [-900, 400, 350, 300]
    today = sum(amount * single_present_value(0.06, year) for year, amount in enumerate(payments))
    late = sum(amount * single_present_value(0.06, year) for year, amount in enumerate(payments, start=1))
    assert today == pytest.approx(40.74, abs=0.005)
    assert late == pytest.approx(38.44, abs=0.005)


@pytest.mark.parametrize("rate", [0.0, 1e-15, -1e-15, 1e-17, 5e-324, -5e-324])
def test_rate_zero_is_the_limit(rate):
    """Closed form: as i goes to 0, SPV goes to 1, UPV to n, UCR to 1/n."""
    assert single_present_value(rate, 12) == pytest.approx(1, rel=1e-12)
    assert uniform_present_value(rate, 12) == pytest.approx(12, rel=1e-12)
    assert capital_recovery(rate, 12) == pytest.approx(1 / 12, rel=1e-12)
    assert uniform_present_value(real_rate(0.03 + rate, 0.03), 12) == pytest.approx(12, rel=1e-12)


@given(rate=st.floats(-0.5, 1), years=st.floats(0.1, 400))
@settings(deadline=None)
def test_identities_between_factors(rate, years):
    """Closed forms: UPV = (1 - SPV) / i, UCR = 1 / UPV."""
    assume(abs(rate) > 1e-3)  # nearer to 0 the closed form cancels
    upv = uniform_present_value(rate, years)
    assert upv == pytest.approx((1 - single_present_value(rate, years)) / rate, rel=1e-9)
    assert capital_recovery(rate, years) * upv == pytest.approx(1, rel=1e-12)


@pytest.mark.parametrize("factor", [single_present_value, uniform_present_value])
@pytest.mark.parametrize("arguments", [(-0.6, 5), (1.5, 5), (math.nan, 5), (0.05, -1), (0.05, math.inf), (0.05, 401)])
def test_out_of_range_is_refused(factor, arguments):
    with pytest.raises(NumberError, match="must lie in"):
        factor(*arguments)


def test_no_yearly_payment_over_no_time():
    with pytest.raises(NumberError, match="number of years"):
        capital_recovery(0.05, 0)


@pytest.mark.parametrize("arguments", [(2.0, 0.05), (0.02, math.nan), (math.inf, 0.02)])
def test_out_of_range_inflation_is_refused(arguments):
    with pytest.raises(NumberError):
        real_rate(*arguments)


@pytest.mark.parametrize("rate", [-0.5, 1.0])
def test_ends_of_the_ranges_stay_finite(rate):
    assert math.isfinite(uniform_present_value(rate, 400))
    assert math.isfinite(capital_recovery(rate, 400))
