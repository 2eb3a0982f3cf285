"""Suggested roles: which column could be what, with the evidence; never applied by themselves."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from lifetime.history.formats.reader import Reader
from lifetime.history.formats.text_values import Texts
from lifetime.history.mapping.role_ratings import (
    UNFIT,
    Rating,
    is_named_like_time,
    is_of_another_device,
    rate_column,
)
from lifetime.history.mapping.time_columns import judged_times
from lifetime.history.mapping.timestamps import DURATION, Timestamps, fitting_patterns
from lifetime.units import header_unit

_DRIVES: Final = ("current", "power", "speed")
_RATED: Final = (*_DRIVES, "voltage", "temperature", "time")
_ROLES: Final = ("time", "date", "current", "power", "speed", "voltage", "temperature", "mode")
_STORED_TIME: Final = Rating(5, "the file stores it as a time")
_DATE_ONLY: Final = ("%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%Y/%m/%d", "iso")
_CHARGING: Final = re.compile(r"^(cc|cv|cccv)?[ _-]*(c|chg|chrg|charge|charging)\b", re.IGNORECASE)
_DISCHARGING: Final = re.compile(r"^(cc|cp|cr)?[ _-]*(d|dchg|dchrg|disch\w*|discharge)\b", re.IGNORECASE)
_RESTING: Final = re.compile(r"^(rest|pause|idle|r|ocv)\b", re.IGNORECASE)
_MODE_NAME: Final = re.compile(r"mode|state|step type|status|instruction", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ColumnSuggestion:
    """A column with its suggested role.

    Args:
        role: The suggested role: a quantity, or "date" or "mode".
        column: Its name.
        position: Its position in the file, from 0.
        unit: The unit its header or the format states, or None.
        evidence: Why it is suggested, in words.
        patterns: Patterns that its timestamps fit; more than one where only a person can tell.
        charging: Words that seem to mean charging, for a mode.
        discharging: Words that seem to mean discharging, for a mode.
        resting: Words that seem to mean rest, for a mode.
    """

    role: str
    column: str
    position: int
    unit: str | None
    evidence: str
    patterns: tuple[str, ...] = ()
    charging: tuple[str, ...] = ()
    discharging: tuple[str, ...] = ()
    resting: tuple[str, ...] = ()


def suggest_columns(reader: Reader) -> tuple[ColumnSuggestion, ...]:
    """Suggest the most likely column for each role, from names, units and the first rows.

    Args:
        reader: The file.
    """
    columns, numeric = reader.columns, reader.number_columns()
    candidates = [at for at in numeric if columns.count(columns[at]) == 1 and not _is_empty(reader, at)]
    by_role: dict[str, ColumnSuggestion] = {}
    drive: int | None = None
    for quantity in _RATED:
        together = None if drive is None else reader.together(drive)
        taken = {suggestion.position for suggestion in by_role.values()}
        free = [at for at in candidates if at not in taken and (together is None or at in together)]
        best = _best(reader, free, quantity, drive)
        if best is None or (quantity == "power" and drive is not None and is_of_another_device(best.column)):
            continue  # a heater's power next to the pack's current is not the pack's
        by_role[quantity] = best
        if drive is None and quantity in _DRIVES:
            drive = best.position
    _suggest_timestamps(reader, by_role)
    _suggest_mode(reader, by_role)
    return tuple(by_role[role] for role in _ROLES if role in by_role)


def text_values_of(suggestions: Iterable[ColumnSuggestion]) -> Texts:
    """How suggested timestamps become numbers; where several patterns fit, by the first of them.

    Args:
        suggestions: The suggested columns.
    """
    return {column.position: Timestamps(column.patterns[0]) for column in suggestions if column.patterns}


def _is_empty(reader: Reader, position: int) -> bool:
    """True for a column whose first fields are all empty."""
    sample = reader.text_sample(position)
    return bool(sample) and not any(sample)


def _best(reader: Reader, free: list[int], quantity: str, drive: int | None) -> ColumnSuggestion | None:
    ratings = {at: _rating(reader, at, quantity, drive) for at in free}
    if quantity == "time":
        ratings = judged_times(reader, ratings)
    # The first in the file among equally likely ones, as max keeps the first it meets.
    best = max(free, key=lambda at: ratings[at].points, default=None)
    if best is None or ratings[best].points <= 0:
        return None
    name = reader.columns[best]
    if best in reader.seconds:
        return ColumnSuggestion(quantity, name, best, "s", _STORED_TIME.evidence)
    stated = header_unit(name)
    unit = None if stated is None or stated.unit is None else stated.unit.symbol
    return ColumnSuggestion(quantity, name, best, unit, ratings[best].evidence)


def _rating(reader: Reader, position: int, quantity: str, drive: int | None) -> Rating:
    """The rating of a column, higher where it shares a structure with the drive."""
    if position in reader.seconds:
        return _STORED_TIME if quantity == "time" else UNFIT
    rating = rate_column(reader.columns[position], quantity)
    shared = 0 if drive is None else _shared_path(reader.columns[position], reader.columns[drive])
    if rating.points <= 0 or not shared:
        return rating
    return Rating(rating.points + shared, f"{rating.evidence} and it is next to the current")


def _shared_path(column: str, other: str) -> int:
    """How many steps of the path two members of structures share."""
    pairs = zip(column.split(".")[:-1], other.split(".")[:-1], strict=False)
    return sum(step == other_step for step, other_step in pairs)


def _suggest_timestamps(reader: Reader, by_role: dict[str, ColumnSuggestion]) -> None:
    """Suggest columns of timestamps where no column of numbers has a time with a unit."""
    present = by_role.get("time")
    if present is not None and present.unit is not None and "step" not in present.column.lower():
        return
    numeric = set(reader.number_columns())
    texts = [(at, name) for at, name in enumerate(reader.columns) if at not in numeric]
    named = [at for at, name in texts if is_named_like_time(name)]
    dated = [at for at, name in texts if "date" in name.lower()]
    for at in sorted(dict.fromkeys(named + dated), key=lambda at: -rate_column(reader.columns[at], "time").points):
        sample = reader.text_sample(at)
        patterns = tuple(fitting_patterns(sample))
        if not patterns:
            continue
        name = reader.columns[at]
        if set(patterns) <= set(_DATE_ONLY) and not any(":" in text for text in sample):
            by_role.setdefault("date", ColumnSuggestion("date", name, at, None, "it contains dates", patterns))
        elif ("time" not in by_role or not by_role["time"].patterns) and "step" not in name.lower():
            what = "durations" if patterns == (DURATION,) else f'timestamps such as "{sample[0]}"'
            by_role["time"] = ColumnSuggestion("time", name, at, "s", f"it contains {what}", patterns)
    if "date" in by_role and ("time" not in by_role or by_role["time"].patterns != (DURATION,)):
        del by_role["date"]


def _suggest_mode(reader: Reader, by_role: dict[str, ColumnSuggestion]) -> None:
    """Suggest a column of words that tell charging from discharging."""
    numeric = set(reader.number_columns())
    for at, name in enumerate(reader.columns):
        if at in numeric or not (_MODE_NAME.search(name) or name.startswith("column ")):
            continue
        words = sorted({text for text in reader.text_sample(at) if text})
        charging = tuple(word for word in words if _CHARGING.search(word))
        discharging = tuple(word for word in words if _DISCHARGING.search(word))
        if charging or discharging:
            seen = ", ".join(words[:6])
            resting = tuple(word for word in words if _RESTING.search(word))
            by_role["mode"] = ColumnSuggestion(
                "mode", name, at, None, f"it contains {seen}", (), charging, discharging, resting
            )
            return
