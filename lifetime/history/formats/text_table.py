"""Where the table is in a text: separator, header rows, units row, first data row.

Exports put lines in front of their table: a title, keys and values, whole sections. The table is the longest stretch
of lines with one number of fields and numbers in the same places; the line above it names the columns.
"""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lifetime.history.formats.number_format import looks_numeric
from lifetime.units import named_unit, other_quantity

SEPARATORS: Final = ("\t", ";", ",", "|", " ")
"""Separators looked for, the likelier first where two fit equally well; " " stands for runs of blanks."""

_LOOKED_AT: Final = 60
_SHARE: Final = 0.5
_AS_GOOD: Final = 0.9
_DISPLACING_ROWS: Final = 3
_COMMENT_MARKS: Final = ("#", "%", "//")
_NO_UNIT: Final = frozenset({"", "-", "1", "--", "[-]"})


@dataclass(frozen=True, slots=True)
class TextTable:
    """Where a table is; rows are counted from 1.

    Args:
        separator: One character; " " stands for runs of blanks.
        header_row: Row of the column names, the lowest where there are several; 0 where there is none.
        unit_row: Row that contains only units, or 0.
        data_row: First row of data.
        columns: Column names, white space removed, the unit of a units row added in brackets.
    """

    separator: str
    header_row: int
    unit_row: int
    data_row: int
    columns: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Run:
    """Lines from ``first`` up to before ``end`` with numbers in the same places."""

    first: int
    end: int
    width: int
    places: frozenset[int]

    @property
    def merit(self) -> int:
        return (self.end - self.first) * len(self.places)


def split_fields(line: str, separator: str) -> list[str]:
    """Split one line into its fields, quotes understood.

    Args:
        line: Without its line end.
        separator: One character; " " stands for runs of blanks.

    Raises:
        csv.Error: Quotes are not closed on the line, or text follows a closing quote.
    """
    if separator == " ":
        return line.split()
    if '"' not in line:
        return line.split(separator)
    fields = next(csv.reader([line], delimiter=separator, strict=True))
    if len(fields) == 1 and separator in fields[0] and line.startswith('"'):
        return split_fields(fields[0], separator)  # a program that quotes whole rows
    return fields


def find_table(lines: Sequence[str], separator: str | None, header_row: int | None) -> TextTable | None:
    """Find the table in a text's first lines, or None where nothing there looks like one.

    Args:
        lines: Whole lines without their ends.
        separator: The separator, where the text states it, or None.
        header_row: Row of the column names as the study states it, 0 for none, or None.
    """
    tables: list[tuple[int, TextTable]] = []
    for candidate in SEPARATORS if separator is None else (separator,):
        if not any(candidate in line for line in lines) and candidate != " ":
            continue  # every row would have one field
        rows = [_fields(line, candidate) for line in lines]
        run = _best_run(rows, 0 if header_row is None else header_row)
        if run is None:
            continue
        tables.append((run.merit, _named(rows, run, candidate, header_row)))
    best = max((merit for merit, _ in tables), default=0)
    # One damaged row more or less does not decide: the likelier separator does.
    return next((table for merit, table in tables if merit > _AS_GOOD * best), None)


def find_in_rows(rows: Sequence[list[str]], header_row: int | None) -> TextTable | None:
    """Find the table in the first rows of a sheet, or None where nothing there looks like one.

    Args:
        rows: Fields of each row, surrounding white space removed.
        header_row: Row of the column names as the study states it, 0 for none, or None.
    """
    filled = [row if any(row) else [] for row in rows]
    run = _best_run(filled, 0 if header_row is None else header_row)
    return None if run is None else _named(filled, run, "", header_row or None)


def _fields(line: str, separator: str) -> list[str]:
    """Fields of a line, white space removed; one field where the quotes do not match, none for a blank line."""
    if not line.strip():
        return []
    try:
        return [field.strip() for field in split_fields(line, separator)]
    except csv.Error:
        return [line]


def _best_run(rows: Sequence[list[str]], after: int) -> _Run | None:
    """The stretch that contains the most numbers; the first in the file where the first row is its header."""
    runs = [run for group in _groups(rows, after) if (run := _run(rows, *group)) is not None]
    if not runs:
        return None
    best = max(runs, key=lambda run: run.merit)
    first = runs[0]
    # A plain file with a header on top is what it looks like, however ragged its later rows are.
    is_plain = first.first <= 1 and best.end - best.first < _DISPLACING_ROWS
    return first if is_plain else best


def _groups(rows: Sequence[list[str]], after: int) -> list[tuple[int, int, int]]:
    """Stretches of lines of one width, blank lines inside allowed: first line, end, width."""
    groups: list[tuple[int, int, int]] = []
    for number, row in enumerate(rows):
        if number < after or not row:
            continue
        width = len(row)
        if groups and _fits(row, groups[-1][2]):
            groups[-1] = (groups[-1][0], number + 1, groups[-1][2])
        elif groups and groups[-1][1] - groups[-1][0] == 1 and _fits(rows[groups[-1][0]], width):
            groups[-1] = (groups[-1][0], number + 1, width)
        elif width > 1:
            groups.append((number, number + 1, width))
    return groups


