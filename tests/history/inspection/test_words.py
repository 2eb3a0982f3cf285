"""How findings write values: three significant digits, thousands marked, and the unit; expected texts by hand."""

from lifetime.history.inspection.words import with_unit


def test_values_have_units():
    assert with_unit("temperature", 298.15) == "25 °C"
    assert with_unit("current", -1500.4) == "-1,500 A"
    assert with_unit("power", 5_683_200.0) == "5,680,000 W"
