"""Hourly weather files: the dry-bulb temperature of a typical year from EPW and TMY3 files.

Both label an hour by its end, 1 to 24, in local standard time, and splice a year from months of several years, so the
year of a date says nothing. An EPW file has eight header rows, and the dry bulb is its seventh field; a TMY3 file has
the station's row and a row of column names.

Source:
    EnergyPlus, "Auxiliary Programs", EPW data dictionary; Wilcox & Marion, NREL/TP-581-43156 (2008), TMY3 manual.
    The missing values 99.9 (EPW) and -9900 (TMY3) are theirs.
"""

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import DAYS_OF_MONTHS, HOURS_PER_DAY, HOURS_PER_YEAR
from lifetime.errors import ProfileError
from lifetime.ranges import COLDEST_AMBIENT_C, HOTTEST_AMBIENT_C

_EPW_HEADER_ROWS: Final = 8
_EPW_MONTH, _EPW_DAY, _EPW_HOUR, _EPW_DRY_BULB = 1, 2, 3, 6
_TMY3_HEADER_ROWS: Final = 2
_TMY3_COLUMNS: Final = ("Date (MM/DD/YYYY)", "Time (HH:MM)", "Dry-bulb (C)")
_MISSING: Final = frozenset({99.9, -9900.0, -9999.0})
_WHOLE_YEAR: Final = "Give a typical year with every hour from 1 January 01:00 to 31 December 24:00."
_COLDEST_C: Final = COLDEST_AMBIENT_C - 15.0
"""Single hours are colder than any monthly mean: -67.7 °C was measured where people live."""


@dataclass(frozen=True, slots=True)
class _Hour:
    """One row: where it is in the file, the hour it is for, and its temperature as written."""

    row: int
    month: str
    day: str
    hour: str
    dry_bulb: str

    @property
    def label(self) -> str:
        return f"{self.month}/{self.day} hour {self.hour}"


def is_weather(text: str) -> bool:
    """Whether a file's text is an hourly weather file, by its first rows.

    Args:
        text: The file's text.
    """
    return _is_epw(text) or any(_TMY3_COLUMNS[-1] in line for line in text.splitlines()[:_TMY3_HEADER_ROWS])


def hourly_temperature_C(text: str, name: str) -> FloatArray:
    """Dry-bulb temperature of every hour of a typical year, starting with January.

    Args:
        text: Text of an EPW or a TMY3 file.
        name: The file's name as the user gave it, for messages.

    Returns:
        Temperature [°C], shape (8760,).

    Raises:
        ProfileError: An hour is missing, repeated or out of order, or a temperature is missing, not a number or out of
            range; the file is refused as a whole, and the message names the first such row.
    """
    try:
        rows = list(csv.reader(text.splitlines()))
    except csv.Error as error:
        raise ProfileError(f"{name}: cannot be read as comma-separated text ({error}). {_WHOLE_YEAR}") from None
    hours = list(_epw_hours(rows) if _is_epw(text) else _tmy3_hours(rows, name))
    values = np.empty(HOURS_PER_YEAR)
    for place, ((month, day, hour), found) in enumerate(zip(_calendar(), hours, strict=False)):
        if _numbers(found) != (month, day, hour):
            raise ProfileError(
                f"{name}, row {found.row}: expected the hour {month}/{day} hour {hour} (month/day), got {found.label}. "
                f"Hours are missing, repeated or out of order, or there is a 29 February. {_WHOLE_YEAR}"
            )
        values[place] = _temperature_C(found, name)
    if len(hours) != HOURS_PER_YEAR:
        raise ProfileError(f"{name}: expected {HOURS_PER_YEAR} hours, got {len(hours)}. {_WHOLE_YEAR}")
    return values


def _is_epw(text: str) -> bool:
    return text[: len("LOCATION,")].upper() == "LOCATION,"


def _epw_hours(rows: Sequence[list[str]]) -> Iterator[_Hour]:
    for number, row in enumerate(rows[_EPW_HEADER_ROWS:], start=_EPW_HEADER_ROWS + 1):
        if any(row):
            cells = [*row, *[""] * (_EPW_DRY_BULB + 1)]
            yield _Hour(number, cells[_EPW_MONTH], cells[_EPW_DAY], cells[_EPW_HOUR], cells[_EPW_DRY_BULB])


def _tmy3_hours(rows: Sequence[list[str]], name: str) -> Iterator[_Hour]:
    header = [cell.strip() for row in rows[1:_TMY3_HEADER_ROWS] for cell in row]
    missing = [column for column in _TMY3_COLUMNS if column not in header]
    if missing:
        raise ProfileError(
            f"{name}, row {_TMY3_HEADER_ROWS}: expected the columns {', '.join(_TMY3_COLUMNS)}, but "
            f"{', '.join(missing)} is not there. Take the file as it was published."
        )
    places = [header.index(column) for column in _TMY3_COLUMNS]
    for number, row in enumerate(rows[_TMY3_HEADER_ROWS:], start=_TMY3_HEADER_ROWS + 1):
        if any(row):
            cells = [*row, *[""] * len(header)]
            date, time, dry_bulb = (cells[place].strip() for place in places)
            month, _, rest = date.partition("/")
            hour, _, minutes = time.partition(":")
            whole = not minutes.strip("0:")
            yield _Hour(number, month, rest.partition("/")[0], hour if whole else time, dry_bulb)


def _calendar() -> Iterator[tuple[int, int, int]]:
    for month, days in enumerate(DAYS_OF_MONTHS, start=1):
        for day in range(1, days + 1):
            for hour in range(1, HOURS_PER_DAY + 1):
                yield month, day, hour


def _numbers(found: _Hour) -> tuple[int, ...] | None:
    try:
        return int(found.month), int(found.day), int(found.hour)
    except ValueError:
        return None


def _temperature_C(found: _Hour, name: str) -> float:
    place = f"{name}, row {found.row} ({found.label})"
    try:
        value = float(found.dry_bulb)
    except ValueError:
        raise ProfileError(
            f'{place}: expected the dry-bulb temperature in °C, got "{found.dry_bulb[:40]}". Fill the gap, or take '
            "another file."
        ) from None
    if value in _MISSING:
        raise ProfileError(
            f"{place}: the dry-bulb temperature is missing ({value:g} stands for a missing value). Fill the gap, for "
            "example between its neighbours, or take another file."
        )
    if not _COLDEST_C <= value <= HOTTEST_AMBIENT_C:  # also catches NaN
        raise ProfileError(
            f"{place}: the dry-bulb temperature must lie in {_COLDEST_C:g} to {HOTTEST_AMBIENT_C:g} °C, got {value:g}. "
            "Correct it, or take another file."
        )
    return value
