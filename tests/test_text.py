"""Lives in words; a year has 365 days here (README)."""

import pytest

from lifetime.report.words import counted, long_life, short_life


@pytest.mark.parametrize(
    ("years", "short", "long"),
    [
        (12.34, "12.3 y", "12.3 years"),
        (0.1, "0.1 y", "0.1 years"),
        (0.0999, "36 d", "36 days"),
        (1.2 / 365.0, "1 d", "1 day"),
        (0.9 / 365.0, "< 1 d", "less than a day"),
    ],
)
def test_short_lives_are_told_in_days(years, short, long):
    assert short_life(years) == short
    assert long_life(years) == long


def test_beyond_the_years_searched_and_counts():
    assert short_life(None) == "> 50 y"
    assert [counted(number, "row") for number in (0, 1, 2000)] == ["0 rows", "1 row", "2,000 rows"]
