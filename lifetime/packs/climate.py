"""Ambient temperature over the year: twelve monthly means, or every hour of a weather file.

Both are one array, and its length says which: shape (12,) or (8760,), starting with January.
"""

import codecs
import csv
import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np

from lifetime.checks import FloatArray, as_floats
from lifetime.constants import DAYS_OF_MONTHS, HOURS_PER_DAY, HOURS_PER_YEAR, MONTHS_PER_YEAR, ZERO_CELSIUS_K
from lifetime.errors import NumberError, ProfileError
from lifetime.packs.locate import find_file
from lifetime.packs.weather import hourly_temperature_C, is_weather
from lifetime.ranges import COLDEST_AMBIENT_C, HOTTEST_AMBIENT_C

_BIGGEST_FILE_BYTES: Final = 20_000_000
_MONTH_ENDS: Final = np.cumsum(DAYS_OF_MONTHS)[:-1] * HOURS_PER_DAY


def load_climate(climate: str | float | Sequence[float], base_dir: Path | None = None) -> FloatArray:
    """Turn what a study says about the climate into ambient temperatures.

    Args:
        climate: Name of a shipped climate, path of an hourly weather file (EPW, TMY3) or of a CSV file with the columns
            ``month,ambient_C``, twelve monthly means [°C] starting with January, or one temperature for the whole
            year [°C].
        base_dir: Folder that a relative path starts from.

    Returns:
        Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).

    Raises:
        ProfileError: Unknown name, unreadable file, not twelve values, a weather file with a fault, or a value outside
            -60..60 °C.
    """
    if isinstance(climate, str):
        path = find_file(climate, "climates", base_dir or Path())
        text = _text(path, climate)
        if is_weather(text):
            return hourly_temperature_C(text, climate) + ZERO_CELSIUS_K
        return _checked(_monthly(text, climate), climate)
    if isinstance(climate, int | float):
        return _checked([float(climate)] * MONTHS_PER_YEAR, "ambient_C")
    return _checked(climate, "ambient_C")


def is_hourly(ambient_K: FloatArray) -> bool:
    """Whether a climate has every hour of the year.

    Args:
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
    """
    return ambient_K.size == HOURS_PER_YEAR


def hours_by_month(ambient_K: FloatArray) -> list[FloatArray]:
    """The hours of each month [K], each starting with the hour after midnight.

    Args:
        ambient_K: Ambient temperature by hour [K], shape (8760,).
    """
    return np.split(ambient_K, _MONTH_ENDS)


def monthly_means_K(ambient_K: FloatArray) -> FloatArray:
    """Monthly mean ambient temperature [K], shape (12,).

    Args:
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
    """
    if not is_hourly(ambient_K):
        return ambient_K
    return np.array([hours.mean() for hours in hours_by_month(ambient_K)])


def climate_text(ambient_K: FloatArray) -> str:
    """A climate as a record keeps it: exact, and the same however it was given.

    Args:
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
    """
    return "\n".join(repr(value) for value in ambient_K.tolist())


def climate_sha256(ambient_K: FloatArray) -> str:
    """Hash of a climate's text, in hexadecimal.

    Args:
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
    """
    return hashlib.sha256(climate_text(ambient_K).encode()).hexdigest()


def _text(path: Path, name: str) -> str:
    try:
        if path.stat().st_size > _BIGGEST_FILE_BYTES:
            raise ProfileError(f"{name}: is larger than 20 MB; a weather file has 8760 hours. Is it a history?")
        content = path.read_bytes().removeprefix(codecs.BOM_UTF8)
        # A station's name may be in any encoding, and is not read.
        text = content.decode("latin-1")
        return text if is_weather(text) else content.decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ProfileError(f"{name}: cannot be read as UTF-8 text ({error}).") from None


def _monthly(text: str, name: str) -> list[str]:
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    months = [row.get("month") for row in rows]
    if months != [str(month) for month in range(1, MONTHS_PER_YEAR + 1)] or any("ambient_C" not in row for row in rows):
        raise ProfileError(
            f"{name}: expected an hourly weather file (EPW, TMY3), or the header month,ambient_C and the months 1 to "
            f"12 in order, got months {months[:MONTHS_PER_YEAR]}."
        )
    return [row["ambient_C"] for row in rows]


def _checked(values: Sequence[float] | Sequence[str], name: str) -> FloatArray:
    try:
        ambient_C = as_floats(values, f"{name} [°C]")
    except NumberError as error:
        raise ProfileError(str(error)) from None
    if ambient_C.shape != (MONTHS_PER_YEAR,):
        raise ProfileError(f"{name} must be twelve monthly means in °C, or one number, got {ambient_C.size} values.")
    if ambient_C.min() < COLDEST_AMBIENT_C or ambient_C.max() > HOTTEST_AMBIENT_C:
        raise ProfileError(
            f"{name} must lie in {COLDEST_AMBIENT_C:g} to {HOTTEST_AMBIENT_C:g} °C, "
            f"got {ambient_C.min():g} to {ambient_C.max():g}."
        )
    return ambient_C + ZERO_CELSIUS_K
