"""How findings write counts and values: three significant digits and the unit; expected texts by hand."""

import pytest

from lifetime.history.inspection.words import counted, significant, with_unit


@pytest.mark.parametrize(
    ("value", "text"), [(1234.6, "1230"), (5_683_200.0, "5680000"), (0.033333, "0.0333"), (-2.0, "-2"), (0.0, "0")]
)
def test_three_digits_without_an_exponent(value, text):
    assert significant(value) == text


def test_values_have_units():
    assert with_unit("temperature", 298.15) == "25 °C"
    assert with_unit("current", -1500.4) == "-1500 A"


def test_counts_have_their_noun():
    assert (counted(1, "gap"), counted(2, "gap")) == ("1 gap", "2 gaps")
