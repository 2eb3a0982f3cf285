"""Words and digits that need no result: counts, lives, names made printable, numbers with the digits they deserve."""

from typing import Any, Final

from lifetime.constants import DAYS_PER_YEAR, LIFE_SEARCH_YEARS

MONTH_NAMES: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_LEAST_IN_YEARS: Final = 0.1
_RESIDUE: Final = 1e-9
"""What rounding leaves of nothing, in any unit that is told to people."""
_REPLACEMENT: Final = "\N{REPLACEMENT CHARACTER}"


def counted(number: int, what: str) -> str:
    """A number of things in words: "1 row", "2,000 rows".

    Args:
        number: How many.
        what: One of them; the plural ends in s.
    """
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def short_life(years: float | None) -> str:
    """A life: in years, or in days below a tenth of a year.

    Args:
        years: The life [years], or None beyond the search limit.
    """
    if years is None:
        return f"> {LIFE_SEARCH_YEARS:.0f} years (search limit)"
    if years >= _LEAST_IN_YEARS:
        return f"{years:.1f} years"
    days = years * DAYS_PER_YEAR
    return "< 1 day" if days < 1.0 else f"{days:.0f} day{'' if round(days) == 1 else 's'}"


def significant(number: float) -> str:
    """A number with three significant digits, thousands marked and trailing zeros left out: 12,300, 1.5, 0.00123.

    Args:
        number: Any finite number.
    """
    if abs(number) < _RESIDUE:
        return "0"
    rounded = float(f"{number:.3g}") + 0.0  # a negative zero becomes 0
    return f"{rounded:,.0f}" if rounded.is_integer() else f"{rounded:.3g}"


def clock_time(hour: float) -> str:
    """An hour of the day as a clock shows it: 5.5 is 05:30.

    Args:
        hour: Hours since midnight [0..24).
    """
    minutes = round(60.0 * hour)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def percent(fraction: float) -> str:
    """A fraction as a percentage: to 1 % from 10 % on, with two digits below.

    Args:
        fraction: Any finite number; 1 is 100 %.
    """
    value = 100.0 * fraction
    if abs(value) < _RESIDUE:
        return "0 %"
    return f"{value:.0f} %" if abs(value) >= 9.95 else f"{float(f'{value:.2g}'):g} %"


def short_numbers(values: Any, digits: int) -> list[float]:
    """Numbers for JSON with as many digits as a picture can use.

    Args:
        values: An array, shape (n,).
        digits: Significant digits kept, 1 to 17.
    """
    return [float(f"{value:.{digits}g}") for value in values.tolist()]


def printable(text: str) -> str:
    """The text with control and formatting characters made visible; XML knows no way to write some of them.

    Args:
        text: Any text a user gave.
    """
    return "".join(one if one.isprintable() else " " if one.isspace() else _REPLACEMENT for one in text)


def signed_amount(amount: float) -> str:
    """A difference of amounts in whole units with its sign; a residue of rounding is 0.

    Args:
        amount: Finite [currency].
    """
    return f"{amount:+,.0f}" if round(amount) else "0"
