"""Ambient temperature over the year: twelve monthly means."""

import csv
import hashlib
from collections.abc import Sequence
from pathlib import Path

from lifetime.checks import FloatArray, as_floats
from lifetime.constants import MONTHS_PER_YEAR, ZERO_CELSIUS_K
from lifetime.errors import NumberError, ProfileError
from lifetime.packs.locate import find_file
from lifetime.ranges import COLDEST_AMBIENT_C, HOTTEST_AMBIENT_C


def load_climate(climate: str | float | Sequence[float], base_dir: Path | None = None) -> FloatArray:
    """Turn what a study says about the climate into twelve monthly ambient temperatures.

    Args:
        climate: Name of a shipped climate, path of a CSV file with the columns ``month,ambient_C``, twelve monthly
            means [°C] starting with January, or one temperature for the whole year [°C].
        base_dir: Folder that a relative path starts from.

    Returns:
        Ambient temperature by month [K], shape (12,).

    Raises:
        ProfileError: Unknown name, unreadable file, not twelve values, or a value outside -60..60 °C.
    """
    if isinstance(climate, str):
        path = find_file(climate, "climates", base_dir or Path())
        return _checked(_read_csv(path, climate), climate)
    if isinstance(climate, int | float):
        return _checked([float(climate)] * MONTHS_PER_YEAR, "ambient_C")
    return _checked(climate, "ambient_C")


def climate_text(ambient_K: FloatArray) -> str:
    """A climate as a record keeps it: exact, and the same however it was given.

    Args:
        ambient_K: Ambient temperature by month [K], shape (12,).
    """
    return "\n".join(repr(value) for value in ambient_K.tolist())


def climate_sha256(ambient_K: FloatArray) -> str:
    """Hash of a climate's text, in hexadecimal.

    Args:
        ambient_K: Ambient temperature by month [K], shape (12,).
    """
    return hashlib.sha256(climate_text(ambient_K).encode()).hexdigest()


def _read_csv(path: Path, name: str) -> list[str]:
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    except (OSError, UnicodeDecodeError) as error:
        raise ProfileError(f"{name}: cannot be read as UTF-8 text ({error}).") from None
    months = [row.get("month") for row in rows]
    if months != [str(month) for month in range(1, MONTHS_PER_YEAR + 1)] or any("ambient_C" not in row for row in rows):
        raise ProfileError(
            f"{name}: expected the header month,ambient_C and the months 1 to 12 in order, got months {months}."
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
