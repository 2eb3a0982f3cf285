"""Discount factors of engineering economics: what a payment of another year is worth today.

Names and formulas are those of ASTM E917 (measuring life-cycle costs of buildings and building systems; its adjunct
prints the factors) and of NIST Handbook 135 (the same method). Rates are per year and payments fall at the *end* of a
year, so the first payment of a uniform series is discounted by one full year; a payment made today is not discounted.

The logarithms (``log1p``, ``expm1``) keep full precision for rates near zero, where the textbook forms cancel. For a
number of years that is not whole, the closed forms interpolate between the whole years.
"""

from math import exp, expm1, log1p
from typing import Final

from lifetime.checks import in_range
from lifetime.constants import DAYS_PER_YEAR

RATE_LOW: Final = -0.5
RATE_HIGH: Final = 1.0
YEARS_HIGH: Final = 400.0
"""Beyond any service life, and low enough that no factor overflows at the ends of the rates."""
NO_RATE: Final = 1e-18
"""Below it the limits at rate 0 are exact in float64 for any allowed number of years; a subnormal rate would cancel."""
ONE_DAY_YEARS: Final = 1 / DAYS_PER_YEAR


def single_present_value(rate: float, years: float) -> float:
    """Present value of 1 paid once, ``(1 + i)^-n`` (SPV; ASTM E917, NIST Handbook 135).

    Args:
        rate: Discount rate i [1/year], -0.5 to 1.
        years: When it is paid, n [years from now], 0 to 400.

    Raises:
        NumberError: An argument is not finite or out of range.
    """
    return exp(-_years(years) * log1p(_rate(rate)))


def uniform_present_value(rate: float, years: float) -> float:
    """Present value of 1 paid at the end of every year, ``(1 - (1 + i)^-n) / i`` (UPV; ASTM E917, NIST Handbook 135).

    Args:
        rate: Discount rate i [1/year], -0.5 to 1; at 0 the limit n.
        years: For how long, n [years], 0 to 400.

    Raises:
        NumberError: An argument is not finite or out of range.
    """
    rate, years = _rate(rate), _years(years)
    return -expm1(-years * log1p(rate)) / rate if abs(rate) > NO_RATE else years


def capital_recovery(rate: float, years: float) -> float:
    """Uniform yearly payment worth 1 today, ``i / (1 - (1 + i)^-n)`` (uniform capital recovery, UCR; ASTM E917).

    Args:
        rate: Discount rate i [1/year], -0.5 to 1; at 0 the limit 1/n.
        years: For how long, n [years], one day to 400 years.

    Raises:
        NumberError: An argument is not finite or out of range.
    """
    return 1 / uniform_present_value(rate, _years(years, ONE_DAY_YEARS))


def real_rate(nominal_rate: float, inflation_rate: float) -> float:
    """Discount rate with inflation taken out, ``(1 + i) / (1 + f) - 1`` (ASTM E917, NIST Handbook 135).

    Args:
        nominal_rate: Rate with inflation in it, i [1/year], -0.5 to 1.
        inflation_rate: Inflation f [1/year], -0.5 to 1.

    Raises:
        NumberError: An argument is not finite or out of range.
    """
    nominal, inflation = _rate(nominal_rate), _rate(inflation_rate)
    return (nominal - inflation) / (1 + inflation)  # this form does not cancel where the two are close


def _rate(rate: float) -> float:
    return in_range(rate, "yearly rate [1/year]", RATE_LOW, RATE_HIGH)


def _years(years: float, low: float = 0.0) -> float:
    return in_range(years, "number of years", low, YEARS_HIGH)
