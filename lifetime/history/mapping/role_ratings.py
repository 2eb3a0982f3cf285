"""How likely a column has a role, by its name and its unit, with the evidence in words."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from lifetime.history.formats.struct_names import is_time_name
from lifetime.units import QUANTITIES, Quantity, header_unit

_NAMES: Final[dict[Quantity, re.Pattern[str]]] = {
    "time": re.compile(r"(?i:time|zeit|elapsed|secs)|(?<![A-Za-z0-9])t(?![A-Za-z0-9])"),
    "current": re.compile(r"current|strom|(?<![a-z])amps?\b|(?<![a-z0-9])i(?![a-z])", re.IGNORECASE),
    "power": re.compile(r"power|leistung|(?<![a-z0-9])p(?![a-z])", re.IGNORECASE),
    "voltage": re.compile(r"volt|spannung|(?<![a-z])[uv](?![a-z])|(?<![a-z])[uv]_?bat|ewe", re.IGNORECASE),
    "speed": re.compile(
        r"speed|velocity|(?<![a-z0-9])v_?(act|veh)|(?<!a)mps(?![a-z])|k[mp]_?h(?![a-z])|mph(?![a-z])", re.IGNORECASE
    ),
    "torque": re.compile(r"torque|drehmoment|(?<![a-z])moment(?![a-z])", re.IGNORECASE),
    "shaft_speed": re.compile(
        r"rpm|drehzahl|(?:shaft|rotor|motor|machine)[ _]?speed|rotational speed|omega", re.IGNORECASE
    ),
    "temperature": re.compile(r"(?i:temp)|(?<![A-Za-z0-9])T\d?(?![A-Za-z0-9])"),
}
_OF_THE_SOURCE: Final = re.compile(r"batt|(?<![a-z])bat(?![a-z])|pack|bank|(?<![a-z])(uc|dc)(?![a-z])", re.IGNORECASE)
_OF_SOMETHING_ELSE: Final = re.compile(
    r"heat|inverter|motor|ambient|air|cabin|coolant|request|min|max|cell|sensor|target|avg|diff|step|range|control|12v|aux"
    r"|on time|charge time|discharge time|load",
    re.IGNORECASE,
)
_OF_ANOTHER_DEVICE: Final = re.compile(
    r"heat|wind(?!ing)|ambient|cabin|coolant|air ?con|outside|weather|(?<![a-z])air(?![a-z])|12 ?v|fan(?![a-z])",
    re.IGNORECASE,
)
_OF_A_MACHINE: Final = re.compile(r"inverter|motor|engine|stator|rotor|winding|gearbox|circuit temp", re.IGNORECASE)
_OF_A_SHAFT: Final = re.compile(r"shaft|rotor|motor|machine|engine", re.IGNORECASE)
_OF_ANOTHER_SHAFT: Final = re.compile(
    r"(?<![a-z])eng(?:ine)?(?![a-z])|wheel|gear|gbx|axle|retarder|(?<![a-z])ret(?![a-z])", re.IGNORECASE
)
_OF_AUXILIARIES: Final = re.compile(r"(?<![a-z])aux", re.IGNORECASE)
_NOT_MEASURED: Final = re.compile(
    r"request|limit|target|targ(?![a-z])|set ?point|(?<![a-z])set(?![a-z])|command|(?<![a-z])cmd|reference"
    r"|(?<![a-z])ref(?![a-z])|control|amplitude|excitation|ripple|^\|",
    re.IGNORECASE,
)
_CHARGE_NAME: Final = re.compile(r"charge|capacity|coulomb|rate|(?<![a-z])q(?![a-z])", re.IGNORECASE)
_WHOLE_TIME: Final = re.compile(r"total|test|cumulative|elapsed", re.IGNORECASE)
_STATE_OF_CHARGE: Final = re.compile(r"(?<![a-z])soc(?![a-z])|state ?of ?charge", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Rating:
    """How likely a column has a role.

    Args:
        points: 0 where it cannot have the role; more is likelier.
        evidence: Why, in words; empty without points.
        objection: Why it is not suggested although name or unit fit, in words; empty where nothing speaks against it.
    """

    points: int
    evidence: str
    objection: str = ""


UNFIT: Final = Rating(0, "")


def rate_column(column: str, quantity: str) -> Rating:
    """How likely a column is a quantity, by its name and the unit in it.

    Args:
        column: Its name.
        quantity: Which.
    """
    stated = header_unit(column)
    known: Quantity = next(name for name in QUANTITIES if name == quantity)
    evidence: list[str] = []
    points = 0
    last = last_member(column)
    if is_time_name(last) and last != "T" and known != "time":
        return UNFIT
    if stated is not None and stated.certain:
        if stated.unit is None or stated.unit.quantity != quantity:
            return UNFIT
        points += 4
        evidence.append(f"its unit is {stated.unit.symbol}")
    named = _NAMES[known].search(last if known in ("time", "temperature") else column)
    # A T that states no unit may be anything; only alone does it mean temperature.
    if named and (known != "temperature" or points or last == "T" or "temp" in last.lower()):
        points += 2
        evidence.append("its name fits")
        if column.lower() in (known, f"{known}s"):
            points += 1
    if points and quantity != "time" and _OF_THE_SOURCE.search(column):
        points += 2
        evidence.append("its name mentions the source")
    if points and quantity == "time" and _WHOLE_TIME.search(column):
        points += 2  # more than "Time" alone, which may start anew at every step of a test
    if points and _OF_SOMETHING_ELSE.search(column):
        points -= 1
    objection = _objection(column, known, named=bool(named)) if points else ""
    return Rating(points, " and ".join(evidence), objection)


def _objection(column: str, quantity: Quantity, *, named: bool) -> str:
    """What in the name speaks against a role of the source's measured quantity; empty where nothing does."""
    if quantity == "time":
        return ""
    if _NOT_MEASURED.search(column):
        return "its name says a limit, a setpoint or an amplitude, not a measured course"
    device = _OF_ANOTHER_DEVICE.search(column)
    if device is None and quantity in ("temperature", "voltage"):
        device = _OF_A_MACHINE.search(column)
    if device is None and quantity != "temperature":  # an auxiliary input often has the cell's own thermocouple
        device = _OF_AUXILIARIES.search(column)
    if device is None and quantity in ("torque", "shaft_speed"):
        device = _OF_ANOTHER_SHAFT.search(column)
    if device is None and quantity == "speed":
        device = _OF_A_SHAFT.search(column)
    if device is not None:
        return f'its name mentions another device ("{device[0]}")'
    stated = header_unit(column)
    if quantity == "temperature" and stated is not None and stated.text == "C" and not named:
        return "C may be coulombs, or a rate of charge, as well as degrees Celsius"
    if quantity == "temperature" and stated is not None and stated.text == "C" and _CHARGE_NAME.search(column):
        return "its name mentions charge, so that C means coulombs"
    return ""


def is_named_like_time(column: str) -> bool:
    """Tell whether the name of a column mentions time.

    Args:
        column: Its name.
    """
    return _NAMES["time"].search(column) is not None


def is_of_another_device(column: str) -> bool:
    """Tell whether the name of a column mentions another device than the source, or a limit.

    Args:
        column: Its name.
    """
    return _OF_SOMETHING_ELSE.search(column) is not None


def is_of_the_source(column: str) -> bool:
    """Tell whether the name of a column mentions a battery or an ultracapacitor bank.

    Args:
        column: Its name.
    """
    return _OF_THE_SOURCE.search(column) is not None


def state_of_charge_column(columns: tuple[str, ...], numeric: Iterable[int]) -> int | None:
    """Position of the first column named like a state of charge, or None.

    Args:
        columns: All column names.
        numeric: Positions of columns that contain numbers.
    """
    for position in numeric:
        name = columns[position]
        if _STATE_OF_CHARGE.search(name) and "min" not in name.lower() and not is_time_name(last_member(name)):
            return position
    return None


def last_member(column: str) -> str:
    """The last member of a structure's path; a name with blanks is not a path.

    Args:
        column: Name of the column.
    """
    return column if " " in column else column.rsplit(".", 1)[-1]
