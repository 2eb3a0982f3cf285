"""Units against the definitions of the scales (SI Brochure, 9th edition; Fahrenheit by its fixed points)."""

import numpy as np
import pytest

from lifetime.errors import HistoryError
from lifetime.units import Unit, header_unit, known_units, named_unit, unit_of_column


@pytest.mark.parametrize(
    ("header", "text", "symbol"),
    [
        ("Time [s]", "s", "s"),
        ("Battery Temperature [°C]", "°C", "°C"),
        ("Voltage(V)", "V", "V"),
        ("I / mA", "mA", "mA"),
        ("Strom in A", "A", "A"),
        ("p_dc_kW", "kW", "kW"),
        ("t_s", "s", "s"),
        ("time_ms", "ms", "ms"),
        ("T_degC", "degC", "°C"),
        ("temp_C", "C", "°C"),
        ("T_K", "K", "K"),
        ("temp (°F)", "°F", "°F"),
        ("  Time [ min ] ", "min", "min"),
        ("U [a] [V]", "V", "V"),
    ],
)
def test_units_are_read_from_headers(header, text, symbol):
    found = header_unit(header)
    assert found is not None
    assert (found.text, found.unit.symbol) == (text, symbol)


@pytest.mark.parametrize("header", ["I_bat", "current", "cycSecs", "Pack T1", "Date/Time", ""])
def test_headers_without_a_unit(header):
    assert header_unit(header) is None


def test_case_counts():
    assert named_unit("mW").divisor == 1e3
    assert named_unit("MW").multiplier == 1e6
    assert named_unit("KW") is None


@pytest.mark.parametrize(
    ("symbol", "value", "si"),
    [
        ("°C", 0.0, 273.15),
        ("°C", -273.15, 0.0),
        ("°F", 32.0, 273.15),
        ("°F", 212.0, 373.15),
        ("°F", -459.67, 0.0),
        ("ms", 1100.0, 1.1),
        ("us", 3.0, 3e-6),
        ("min", 2.0, 120.0),
        ("h", 1.5, 5400.0),
        ("mA", 250.0, 0.25),
        ("kA", 1.5, 1500.0),
        ("MW", 0.2, 2e5),
        ("mV", 3300.0, 3.3),
        ("K", 300.0, 300.0),
    ],
)
def test_conversion_to_si(symbol, value, si):
    assert named_unit(symbol).to_si(np.array([value]))[0] == pytest.approx(si, rel=1e-15, abs=1e-13)


def test_milliseconds_are_rounded_once():
    values = np.arange(0.0, 2000.0)
    assert np.array_equal(named_unit("ms").to_si(values), values / 1000.0)


def test_a_header_unit_serves_as_it_stands():
    assert unit_of_column("I [mA]", "current", None, file="x.csv").symbol == "mA"
    assert unit_of_column("I [mA]", "current", "mA", file="x.csv").symbol == "mA"
    assert unit_of_column("current", "current", "kA", file="x.csv").symbol == "kA"
    assert unit_of_column("current [shunt 2]", "current", "A", file="x.csv").symbol == "A"
    assert unit_of_column("V_min", "voltage", "V", file="x.csv").symbol == "V"


@pytest.mark.parametrize(
    ("header", "quantity", "stated", "expected"),
    [
        ("current", "current", None, 'Add current_unit = "..."'),
        ("temp", "temperature", None, "Add temperature_unit"),
        ("current [shunt 2]", "current", None, "Add current_unit"),
        ("V_min", "voltage", None, "Add voltage_unit"),
        ("I [A]", "power", None, "not a unit of power"),
        ("charge [Ah]", "current", "A", "not a unit of current"),
        ("max. SoC [%)", "current", None, 'says "%"'),
        ("I [A]", "current", "mA", "Remove current_unit"),
        ("T [°C]", "temperature", "K", "Remove temperature_unit"),
        ("current", "current", "ampfere", "Known are A, µA, mA, kA"),
        ("current", "current", "V", "not a unit of current"),
    ],
)
def test_missing_or_contradictory_units_are_refused_with_the_key_to_add(header, quantity, stated, expected):
    with pytest.raises(HistoryError, match="x.csv") as caught:
        unit_of_column(header, quantity, stated, file="x.csv")
    assert expected in str(caught.value)
    assert caught.value.column == header


def test_every_quantity_has_its_si_unit():
    for quantity, symbol in {"time": "s", "current": "A", "power": "W", "voltage": "V", "temperature": "K"}.items():
        assert symbol in known_units(quantity)
        assert named_unit(symbol) == Unit(symbol, quantity)
