"""Which column could be what: offered with its evidence, never applied."""

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from lifetime.units import QUANTITIES, Quantity, header_unit

_NAMES: Final[dict[Quantity, re.Pattern[str]]] = {
    "time": re.compile(r"time|zeit|elapsed|(?<![a-z])t(?![a-z0-9])|secs", re.IGNORECASE),
    "current": re.compile(r"current|strom|amps?\b|(?<![a-z])i(?![a-z])", re.IGNORECASE),
    "power": re.compile(r"power|leistung|(?<![a-z])p(?![a-z])", re.IGNORECASE),
    "voltage": re.compile(r"volt|spannung|(?<![a-z])[uv](?![a-z])", re.IGNORECASE),
    "temperature": re.compile(r"temp|(?<![a-z])t(?![a-z])", re.IGNORECASE),
}
_OF_THE_SOURCE: Final = re.compile(r"batt|(?<![a-z])bat(?![a-z])|pack|bank|(?<![a-z])(uc|dc)(?![a-z])", re.IGNORECASE)
_OF_SOMETHING_ELSE: Final = re.compile(
    r"heat|motor|ambient|air|cabin|coolant|request|min|max|cell|sensor|target|avg|diff", re.IGNORECASE
)
_STATE_OF_CHARGE: Final = re.compile(r"(?<![a-z])soc(?![a-z])|state of charge", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Offer:
    """A column that could serve as a quantity.

    Args:
        quantity: What it could be.
        column: Its name.
        position: Its position in the file, from 0.
        unit: The unit its header names, or None.
        evidence: Why it is offered, in words.
    """

    quantity: Quantity
    column: str
    position: int
    unit: str | None
    evidence: str


def offers(columns: tuple[str, ...], numeric: Iterable[int]) -> tuple[Offer, ...]:
    """Offer the most likely column for each quantity, from names and units.

    Args:
        columns: All column names.
        numeric: Positions of columns that hold numbers.
    """
    found = []
    taken: set[int] = set()
    positions = [position for position in numeric if columns.count(columns[position]) == 1]
    for quantity in QUANTITIES:
        rated = {position: _rate(columns[position], quantity) for position in positions if position not in taken}
        # The first in the file among equally likely ones, as max keeps the first it meets.
        position = max(rated, key=lambda candidate: rated[candidate][0], default=None)
        if position is None or rated[position][0] <= 0:
            continue
        taken.add(position)
        stated = header_unit(columns[position])
        unit = stated.unit.symbol if stated is not None and stated.unit is not None else None
        found.append(Offer(quantity, columns[position], position, unit, rated[position][1]))
    return tuple(found)


def state_of_charge_column(columns: tuple[str, ...], numeric: Iterable[int]) -> int | None:
    """Position of the first column named like a state of charge, or None.

    Args:
        columns: All column names.
        numeric: Positions of columns that hold numbers.
    """
    return next((p for p in numeric if _STATE_OF_CHARGE.search(columns[p]) and "min" not in columns[p].lower()), None)


def study_line(
    file: str, offered: tuple[Offer, ...], sign: Literal["positive", "negative"] | None
) -> str | None:
    """A line for a study file, to be pasted and looked over; None where time or current and power are not there.

    Units that no header names stand as "?", which a study refuses until they are filled in.

    Args:
        file: The file's name.
        offered: What the columns could be.
        sign: Sign of discharge as far as it shows, or None.
    """
    by_quantity = {offer.quantity: offer for offer in offered}
    if "time" not in by_quantity or not ({"current", "power"} & by_quantity.keys()):
        return None
    drive: Quantity = "current" if "current" in by_quantity else "power"
    used: list[Quantity] = ["time", drive, "voltage", "temperature"]
    parts = [f"file = {_quoted(file)}"]
    for quantity in used:
        if quantity in by_quantity:
            parts.append(f"{quantity} = {_quoted(by_quantity[quantity].column)}")
            if by_quantity[quantity].unit is None:
                parts.append(f'{quantity}_unit = "?"')
    parts.append(f'discharge_is = "{sign or "?"}"')
    return f"battery = {{ {', '.join(parts)} }}"


def _rate(column: str, quantity: Quantity) -> tuple[int, str]:
    """How likely a column is a quantity (0: not at all), and why."""
    stated = header_unit(column)
    evidence = []
    points = 0
    if stated is not None and stated.certain:
        if stated.unit is None or stated.unit.quantity != quantity:
            return 0, ""
        points += 4
        evidence.append(f"its unit is {stated.unit.symbol}")
    if _NAMES[quantity].search(column):
        points += 2
        evidence.append("its name says so")
    if points and quantity != "time" and _OF_THE_SOURCE.search(column):
        points += 2
        evidence.append("its name speaks of the source")
    if points and _OF_SOMETHING_ELSE.search(column):
        points -= 1
    return points, " and ".join(evidence)


def _quoted(text: str) -> str:
    """A TOML basic string; JSON's escapes are a subset of TOML's."""
    return json.dumps(text, ensure_ascii=False)
