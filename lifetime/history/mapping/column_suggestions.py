"""Suggested roles: which column could be what, with the evidence; never applied by themselves."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from lifetime.history.formats.reader import Reader
from lifetime.history.formats.struct_names import is_time_name
from lifetime.history.formats.text_values import Texts
from lifetime.history.mapping.timestamps import DURATION, Timestamps, fitting_patterns
from lifetime.units import QUANTITIES, Quantity, header_unit

_NAMES: Final[dict[Quantity, re.Pattern[str]]] = {
    "time": re.compile(r"(?i:time|zeit|elapsed|secs)|(?<![A-Za-z0-9])t(?![A-Za-z0-9])"),
    "current": re.compile(r"current|strom|(?<![a-z])amps?\b|(?<![a-z0-9])i(?![a-z])", re.IGNORECASE),
    "power": re.compile(r"power|leistung|(?<![a-z0-9])p(?![a-z])", re.IGNORECASE),
    "voltage": re.compile(r"volt|spannung|(?<![a-z])[uv](?![a-z])|(?<![a-z])[uv]_?bat|ewe", re.IGNORECASE),
    "speed": re.compile(
        r"speed|velocity|(?<![a-z0-9])v_?(act|veh)|(?<!a)mps(?![a-z])|k[mp]_?h(?![a-z])|mph(?![a-z])", re.IGNORECASE
    ),
    "temperature": re.compile(r"(?i:temp)|(?<![A-Za-z0-9])T\d?(?![A-Za-z0-9])"),
}
_OF_THE_SOURCE: Final = re.compile(r"batt|(?<![a-z])bat(?![a-z])|pack|bank|(?<![a-z])(uc|dc)(?![a-z])", re.IGNORECASE)
_OF_SOMETHING_ELSE: Final = re.compile(
    r"heat|inverter|motor|ambient|air|cabin|coolant|request|min|max|cell|sensor|target|avg|diff|step|range|control|12v|aux"
    r"|on time|charge time|discharge time|load",
    re.IGNORECASE,
)
_WHOLE_TIME: Final = re.compile(r"total|test|cumulative|elapsed", re.IGNORECASE)
_STATE_OF_CHARGE: Final = re.compile(r"(?<![a-z])soc(?![a-z])|state ?of ?charge", re.IGNORECASE)
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
    single = [at for at in numeric if columns.count(columns[at]) == 1 and not _is_empty(reader, at)]
    found: dict[str, ColumnSuggestion] = {}
    drive: int | None = None
    for quantity in ("current", "power", "speed", "voltage", "temperature", "time"):
        beside = None if drive is None else reader.together(drive)
        taken = {suggestion.position for suggestion in found.values()}
        free = [at for at in single if at not in taken and (beside is None or at in beside)]
        rate = _rate_near(columns, reader.seconds, None if drive is None else columns[drive])
        best = _best(free, rate, quantity)
        if best is None or (quantity == "power" and drive is not None and _OF_SOMETHING_ELSE.search(columns[best])):
            continue  # a heater's power beside the pack's current is not the pack's
        found[quantity] = _of_numbers(columns[best], best, quantity, rate(best, quantity)[1], reader.seconds)
        if drive is None and quantity in ("current", "power", "speed"):
            drive = best
    _suggest_timestamps(reader, found)
    _suggest_mode(reader, found)
    order = ("time", "date", "current", "power", "speed", "voltage", "temperature", "mode")
    return tuple(found[name] for name in order if name in found)


def _is_empty(reader: Reader, position: int) -> bool:
    """True for a column whose first fields are all empty."""
    sample = reader.text_sample(position)
    return bool(sample) and not any(sample)


def text_values_of(suggestions: Iterable[ColumnSuggestion]) -> Texts:
    """How suggested timestamps become numbers; where several patterns fit, by the first of them.

    Args:
        suggestions: The suggested columns.
    """
    return {column.position: Timestamps(column.patterns[0]) for column in suggestions if column.patterns}


def state_of_charge_column(columns: tuple[str, ...], numeric: Iterable[int]) -> int | None:
    """Position of the first column named like a state of charge, or None.

    Args:
        columns: All column names.
        numeric: Positions of columns that contain numbers.
    """
    for position in numeric:
        name = columns[position]
        if _STATE_OF_CHARGE.search(name) and "min" not in name.lower() and not is_time_name(_member(name)):
            return position
    return None


_Rate = Callable[[int, str], tuple[int, str]]


def _best(free: list[int], rate: _Rate, quantity: str) -> int | None:
    # The first in the file among equally likely ones, as max keeps the first it meets.
    best = max(free, key=lambda position: rate(position, quantity)[0], default=None)
    return None if best is None or rate(best, quantity)[0] <= 0 else best


def _of_numbers(name: str, position: int, quantity: str, evidence: str, seconds: frozenset[int]) -> ColumnSuggestion:
    stated = header_unit(name)
    unit = stated.unit.symbol if stated is not None and stated.unit is not None else None
    if position in seconds:
        unit, evidence = "s", "the file stores it as a time"
    return ColumnSuggestion(quantity, name, position, unit, evidence)


def _rate_near(columns: tuple[str, ...], seconds: frozenset[int], drive: str | None) -> _Rate:
    def rate(position: int, quantity: str) -> tuple[int, str]:
        if position in seconds:
            return (5, "the file stores it as a time") if quantity == "time" else (0, "")
        points, evidence = _rate(columns[position], quantity)
        if points > 0 and drive is not None and "." in drive:
            shared = _shared_path(columns[position], drive)
            if shared:
                return points + shared, f"{evidence} and it is next to the current"
        return points, evidence

    return rate


def _shared_path(one: str, other: str) -> int:
    """How many steps of the path two members of structures share."""
    ones, others = one.split(".")[:-1], other.split(".")[:-1]
    return sum(a == b for a, b in zip(ones, others, strict=False))


def _member(column: str) -> str:
    """The last member of a structure's path; a name with blanks is no path."""
    return column if " " in column else column.rsplit(".", 1)[-1]


