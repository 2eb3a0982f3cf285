"""Suggested roles: which column could be what, with the evidence; never applied by themselves."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from lifetime.history.formats.reader import Reader
from lifetime.history.formats.text_values import Texts
from lifetime.history.mapping.mode_words import ModeMeaning, is_named_like_mode
from lifetime.history.mapping.role_ranking import (
    DRIVES,
    RATED,
    SHAFT,
    STORED_TIME,
    Candidate,
    Ranking,
)
from lifetime.history.mapping.role_ratings import (
    Rating,
    is_named_like_time,
    is_of_another_device,
    is_of_the_source,
    rate_column,
)
from lifetime.history.mapping.three_phase import WindingSet
from lifetime.history.mapping.time_columns import judged_times
from lifetime.history.mapping.timestamps import DURATION, Timestamps, fitting_patterns
from lifetime.units import header_unit

_ROLES: Final = (
    *("time", "date", "current", "power", "torque", "shaft_speed"),
    *("speed", "voltage", "temperature", "mode"),
)
_DATE_ONLY: Final = ("%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%Y/%m/%d", "iso")


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


@dataclass(frozen=True, slots=True)
class Suggestions:
    """What the columns of a file could be.

    Args:
        columns: The most likely column for each role; a role that several fit equally well has none.
        candidates: Every column that fits current, power, speed, torque, shaft speed, voltage or temperature, likeliest
            first in each role.
        undecided: Names of the columns that fit a role equally well, by role.
        sets: Winding sets of three phases.
        mode_column: Position of the text column that is or may be a mode, or None.
    """

    columns: tuple[ColumnSuggestion, ...]
    candidates: tuple[Candidate, ...]
    undecided: dict[str, tuple[str, ...]]
    sets: tuple[WindingSet, ...]
    mode_column: int | None


def suggest_columns(reader: Reader) -> Suggestions:
    """Suggest the most likely column for each role, from names, units and the first rows.

    Args:
        reader: The file.
    """
    columns, named = reader.columns, Counter(reader.columns)
    positions = [at for at in reader.number_columns() if named[columns[at]] == 1 and not _is_empty(reader, at)]
    ranking = Ranking.of_file(reader, positions)
    by_role: dict[str, ColumnSuggestion] = {}
    undecided: dict[str, tuple[str, ...]] = {}
    candidates: list[Candidate] = []
    drive: int | None = None
    for quantity in RATED:
        together = None if drive is None else reader.together(drive)
        taken = {suggestion.position for suggestion in by_role.values()}
        free = [at for at in positions if at not in taken and (together is None or at in together)]
        if quantity == "time":
            by_name = {at: ranking.rating(at, "time", drive) for at in free}
            best = _best_time(reader, free, judged_times(reader, by_name, ranking.head.numbers))
        else:
            fitting = ranking.candidates(free, quantity, drive)
            if quantity == "temperature" and not {"current", "power", "voltage"} & by_role.keys():
                fitting = [_of_whom(one) for one in fitting]
            candidates += fitting
            likeliest, equals = ranking.decided(fitting)
            best = None if likeliest is None else _suggestion(likeliest)
            # Beside a drive that is known, others are not asked for.
            if equals and (drive is None or quantity not in DRIVES | SHAFT):
                undecided[quantity] = equals
        if best is None or (quantity == "power" and drive is not None and is_of_another_device(best.column)):
            continue  # a heater's power next to the pack's current is not the pack's
        by_role[quantity] = best
        if drive is None and quantity in DRIVES:
            drive = best.position
    if not by_role.keys() >= SHAFT or {"current", "power"} & by_role.keys():
        for role in SHAFT:  # one alone is no power, and a power that is measured comes before one of the shaft
            by_role.pop(role, None)
    _suggest_timestamps(reader, by_role)
    mode = suggest_mode(reader, ranking.head.words, has_speed="speed" in by_role)
    if mode is not None:
        by_role["mode"] = mode
    suggested = tuple(by_role[role] for role in _ROLES if role in by_role)
    named_so = [at for at in ranking.head.words if is_named_like_mode(columns[at])]
    # A mode that only rests in the first rows may tell a direction later.
    mode_column = next(iter(named_so), None) if mode is None else mode.position
    return Suggestions(suggested, tuple(candidates), undecided, ranking.evidence.sets, mode_column)


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


def _suggestion(one: Candidate) -> ColumnSuggestion:
    return ColumnSuggestion(one.role, one.column, one.position, one.unit, one.evidence)


def _best_time(reader: Reader, free: list[int], ratings: Mapping[int, Rating]) -> ColumnSuggestion | None:
    # The first in the file among equally likely ones, as max keeps the first it meets.
    best = max(free, key=lambda at: ratings[at].points, default=None)
    if best is None or ratings[best].points <= 0:
        return None
    name = reader.columns[best]
    if best in reader.seconds:
        return ColumnSuggestion("time", name, best, "s", STORED_TIME.evidence)
    stated = header_unit(name)
    unit = None if stated is None or stated.unit is None else stated.unit.symbol
    return ColumnSuggestion("time", name, best, unit, ratings[best].evidence)


def _suggest_timestamps(reader: Reader, by_role: dict[str, ColumnSuggestion]) -> None:
    """Suggest columns of timestamps where no column of numbers has a time with a unit."""
    present = by_role.get("time")
    if present is not None and present.unit is not None and "step" not in present.column.lower():
        return
    numeric = set(reader.number_columns())
    texts = [(at, name) for at, name in enumerate(reader.columns) if at not in numeric]
    named = [at for at, name in texts if is_named_like_time(name)]
    dated = [at for at, name in texts if "date" in name.lower()]
    columns = reader.columns
    for at in sorted(dict.fromkeys(named + dated), key=lambda at: -rate_column(columns[at], "time").points):
        sample = reader.text_sample(at)
        patterns = tuple(fitting_patterns(sample))
        if not patterns:
            continue
        name = columns[at]
        if set(patterns) <= set(_DATE_ONLY) and not any(":" in text for text in sample):
            by_role.setdefault("date", ColumnSuggestion("date", name, at, None, "it contains dates", patterns))
        elif ("time" not in by_role or not by_role["time"].patterns) and "step" not in name.lower():
            what = "durations" if patterns == (DURATION,) else f'timestamps such as "{sample[0]}"'
            by_role["time"] = ColumnSuggestion("time", name, at, "s", f"it contains {what}", patterns)
    if "date" in by_role and ("time" not in by_role or by_role["time"].patterns != (DURATION,)):
        del by_role["date"]


def suggest_mode(reader: Reader, words: Mapping[int, Collection[str]], *, has_speed: bool) -> ColumnSuggestion | None:
    """The column of words that tells charging from discharging, or None.

    Args:
        reader: The file.
        words: Distinct words of the text columns that may be modes, by position.
        has_speed: True where the file has a speed, so that D and R without C are the gears of a vehicle.
    """
    columns = reader.columns
    for named in (True, False):
        for at in sorted(words):
            name, meaning = columns[at], ModeMeaning.of_words(words[at])
            if has_speed and not meaning.charging:
                continue
            is_mode = meaning.tells_direction if named else meaning.is_mode_whatever_its_name
            if is_mode and (is_named_like_mode(name) or not named):
                every = (*meaning.charging, *meaning.discharging, *meaning.resting, *meaning.others)
                evidence = f"it contains {', '.join(sorted(every)[:6])}"
                return ColumnSuggestion(
                    "mode", name, at, None, evidence, (), meaning.charging, meaning.discharging, meaning.resting
                )
    return None


def _of_whom(one: Candidate) -> Candidate:
    """A temperature next to a speed alone: the weather's as likely as the battery's, unless its name says whose."""
    if one.objection or is_of_the_source(one.column):
        return one
    return replace(one, objection="next to a speed alone nothing shows whose temperature it is; it may be the air's")
