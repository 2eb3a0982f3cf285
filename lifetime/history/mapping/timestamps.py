"""Times written as text: dates and clock times by a stated pattern, ISO 8601, durations such as 144:02:18 or 75:30.

A pattern is never guessed while reading: day and month look alike for twelve days of every month.
``fitting_patterns`` says which patterns fit, for a person to choose from.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from lifetime.checks import FloatArray

ISO: Final = "iso"
DURATION: Final = "duration"
MINUTES: Final = "%M:%S"
"""Minutes and seconds since the start, minutes of any number; 09:59 may be hours and minutes as well."""

COMMON_PATTERNS: Final = (
    DURATION,
    MINUTES,
    ISO,
    "%d.%m.%Y %H:%M:%S",
    "%d.%m.%Y %H:%M",
    "%d/%m/%Y %H:%M:%S",
    "%m/%d/%Y %H:%M:%S",
    "%d/%m/%Y %H:%M",
    "%m/%d/%Y %H:%M",
    "%d-%m-%Y %H:%M:%S",
    "%d-%b-%Y %H:%M:%S",
    "%Y/%m/%d %H:%M:%S",
    "%m/%d/%Y %I:%M:%S %p",
    "%d.%m.%Y",
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%Y/%m/%d",
)
"""Patterns that are tried when a file is looked at; a study may state any other."""

_DURATION: Final = re.compile(
    r"(?P<sign>-?)(?:(?P<d>\d{1,9})\s*+d(?:ays?)?[ ,]*+)?(?P<h>\d{1,9}):(?P<m>\d{1,2}):(?P<s>\d{1,2}(?:[.,]\d++)?)",
    re.ASCII,
)
_CLOCK: Final = re.compile(r"(?P<h>\d{1,2}):(?P<m>\d{2})", re.ASCII)
_MINUTES: Final = re.compile(r"(?P<m>\d{1,9}):(?P<s>[0-5]\d(?:[.,]\d++)?)", re.ASCII)
_ISO: Final = re.compile(
    r"\d{4}-?\d{2}-?\d{2}(?:[T ]\d{2}(?::?\d{2}(?::?\d{2}(?:[.,]\d+)?)?)?(?:Z|[+-]\d{2}:?\d{2})?)?"
)
_OFFSET: Final = re.compile(r"[T ]\d{2}[\d:.,]*(?:Z|[+-]\d{2}:?\d{2})$")
_FRACTION: Final = re.compile(r"([.,]\d+)$")


@dataclass(frozen=True, slots=True)
class Timestamps:
    """Text that states a time, as seconds: since 1970 for dates, since zero for durations and times of the day.

    Args:
        pattern: "iso", "duration", or a pattern with the directives of strftime (ISO C), such as "%d.%m.%Y %H:%M:%S".
        local: True where they are local times of a stated zone; timestamps with an offset of their own are then not
            understood.
    """

    pattern: str
    local: bool = False

    def numbers(self, texts: Sequence[str]) -> FloatArray:
        """Seconds of each timestamp, NaN where one does not fit the pattern.

        Args:
            texts: Timestamps, surrounding white space removed.
        """
        if self.pattern == DURATION:
            return np.array([_duration_s(text) for text in texts], dtype=np.float64)
        if self.pattern == MINUTES:
            return np.array([_minutes_s(text) for text in texts], dtype=np.float64)
        if self.pattern == ISO:
            return self._iso(texts)
        return _by_pattern(texts, self.pattern)

    def _iso(self, texts: Sequence[str]) -> FloatArray:
        offsets = [_OFFSET.search(text) is not None for text in texts]
        # Among times with an offset one without is of a zone that nobody knows, and the other way round.
        wanted = not self.local and next((one for text, one in zip(texts, offsets, strict=True) if text), False)
        fits = [bool(_ISO.fullmatch(text)) and one == wanted for text, one in zip(texts, offsets, strict=True)]
        known = [text.replace(",", ".") if fit else None for text, fit in zip(texts, fits, strict=True)]
        return _to_seconds(known, "ISO8601")


def fitting_patterns(texts: Sequence[str]) -> list[str]:
    """Patterns that every timestamp fits and by which time runs forward, that of the shortest span first.

    Where time runs back by all of them, all that fit.

    Args:
        texts: Timestamps in the file's order, surrounding white space removed; empty ones are left out.
    """
    known = [text for text in texts if text]
    if not known:
        return []
    times = {pattern: Timestamps(pattern).numbers(known) for pattern in COMMON_PATTERNS}
    fitting = [pattern for pattern, read_s in times.items() if bool(np.isfinite(read_s).all())]
    forward = [pattern for pattern in fitting if not (np.diff(times[pattern]) < 0.0).any()]
    return sorted(forward or fitting, key=lambda pattern: float(np.ptp(times[pattern])))


def to_utc(local_s: FloatArray, zone: ZoneInfo, last: "LocalClock") -> FloatArray:
    """Local times as seconds since 1970 in UTC, right across the change of the clocks.

    Within the hour that comes twice, a step back begins its second time, and so do two equal stamps where rows are
    at least half an hour apart. The hour that clocks leave out in spring has no times: there the result is NaN.

    Args:
        local_s: Local times, as if they were UTC [s], shape (n,).
        zone: Where the clock hangs.
        last: What is remembered from the stretch before; updated.

    Returns:
        Times [s], shape (n,).
    """
    from datetime import UTC, datetime  # noqa: PLC0415 - needed with zones only

    hours = np.floor(local_s / 1800.0)
    offsets = np.empty((2, local_s.size))
    cache: dict[float, tuple[float, float]] = {}
    for at, hour in enumerate(hours.tolist()):
        if hour not in cache:
            naive = datetime.fromtimestamp(hour * 1800.0, UTC).replace(tzinfo=None)
            shifts = [zone.utcoffset(naive.replace(fold=fold)) for fold in (0, 1)]
            first, second = (0.0 if offset is None else offset.total_seconds() for offset in shifts)
            cache[hour] = (first, second)
        offsets[:, at] = cache[hour]
    result: FloatArray = np.where(offsets[0] < offsets[1], np.nan, local_s - offsets[0])
    twice = offsets[0] > offsets[1]
    for at in np.flatnonzero(twice | (np.arange(local_s.size) == 0)).tolist():
        before = local_s[at - 1] if at else last.local_s
        step_before = (local_s[at - 1] - local_s[at - 2]) if at > 1 else last.step_s
        last.see(bool(twice[at]), float(local_s[at]), before, step_before)
        if last.second and twice[at]:
            result[at] = local_s[at] - offsets[1, at]
    if local_s.size > 1:
        last.step_s = float(local_s[-1] - local_s[-2])
    if local_s.size:
        last.local_s = float(local_s[-1])
    return result


class LocalClock:
    """What ``to_utc`` remembers between stretches: the last time, the last step, whether the hour comes again."""

    def __init__(self) -> None:
        self.local_s: float | None = None
        self.step_s = 0.0
        self.second = False

    def see(self, twice: bool, now_s: float, before_s: float | None, step_s: float) -> None:
        """Note one timestamp.

        Args:
            twice: Whether it is in an hour that comes twice.
            now_s: The timestamp [s].
            before_s: The one before [s], or None.
            step_s: The step before that [s].
        """
        if not twice:
            self.second = False
        elif before_s is not None and (now_s < before_s or (now_s == before_s and step_s >= 1800.0)):
            self.second = True


def _duration_s(text: str) -> float:
    match = _DURATION.fullmatch(text)
    if match is None:
        clock = _CLOCK.fullmatch(text)
        return float("nan") if clock is None else 3600.0 * int(clock["h"]) + 60.0 * int(clock["m"])
    if int(match["m"]) > 59 or float(match["s"].replace(",", ".")) >= 60.0:
        return float("nan")
    whole = 86400.0 * int(match["d"] or 0) + 3600.0 * int(match["h"]) + 60.0 * int(match["m"])
    seconds = whole + float(match["s"].replace(",", "."))
    return -seconds if match["sign"] else seconds


def _minutes_s(text: str) -> float:
    match = _MINUTES.fullmatch(text)
    return float("nan") if match is None else 60.0 * int(match["m"]) + float(match["s"].replace(",", "."))


def _by_pattern(texts: Sequence[str], pattern: str) -> FloatArray:
    """Timestamps by a pattern; a fraction of the last second is understood without being named."""
    if pattern.endswith("%S"):
        matches = [_FRACTION.search(text) for text in texts]
        if any(matches):
            bare = [text[: m.start()] if m else text for text, m in zip(texts, matches, strict=True)]
            fractions = np.array([float(m[1].replace(",", ".")) if m else 0.0 for m in matches], dtype=np.float64)
            seconds: FloatArray = _to_seconds(bare, pattern) + fractions
            return seconds
    return _to_seconds(list(texts), pattern)


def _to_seconds(texts: Sequence[str | None], pattern: str) -> FloatArray:
    import pandas as pd  # noqa: PLC0415 - slow import

    try:
        given = pd.Series(list(texts), dtype="object")
        parsed = pd.to_datetime(given, format=pattern, errors="coerce", utc=True)
    except (ValueError, re.error):  # a directive given twice is an error of patterns
        return np.full(len(texts), np.nan)
    # In microseconds, because years far from ours do not fit into nanoseconds.
    seconds: FloatArray = parsed.dt.as_unit("us").astype("int64").to_numpy(np.float64) / 1e6
    seconds[parsed.isna().to_numpy()] = np.nan
    return seconds
