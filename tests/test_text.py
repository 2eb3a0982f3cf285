"""Lives, counts and digits in words; the expected texts are written by hand, a year has 365 days here (README)."""

import numpy as np
import pytest

from lifetime.text import counted, percent, printable, short_life, short_numbers, significant


@pytest.mark.parametrize(
    ("years", "shown"),
    [
        (12.34, "12.3 years"),
        (0.1, "0.1 years"),
        (0.0999, "36 days"),
        (1.2 / 365.0, "1 day"),
        (0.9 / 365.0, "< 1 day"),
    ],
)
def test_short_lives_are_told_in_days(years, shown):
    assert short_life(years) == shown


def test_beyond_the_years_searched_and_counts():
    assert short_life(None) == "> 50 years (search limit)"
    assert [counted(number, "row") for number in (0, 1, 2000)] == ["0 rows", "1 row", "2,000 rows"]


@pytest.mark.parametrize(
    ("number", "shown"),
    [
        (12_345.0, "12,300"),
        (999.6, "1,000"),
        (12.649, "12.6"),
        (1.5, "1.5"),
        (0.0012349, "0.00123"),
        (-41.26, "-41.3"),
        (-0.0, "0"),
        (-3.5e-15, "0"),
    ],
)
def test_three_significant_digits(number, shown):
    assert significant(number) == shown


@pytest.mark.parametrize(
    ("fraction", "shown"),
    [(0.806, "81 %"), (0.0995, "10 %"), (0.0534, "5.3 %"), (0.00012, "0.012 %"), (1.0, "100 %"), (1e-17, "0 %")],
)
def test_percentages_to_one_percent_and_finer_below_ten(fraction, shown):
    assert percent(fraction) == shown


def test_numbers_for_pictures_keep_the_digits_asked_for():
    assert short_numbers(np.array([1.23456789, -0.000123456, 98_765_432.1]), 4) == [1.235, -0.0001235, 98_770_000.0]


def test_what_cannot_be_printed_is_shown_as_such():
    assert printable("bus\t7\n\x00\x1b[31m\u202e°") == "bus 7 \ufffd\ufffd[31m\ufffd°"
