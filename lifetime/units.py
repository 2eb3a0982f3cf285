"""Units as people write them: in a column header, in a study file; converted to SI once, at the edge.

The spelling is looked for in three places, strongest first: brackets at the end of the header (``Time [s]``,
``Voltage (V)``), a stroke or the word "in" (``I/A``, ``Strom in A``), and an ending after an underscore (``p_dc_kW``).
Case counts: mW and MW are a factor of 10⁹ apart.
"""

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.errors import HistoryError

Quantity = Literal["time", "current", "power", "voltage", "temperature", "speed", "torque", "shaft_speed"]
"""What a column of a history can be."""

QUANTITIES: Final[tuple[Quantity, ...]] = (
    "time",
    "current",
    "power",
    "voltage",
    "temperature",
    "speed",
    "torque",
    "shaft_speed",
)


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of one quantity; ``SI = (value + offset) * multiplier / divisor``.

    Multiplier and divisor are kept apart, whole numbers where they can be, so that 1100 ms become 1.1 s and not
    1.1000000000000001 s.

    Args:
        symbol: How the program writes it, for example "mA".
        quantity: What it measures.
        multiplier: >= 1.
        divisor: >= 1.
        offset: Added first, in this unit; only temperature scales have one.
    """

    symbol: str
    quantity: Quantity
    multiplier: float = 1.0
    divisor: float = 1.0
    offset: float = 0.0

    def to_si(self, values: FloatArray) -> FloatArray:
        """Convert to s, A, W, V, K, m/s, N·m or rad/s.

        Args:
            values: Numbers in this unit, any shape.

        Returns:
            float64 array of the same shape, in SI; the array itself where this is the SI unit.
        """
        result = values
        if self.offset != 0.0:
            result = result + self.offset
        if self.multiplier != 1.0:
            result = result * self.multiplier
        if self.divisor != 1.0:
            result = result / self.divisor
        return result


_SPELLINGS: Final[tuple[tuple[Unit, tuple[str, ...]], ...]] = (
    (Unit("s", "time"), ("s", "sec", "secs", "second", "seconds")),
    (Unit("ms", "time", divisor=1e3), ("ms", "msec", "millisecond", "milliseconds")),
    (Unit("us", "time", divisor=1e6), ("us", "µs", "μs", "usec", "microseconds")),
    (Unit("ns", "time", divisor=1e9), ("ns", "nanoseconds")),
    (Unit("min", "time", multiplier=60.0), ("min", "minute", "minutes")),
    (Unit("h", "time", multiplier=3600.0), ("h", "hr", "hour", "hours")),
    (Unit("d", "time", multiplier=86400.0), ("d", "day", "days")),
    (Unit("A", "current"), ("A", "Amps", "amps", "Amp", "ampere", "amperes")),
    (Unit("µA", "current", divisor=1e6), ("µA", "μA", "uA")),
    (Unit("mA", "current", divisor=1e3), ("mA",)),
    (Unit("kA", "current", multiplier=1e3), ("kA",)),
    (Unit("W", "power"), ("W", "watt", "watts", "Watts")),
    (Unit("mW", "power", divisor=1e3), ("mW",)),
    (Unit("kW", "power", multiplier=1e3), ("kW",)),
    (Unit("MW", "power", multiplier=1e6), ("MW",)),
    (Unit("V", "voltage"), ("V", "Volts", "volts", "volt")),
    (Unit("mV", "voltage", divisor=1e3), ("mV",)),
    (Unit("kV", "voltage", multiplier=1e3), ("kV",)),
    (
        Unit("°C", "temperature", offset=ZERO_CELSIUS_K),
        ("°C", "ºC", "℃", "degC", "deg C", "deg_C", "C", "celsius", "Celsius"),
    ),
    (Unit("K", "temperature"), ("K", "kelvin", "Kelvin")),
    (Unit("m/s", "speed"), ("m/s", "mps", "Mps")),
    (Unit("km/h", "speed", divisor=3.6), ("km/h", "kmh", "kph")),
    # A mile is 1609.344 m by the international agreement of 1959.
    (Unit("mph", "speed", multiplier=1609.344, divisor=3600.0), ("mph",)),
    (Unit("N·m", "torque"), ("Nm", "N·m", "N.m", "N m", "N*m")),
    (Unit("kN·m", "torque", multiplier=1e3), ("kNm", "kN·m")),
    (Unit("rad/s", "shaft_speed"), ("rad/s", "rad/sec")),
    # One revolution is 2 pi rad (ISO 80000-3).
    (Unit("rpm", "shaft_speed", multiplier=math.pi, divisor=30.0), ("rpm", "RPM", "r/min", "1/min", "min^-1", "min-1")),
    # 0 °F is 459.67 degrees above absolute zero and a Fahrenheit degree is 5/9 K; definition of the scale.
    (Unit("°F", "temperature", 5.0, 9.0, 459.67), ("°F", "ºF", "℉", "degF", "deg F", "deg_F", "F")),
)
_BY_SPELLING: Final[dict[str, Unit]] = {text: unit for unit, texts in _SPELLINGS for text in texts}

# Units a header may carry that no column of a history can have; asked for by mistake they contradict the role.
_OTHER_QUANTITIES: Final = frozenset(
    {"Ah", "mAh", "Wh", "kWh", "%", "J", "kJ", "MJ", "As", "Ω", "Ohm", "ohm", "mΩ", "mOhm", "mohm", "Hz", "km", "m"}
    | {"m/s^2", "m/s²", "bar", "l/h", "kg", "A.h", "mA.h", "W.h", "mWh"}
    | {"Amp-hr", "Watt-hr", "deg", "°", "hPa", "Pa", "ampere_hour", "watt_hour", "ohms", "V/s", "g/h"}
)

# Words long enough to be no abbreviation of anything else, in whatever case.
_WORDS: Final[dict[str, Unit]] = {text.lower(): unit for text, unit in _BY_SPELLING.items() if len(text) >= 3}

# A unit stands at the end of a header, and no unit is longer.
_LOOKED_AT: Final = 200
# Every pattern here and elsewhere can fit a text in one way only; tests/contracts/test_patterns.py times them all.
_BRACKETS: Final = re.compile(r"[\[(]([^\[\]()]*)[\])]$")
_STROKE: Final = re.compile(r"(?:/|\bin )\s*+([^\s/]++)$")
_ENDING: Final = re.compile(r"_(deg_?[CF]|[^\W_]+|°[CF]|%)$")
_LAST_WORD: Final = re.compile(r"(?:^|\s)([A-Za-z]{4,})$")


@dataclass(frozen=True, slots=True)
class HeaderUnit:
    """What a header says about its unit.

    Args:
        text: The spelling found, for example "°C" or "km/h".
        unit: The unit understood, or None where the text names another quantity or nothing known.
        certain: True where the text is surely meant as a unit: a known one, or one of another quantity.
    """

    text: str
    unit: Unit | None
    certain: bool


def named_unit(text: str) -> Unit | None:
    """Look up one spelling of a unit, or None where it is not known; case counts for symbols, not for words.

    Args:
        text: For example "kW" or "degC"; surrounding white space is ignored.
    """
    bare = text.strip()
    return _BY_SPELLING.get(bare) or _WORDS.get(bare.lower())


def other_quantity(text: str) -> bool:
    """Tell whether a text is a unit of something that no column of a history can be, such as "Ah" or "km/h".

    Args:
        text: For example "km/h"; surrounding white space is ignored.
    """
    return text.strip() in _OTHER_QUANTITIES


def known_units(quantity: Quantity) -> tuple[str, ...]:
    """List the units understood for one quantity, as the program writes them.

    Args:
        quantity: What is measured.
    """
    return tuple(unit.symbol for unit, _ in _SPELLINGS if unit.quantity == quantity)


@lru_cache(maxsize=4096)  # every role asks about every column
def header_unit(header: str) -> HeaderUnit | None:
    """Find the unit a column header states, or None where it states none.

    An ending such as ``_min`` or ``_h`` is taken as a unit of time only when nothing stronger is there, and the caller
    decides whether time is what it wants: ``V_min`` more often means a minimum.

    Args:
        header: Column name as it stands in the file.
    """
    name = header.strip()[-_LOOKED_AT:]
    bracket = _BRACKETS.search(name)
    text = "" if bracket is None else bracket.group(1).strip()
    if text:
        unit = named_unit(text)
        return HeaderUnit(text, unit, certain=unit is not None or text in _OTHER_QUANTITIES)
    for pattern in (_STROKE, _ENDING, _LAST_WORD):
        match = pattern.search(name)
        if match is None:
            continue
        text = match.group(1)
        unit = named_unit(text)
        if unit is not None or text in _OTHER_QUANTITIES:
            return HeaderUnit(text, unit, certain=True)
    return None


def unit_of_column(header: str, quantity: Quantity, stated: str | None, *, file: str) -> Unit:
    """Settle the unit of one column from its header and from what the study states; never guess.

    Args:
        header: Column name as it stands in the file.
        quantity: What the study says the column is.
        stated: The study's own word on the unit, or None.
        file: The file's name as the user gave it, for messages.

    Returns:
        The unit.

    Raises:
        HistoryError: No unit is stated anywhere, the two statements differ, or the header names another quantity. The
            message says which key to add or change.
    """
    key = f"{quantity}_unit"
    known = ", ".join(known_units(quantity))

    def refusal(problem: str, remedy: str) -> HistoryError:
        return HistoryError(problem, file=file, column=header, remedy=remedy)

    chosen = None if stated is None else named_unit(stated)
    if stated is not None and (chosen is None or chosen.quantity != quantity):
        raise refusal(f'{key} = "{stated}" is not a unit of {quantity}.', f"Known are {known}.")
    found = header_unit(header)
    if found is not None and quantity != "time" and found.text in ("min", "h") and "_" in header:
        found = None  # "V_min" is a smallest voltage, not a time
    if found is None or not found.certain:
        if chosen is not None:
            return chosen
        why = "states no unit" if found is None else f'says "{found.text}", which is not a known unit of {quantity}'
        raise refusal(
            f"the header {why}, and a guess could be wrong.",
            f'Add {key} = "..." to the study, one of: {known}; for example {key} = "{known_units(quantity)[0]}".',
        )
    if found.unit is None or found.unit.quantity != quantity:
        raise refusal(
            f'the header says "{found.text}", which is not a unit of {quantity}.',
            f"Name the column that holds {quantity} ({known}), or rename this one if its header is wrong.",
        )
    if chosen is not None and chosen != found.unit:
        raise refusal(
            f'the header says {found.unit.symbol} and the study says {key} = "{stated}".',
            f"Remove {key}, or rename the column if its header is wrong.",
        )
    return found.unit
