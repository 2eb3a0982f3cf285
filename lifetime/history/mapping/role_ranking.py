"""Ranking the columns of a file for a role, by name, unit, range, movement and agreement with each other."""

from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lifetime.history.formats.reader import Reader
from lifetime.history.mapping.head_evidence import HeadEvidence, Ratings
from lifetime.history.mapping.head_rows import HeadRows, head_rows, mode_columns
from lifetime.history.mapping.role_ratings import UNFIT, Rating, rate_column, state_of_charge_column

RATED: Final = ("current", "power", "speed", "torque", "shaft_speed", "voltage", "temperature", "time")
DRIVES: Final = frozenset({"current", "power", "speed"})
"""Roles of which a history needs one, or both of a shaft in their place."""
SHAFT: Final = frozenset({"torque", "shaft_speed"})
"""Roles that together are a power."""
STORED_TIME: Final = Rating(5, "the file stores it as a time")


def has_drive(roles: AbstractSet[str]) -> bool:
    """True where roles are enough to drive a history.

    Args:
        roles: Those that columns have.
    """
    return bool(DRIVES & roles) or roles >= SHAFT


@dataclass(frozen=True, slots=True)
class Candidate:
    """A column that fits a role by its name or unit, with what speaks for and against it.

    Args:
        role: The role: a quantity.
        column: Its name.
        position: Its position in the file, from 0.
        unit: The unit its header states, or None.
        points: More is likelier, >= 1.
        evidence: What speaks for it, in words.
        objection: Why it is not suggested, in words; empty where nothing speaks against it.
    """

    role: str
    column: str
    position: int
    unit: str | None
    points: int
    evidence: str
    objection: str


@dataclass(frozen=True, slots=True)
class Ranking:
    """Ranks the columns of a file by name, unit, range, movement and agreement with each other.

    Args:
        reader: The file.
        head: Its first rows.
        ratings: Ratings by name and unit, by position and quantity.
        evidence: What the first rows say.
    """

    reader: Reader
    head: HeadRows
    ratings: Ratings
    evidence: HeadEvidence

    @classmethod
    def of_file(cls, reader: Reader, positions: list[int]) -> "Ranking":
        """Rate columns by name and unit, and look at the first rows of those that fit a role.

        Args:
            reader: The file.
            positions: Columns of numbers whose names occur once.
        """
        columns, seconds = reader.columns, reader.seconds
        ratings = {}
        for at in positions:
            for quantity in RATED:
                one = _plain_rating(columns[at], quantity, is_stored_time=at in seconds)
                if one.points > 0:
                    ratings[at, quantity] = one
        soc = state_of_charge_column(columns, positions)
        wanted = {at for at, _ in ratings} | (set() if soc is None else {soc})
        # Where columns have rasters of their own, all are read on that of the first: one that may drive a history.
        drives = {at for at in wanted if any((at, quantity) in ratings for quantity in DRIVES)}
        head = head_rows(reader, sorted(wanted, key=lambda at: (at not in drives, at)), mode_columns(reader))
        return cls(reader, head, ratings, HeadEvidence.of_head(reader, head, ratings))

    def candidates(self, free: list[int], quantity: str, drive: int | None) -> list[Candidate]:
        """The columns that fit a quantity, likeliest first, those with an objection last.

        Args:
            free: Positions of the columns that have no role yet.
            quantity: Which.
            drive: Position of the column of current, power or speed, or None.
        """
        fitting = []
        for at in free:
            if (at, quantity) not in self.ratings:
                continue
            judged = self.evidence.judged(at, quantity, self.rating(at, quantity, drive))
            name = self.evidence.columns[at]
            unit = self.evidence.unit(at)
            symbol = None if unit is None else unit.symbol
            fitting.append(Candidate(quantity, name, at, symbol, judged.points, judged.evidence, judged.objection))
        return sorted(fitting, key=lambda one: (bool(one.objection), -one.points, one.position))

    def rating(self, position: int, quantity: str, drive: int | None) -> Rating:
        """The rating of a column by name and unit, higher where it shares a structure with the drive.

        Args:
            position: Position of the column.
            quantity: The role.
            drive: Position of the column of current, power or speed, or None.
        """
        plain = self.ratings.get((position, quantity), UNFIT)
        if drive is None or plain.points <= 0 or plain is STORED_TIME:
            return plain
        shared = _shared_path(self.evidence.columns[position], self.evidence.columns[drive])
        if not shared:
            return plain
        return replace(plain, points=plain.points + shared, evidence=f"{plain.evidence} and it is next to the current")

    def decided(self, fitting: list[Candidate]) -> tuple[Candidate | None, tuple[str, ...]]:
        """The likeliest column, or the names of those that fit equally well.

        Args:
            fitting: As ``candidates`` gave them.
        """
        best = [one for one in fitting if not one.objection and one.points == fitting[0].points]
        if not best:
            return None, ()
        first, evidence = best[0], best[0].evidence
        others = [one for one in best[1:] if not self._has_the_numbers_of(one, first)]
        tables = [one for one in others if self._is_in_another_table(one, first)]
        if len(tables) < len(others):
            return None, tuple(one.column for one in best)
        if tables:
            evidence += f" and it is the first of {len(tables) + 1} tables with such a column"
        elif len(best) > 1:
            evidence += f' and it has the same numbers as "{best[1].column}"'
        return replace(first, evidence=evidence), ()

    def _has_the_numbers_of(self, one: Candidate, other: Candidate) -> bool:
        numbers = self.head.numbers
        known = one.position in numbers and other.position in numbers
        return known and np.array_equal(numbers[one.position], numbers[other.position], equal_nan=True)

    def _is_in_another_table(self, one: Candidate, other: Candidate) -> bool:
        together = self.reader.together(other.position)
        return together is not None and one.position not in together


def _plain_rating(column: str, quantity: str, *, is_stored_time: bool) -> Rating:
    if is_stored_time:
        return STORED_TIME if quantity == "time" else UNFIT
    return rate_column(column, quantity)


def _shared_path(column: str, other: str) -> int:
    """How many steps of the path two members of structures share."""
    pairs = zip(column.split(".")[:-1], other.split(".")[:-1], strict=False)
    return sum(step == other_step for step, other_step in pairs)