def _fits(row: list[str], width: int) -> bool:
    """True for a row of that many fields; one empty field too many is a separator at the row's end."""
    return len(row) == width or (len(row) == width + 1 and row[-1] == "")


def _run(rows: Sequence[list[str]], first: int, end: int, width: int) -> _Run | None:
    """The lower part of a group that contains numbers, or None."""
    body = [number for number in range(first, end) if rows[number]]
    if sum(len(rows[number]) > width for number in body) * 2 > len(body):
        width += 1  # every row ends with a separator, and only the header does not
    sample = body[len(body) // 2 :][:_LOOKED_AT]
    counts = [sum(looks_numeric(_at(rows[number], place)) for number in sample) for place in range(width)]
    places = frozenset(place for place, count in enumerate(counts) if count > _SHARE * len(sample))
    if not places:
        return None
    start = next((n for n in body if _numbers(rows[n], places) * 2 >= len(places)), None)
    if start is None:
        return None
    return _Run(_first_data(rows, first, start), end, width, places)


def _first_data(rows: Sequence[list[str]], first: int, start: int) -> int:
    """The row below the nearest one without any number: rows that are damaged or half silent belong to the data."""
    above = start - 1
    while above >= first and any(looks_numeric(field) for field in rows[above]):
        above -= 1
    return above + 1 if above >= first and rows[above] else start


def _at(row: list[str], place: int) -> str:
    return row[place] if place < len(row) else ""


def _numbers(row: list[str], places: frozenset[int]) -> int:
    return sum(looks_numeric(_at(row, place)) for place in places)


def _named(rows: Sequence[list[str]], run: _Run, separator: str, stated: int | None) -> TextTable:
    """The table with its column names, from the rows above its first."""
    above = run.first - 1 if stated is None else stated - 1
    if stated is None:
        while above >= 0 and not rows[above]:
            above -= 1
    if above < 0 or (stated is None and not _is_header(rows[above], run)):
        counted = tuple(f"column {place + 1}" for place in range(run.width))
        return TextTable(separator, 0, 0, run.first + 1, counted)
    named = len(_unmarked(rows[above]))
    if named == run.width - 1 and any(_at(row, named) for row in rows[run.first : run.end]):
        # More values than names: reading will refuse the first such row rather than shift names.
        run = _Run(run.first, run.end, named, frozenset(place for place in run.places if place < named))
    units: list[str] = []
    unit_row = 0
    if stated is None and above > 0 and _is_units(rows[above]) and _is_header(rows[above - 1], run):
        units, unit_row, above = _fitted(rows[above], run.width), above + 1, above - 1
    elif stated is not None and above + 1 < run.first and _is_units(rows[above + 1]):
        units, unit_row = _fitted(rows[above + 1], run.width), above + 2
    names = _names(rows, above, run)
    names = [name or (f"column {place + 1}" if place in run.places else "") for place, name in enumerate(names)]
    if units:
        names = [_with_unit(name, unit) for name, unit in zip(names, units, strict=True)]
    return TextTable(separator, above + 1, unit_row, run.first + 1, tuple(names))


def _is_header(row: list[str], run: _Run) -> bool:
    """True for a row of names: about as wide as the table, and no number where the table has numbers."""
    fields = _unmarked(row)
    if abs(len(fields) - run.width) > 1 or any(looks_numeric(field) for field in fields):
        return False
    return sum(bool(_at(fields, place)) for place in run.places) * 2 >= len(run.places)


def _is_units(row: list[str]) -> bool:
    """True for a row in which every field is a unit or empty."""
    bare = [field.strip("[]() ") for field in row]
    known = [field for field in bare if named_unit(field) is not None or other_quantity(field)]
    return bool(known) and all(field in known or field in _NO_UNIT for field in bare)


def _names(rows: Sequence[list[str]], at: int, run: _Run) -> list[str]:
    """Names from the header row, with those of a row above it in front where that is a header too."""
    names = _fitted(_unmarked(rows[at]), run.width)
    upper = rows[at - 1] if at > 0 else []
    filled = sum(bool(field) for field in upper)
    if len(upper) == run.width and 2 * filled >= run.width > 2 and not any(looks_numeric(field) for field in upper):
        names = [f"{top} {name}".strip() for top, name in zip(upper, names, strict=True)]
    return names


def _unmarked(row: list[str]) -> list[str]:
    """A header without the comment mark that some programs put in front."""
    for mark in _COMMENT_MARKS:
        if row and row[0].startswith(mark):
            first = row[0].removeprefix(mark).strip()
            return [first, *row[1:]] if first else row[1:]
    return row


def _fitted(row: list[str], width: int) -> list[str]:
    return (row + [""] * width)[:width]


def _with_unit(name: str, unit: str) -> str:
    bare = unit.strip("[]() ")
    return f"{name} [{bare}]" if bare not in _NO_UNIT else name
