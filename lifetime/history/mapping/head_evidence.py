"""What the first rows say for and against a role: range, movement, alternation, agreement between columns."""

import itertools
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.formats.reader import Reader
from lifetime.history.mapping.alternation import AlternationCheck
from lifetime.history.mapping.head_rows import HeadRows
from lifetime.history.mapping.role_ratings import Rating, state_of_charge_column
from lifetime.history.mapping.shaft_evidence import OF_A_SHAFT, correlation, shaft_evidence
from lifetime.history.mapping.three_phase import WindingSet, winding_sets
from lifetime.units import Unit, header_unit, known_units, named_unit

Ratings = Mapping[tuple[int, str], Rating]

_PLAUSIBLE: Final = {
    "current": (-1e4, 1e4),
    "power": (-5e6, 5e6),
    "voltage": (0.0, 1500.0),
    "temperature": (213.0, 423.0),
    "speed": (-100.0, 100.0),
}
"""Ranges in SI that the median of a vehicle's pack or its speed keeps to; common practice, no source."""
_FEWEST_ROWS: Final = 10
_AGREES: Final = 0.995
_FOLLOWS: Final = 0.98
_SOC_MOVES: Final = 0.01
_MOST_COMPARED: Final = 40


@dataclass(slots=True)
class HeadEvidence:
    """Evidence from the first rows.

    Args:
        columns: Names of all columns.
        seconds: Positions of columns stored as times.
        head: The first rows.
        rated: Positions of the columns looked at that have a rating by name and unit and no objection, by quantity.
        times: Ratings of the columns that may be the time.
        sets: The winding sets of three phases found.
        agreeing: Evidence and points for columns that agree with others, by position and quantity.
    """

    columns: tuple[str, ...]
    seconds: frozenset[int]
    head: HeadRows
    rated: dict[str, list[int]]
    times: dict[int, Rating]
    sets: tuple[WindingSet, ...] = ()
    agreeing: dict[tuple[int, str], tuple[int, str]] = field(default_factory=dict)
    _clocks: dict[int, tuple[FloatArray, bool]] = field(default_factory=dict)

    @classmethod
    def of_head(cls, reader: Reader, head: HeadRows, ratings: Ratings) -> "HeadEvidence":
        """Compare columns of the first rows with each other.

        Args:
            reader: The file.
            head: Its first rows.
            ratings: Ratings by name and unit.
        """
        rated: dict[str, list[int]] = defaultdict(list)
        for (at, quantity), rating in ratings.items():
            if not rating.objection and at in head.numbers:
                rated[quantity].append(at)
        times = {at: ratings[at, "time"] for at in rated["time"]}
        evidence = cls(reader.columns, reader.seconds, head, rated, times)
        if reader.together(0) is None:  # comparing the tables of one file with each other means nothing
            with np.errstate(all="ignore"):
                currents, voltages = evidence._numbers("current"), evidence._numbers("voltage")
                evidence.sets = winding_sets(currents, voltages, evidence.columns)
                evidence._compare_powers()
                evidence._compare_charge()
                evidence.agreeing |= shaft_evidence({of: evidence._numbers(of) for of in OF_A_SHAFT}, reader.columns)
        return evidence

    def judged(self, position: int, quantity: str, rating: Rating) -> Rating:
        """A rating by name and unit, with what the first rows say.

        Args:
            position: Position of the column.
            quantity: The role.
            rating: Its rating so far.
        """
        known = self.head.known(position)
        if known is None or rating.points <= 0 or rating.objection:
            return rating
        objection = self._objection(position, quantity, known)
        if objection:
            return replace(rating, objection=objection)
        more, agreement = self.agreeing.get((position, quantity), (0, ""))
        points, against = rating.points + more, []
        filled = known.size / self.head.numbers[position].size
        if filled < 0.5:
            points -= 2
            against.append(f"only {100 * filled:.0f} % of its first rows have a number")
        if known.size >= _FEWEST_ROWS and not self.head.moves(position):
            points -= 1
            against.append("it does not move in the first rows")
        if not self._is_plausible(position, quantity, known):
            points -= 1
            against.append("its numbers are far from what a vehicle's pack has")
        evidence = f"{rating.evidence} and {agreement}" if agreement else rating.evidence
        return Rating(max(points, 1), ", but ".join((evidence, *against)))

    def _objection(self, position: int, quantity: str, known: FloatArray) -> str:
        if known.size == 0:
            return "it has no number in the first rows"
        unit = self.unit(position)
        if (
            unit is None
            and known.size >= _FEWEST_ROWS
            and np.all((known == 0.0) | (known == 1.0))
            and self.head.moves(position)
        ):
            return "it is only 0 and 1, as a switch is"
        if quantity == "temperature" and unit is None and not _may_be_temperature(known):
            return "its numbers are a pack's temperature in no unit known here, as a sensor's error codes are"
        if quantity not in ("current", "voltage"):
            return ""
        if any(position in (*phases.currents, *(phases.voltages or ())) for phases in self.sets):
            return "it is one of the three phases of a winding set"
        return self._alternation(position, quantity)

    def _alternation(self, position: int, quantity: str) -> str:
        """What says that a column alternates; empty where it may be direct."""
        time, is_in_seconds = self._time(position)
        if not is_in_seconds:
            return ""  # a slow current over a time in hours would pass for a fast one
        check = AlternationCheck()
        check.add(time, self.head.numbers[position])
        alternation = check.alternation()
        if alternation is None:
            return ""
        return f"it alternates around zero at {alternation.frequency_Hz:.3g} Hz, so it is no direct {quantity}"

    def unit(self, position: int) -> Unit | None:
        """The unit that the header of a column states, or None.

        Args:
            position: Position of the column.
        """
        stated = header_unit(self.columns[position])
        return None if stated is None else stated.unit

    def _is_plausible(self, position: int, quantity: str, known: FloatArray) -> bool:
        unit = self.unit(position)
        if unit is None or quantity not in _PLAUSIBLE:
            return True
        low, high = _PLAUSIBLE[quantity]
        with np.errstate(over="ignore"):
            return bool(low <= float(unit.to_si(np.array([np.median(known)]))[0]) <= high)

    def _numbers(self, quantity: str) -> dict[int, FloatArray]:
        """The first rows of the columns that may have a role by name and unit, at most 40."""
        return {at: self.head.numbers[at] for at in self.rated.get(quantity, [])[:_MOST_COMPARED]}

    def _time(self, position: int) -> tuple[FloatArray, bool]:
        """Times of the rows of a column and whether they are seconds; row numbers where no column has them."""
        rows = self.head.numbers[position].size
        if rows not in self._clocks:
            self._clocks[rows] = self._clock(rows)
        return self._clocks[rows]

    def _clock(self, rows: int) -> tuple[FloatArray, bool]:
        for at in sorted(list(self.times)[:_MOST_COMPARED], key=lambda at: -self.times[at].points):
            values = self.head.numbers[at]
            if values.size == rows and np.isfinite(values).all() and np.all(values[1:] >= values[:-1]):
                unit = self.unit(at)
                if unit is None or unit.quantity != "time":
                    return values, at in self.seconds
                with np.errstate(over="ignore"):
                    return unit.to_si(values), True
        return np.arange(float(rows)), False

    def _si(self, position: int, values: FloatArray) -> FloatArray:
        unit = self.unit(position)
        return values if unit is None else unit.to_si(values)

    def _compare_powers(self) -> None:
        """Find currents and voltages whose product is a column of power."""
        powers, pairs = self._numbers("power"), itertools.product(self._numbers("current"), self._numbers("voltage"))
        for current, voltage in itertools.islice(pairs, _MOST_COMPARED):
            if len({current, voltage}) < 2 or not powers:
                continue
            product = self._si(current, self.head.numbers[current]) * self._si(voltage, self.head.numbers[voltage])
            for power, values in powers.items():
                units = [self.unit(at) for at in (current, voltage, power)]
                if power in (current, voltage) or not _are_proportional(
                    product, self._si(power, values), must_be_equal=None not in units
                ):
                    continue
                names = [f'"{self.columns[at]}"' for at in (current, voltage, power)]
                self.agreeing[power, "power"] = (3, f"it is {names[1]} times {names[0]}")
                self.agreeing[current, "current"] = (3, f"with {names[1]} it gives {names[2]}")
                self.agreeing[voltage, "voltage"] = (3, f"with {names[0]} it gives {names[2]}")

    def _compare_charge(self) -> None:
        """Find currents whose charge follows the logged state of charge."""
        soc = state_of_charge_column(self.columns, self.head.numbers)
        if soc is None:
            return
        levels = self.head.numbers[soc]
        if np.ptp(levels) < _SOC_MOVES * float(np.abs(levels).max()):
            return
        for at, values in self._numbers("current").items():
            if at == soc or values.size != levels.size or not np.isfinite(values).all():
                continue
            time, _ = self._time(at)
            charge = np.concatenate([[0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(time))])
            if abs(correlation(charge, levels)) >= _FOLLOWS:
                points, text = self.agreeing.get((at, "current"), (0, ""))
                follows = f'its charge follows "{self.columns[soc]}"'
                self.agreeing[at, "current"] = (points + 2, f"{text} and {follows}" if text else follows)


def _may_be_temperature(known: FloatArray) -> bool:
    """True where numbers of no stated unit are plausible temperatures in some unit."""
    low, high = _PLAUSIBLE["temperature"]
    middle = np.array([np.median(known)])
    units = (unit for unit in map(named_unit, known_units("temperature")) if unit is not None)
    return any(low <= float(unit.to_si(middle)[0]) <= high for unit in units)


def _are_proportional(left: FloatArray, right: FloatArray, *, must_be_equal: bool) -> bool:
    """True where two columns rise and fall together; with known units also of about the same size."""
    if left.size != right.size or abs(correlation(left, right)) < _AGREES:
        return False
    ratio = float(np.nanmean(np.abs(left)) / np.nanmean(np.abs(right)))
    return not must_be_equal or 0.5 < ratio < 2.0