def _rate(column: str, quantity: str) -> tuple[int, str]:
    """How likely a column is a quantity (0: not at all), and why."""
    stated = header_unit(column)
    known: Quantity = next(name for name in QUANTITIES if name == quantity)
    evidence = []
    points = 0
    last = _member(column)
    if is_time_name(last) and last != "T" and known != "time":
        return 0, ""
    if stated is not None and stated.certain:
        if stated.unit is None or stated.unit.quantity != quantity:
            return 0, ""
        points += 4
        evidence.append(f"its unit is {stated.unit.symbol}")
    named = _NAMES[known].search(last if known in ("time", "temperature") else column)
    # A T that states no unit may be anything; only alone does it mean temperature.
    if named and (known != "temperature" or points or last == "T" or "temp" in last.lower()):
        points += 2
        evidence.append("its name fits")
    if points and quantity != "time" and _OF_THE_SOURCE.search(column):
        points += 2
        evidence.append("its name mentions the source")
    if points and quantity == "time" and _WHOLE_TIME.search(column):
        points += 1
    if points and _OF_SOMETHING_ELSE.search(column):
        points -= 1
    return points, " and ".join(evidence)


def _suggest_timestamps(reader: Reader, found: dict[str, ColumnSuggestion]) -> None:
    """Suggest columns of timestamps where no column of numbers has a time with a unit."""
    present = found.get("time")
    if present is not None and present.unit is not None and "step" not in present.column.lower():
        return
    numeric = set(reader.number_columns())
    named = [at for at, name in enumerate(reader.columns) if at not in numeric and _NAMES["time"].search(name)]
    dated = [at for at, name in enumerate(reader.columns) if at not in numeric and "date" in name.lower()]
    rated = sorted(dict.fromkeys(named + dated), key=lambda at: -_rate(reader.columns[at], "time")[0])
    for at in rated:
        sample = reader.text_sample(at)
        patterns = tuple(fitting_patterns(sample))
        if not patterns:
            continue
        name = reader.columns[at]
        if set(patterns) <= set(_DATE_ONLY) and not any(":" in text for text in sample):
            found.setdefault("date", ColumnSuggestion("date", name, at, None, "it contains dates", patterns))
        elif ("time" not in found or not found["time"].patterns) and "step" not in name.lower():
            evidence = (
                "it contains durations" if patterns == (DURATION,) else f'it contains timestamps such as "{sample[0]}"'
            )
            found["time"] = ColumnSuggestion("time", name, at, "s", evidence, patterns)
    if "date" in found and ("time" not in found or found["time"].patterns != (DURATION,)):
        del found["date"]


def _suggest_mode(reader: Reader, found: dict[str, ColumnSuggestion]) -> None:
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
            found["mode"] = ColumnSuggestion(
                "mode", name, at, None, f"it contains {seen}", (), charging, discharging, resting
            )
            return
